"""The numbers of a night, each with its inputs, its method and its source."""

from __future__ import annotations

from datetime import date

from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from orchard.science import frost
from orchard.science.figures import figure
from orchard.services.explained import Input, Number
from orchard.services.frost.evenings import Evening
from orchard.services.quantities import in_words
from orchard.services.weather import Expected, Offset

FAO_FROST = (
    "Snyder, R. L. & de Melo-Abreu, J. P. (2005), Frost protection, FAO Environment "
    "and Natural Resources Series 10"
)


def forecast(day_forecast: Expected | None, dawn_on: date) -> Number:
    what = _("Forecast minimum")
    day = date_format(dawn_on, "j M Y")
    if day_forecast is None or day_forecast.tmin is None:
        missing = _(
            "No minimum is forecast for %(day)s. Enter what the weather service says."
        )
        return Number(what, None, "°C", missing=missing % {"day": day})
    origin = day_forecast.sources.get("tmin", "")
    inputs = [
        Input(_("Lowest of %(day)s") % {"day": day}, day_forecast.tmin, "°C", origin)
    ]
    for name, label, unit in (
        ("dew_point", _("Dew point"), "°C"),
        ("wind", _("Wind"), "m/s"),
        ("cloud", _("Cloud"), "%"),
    ):
        value = getattr(day_forecast, name)
        if value is not None:
            inputs.append(Input(label, value, unit, day_forecast.sources.get(name, "")))
    return Number(
        what,
        day_forecast.tmin,
        "°C",
        method=_("As forecast; the newest forecast counts."),
        source=origin,
        inputs=tuple(inputs),
    )


def offset(offsets: dict[int | None, Offset]) -> Number:
    what = _("Offset from the forecast")
    found = offsets.get(None)
    if found is None:
        return Number(
            what,
            None,
            "°C",
            law="frost.site_offset",
            difference=True,
            missing=_(
                "Not known yet. It takes the lowest reading of three still, clear "
                "nights with a forecast. Until then the forecast is used as it is."
            ),
        )
    nights = ngettext("%(count)d night", "%(count)d nights", found.nights)
    return Number(
        what,
        found.celsius,
        "°C",
        law="frost.site_offset",
        method=_(
            "Median of own minus forecast minimum of the last ten still, clear nights."
        ),
        source="Wright, G. C. (2001), University of Arizona AZ1222",
        inputs=(
            Input(_("Still, clear nights"), None, "", nights % {"count": found.nights}),
        ),
        difference=True,
    )


def estimate(
    evenings: tuple[Evening, ...], read: Evening | None, dawn_on: date
) -> Number:
    what = _("Estimate from own nights")
    nights = [
        (row.air, row.dew_point, row.minimum)
        for row in evenings
        if row.dawn_on < dawn_on
        and row.calm_clear
        and row.dew_point is not None
        and row.minimum is not None
    ]
    law, source = "frost.night_minimum", FAO_FROST
    after_sunset = {"hours": in_words(figure("evening_reading_h").value)}

    def without(sentence: str) -> Number:
        return Number(what, None, "°C", law=law, source=source, missing=sentence)

    if read is None or read.dew_point is None:
        return without(
            _(
                "Needs this evening's air and dew point, read %(hours)s hours after "
                "sunset."
            )
            % after_sunset
        )
    try:
        fitted = frost.fit_night_minimum(nights)
        value = frost.night_minimum(read.air, read.dew_point, fitted)
    except ValueError:
        return without(
            _(
                "Needs four still, clear nights with air and dew point %(hours)s hours "
                "after sunset and the lowest reading; there are %(count)d that differ "
                "enough or too few."
            )
            % {"count": len(nights), **after_sunset}
        )
    return Number(
        what,
        value,
        "°C",
        law=law,
        method=_("Regression over %(count)d own nights, off by %(rmse)s °C on average.")
        % {"count": fitted.nights, "rmse": f"{fitted.rmse_c:.1f}"},
        source=source,
        inputs=(
            Input(
                _("Air %(hours)s hours after sunset") % after_sunset,
                read.air,
                "°C",
                _("own reading"),
            ),
            Input(_("Dew point then"), read.dew_point, "°C", _("own reading")),
        ),
    )


def expected(forecast: Number, offset: Number, estimate: Number) -> Number:
    what = _("Expected minimum here")
    minima = []
    inputs = []
    if forecast.value is not None:
        minima.append(forecast.value + (offset.value or 0.0))
        inputs.append(Input(forecast.what, forecast.value, "°C", forecast.source))
        if offset.value is not None:
            inputs.append(Input(offset.what, offset.value, "°C", difference=True))
    if estimate.value is not None:
        minima.append(estimate.value)
        inputs.append(Input(estimate.what, estimate.value, "°C"))
    if not minima:
        return Number(what, None, "°C", missing=forecast.missing)
    return Number(
        what,
        min(minima),
        "°C",
        law="frost.risk",
        method=_(
            "Forecast plus the site's own offset, or the estimate from own nights: the "
            "colder of the two."
        ),
        source=_("own records; each part has its own source"),
        inputs=tuple(inputs),
    )
