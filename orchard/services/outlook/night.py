"""One night of an orchard: when it falls, what is forecast, how cold it gets here."""

from __future__ import annotations

import statistics
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from orchard.records.models import Orchard, Reading
from orchard.science import frost, sun
from orchard.services import weather_days, weather_facts
from orchard.services.outlook.shapes import Input, Number
from orchard.services.weather_days import Expected
from orchard.services.weather_facts import Offset

BEFORE_SUNSET = timedelta(hours=1)
# The regression and the square-root law both begin then.
EVENING = timedelta(hours=2)
EVENING_SLACK = timedelta(hours=1)
EVENINGS_KEPT = timedelta(days=1100)
# Common practice, no source: the fall of so few evenings says nothing.
FEWEST_EVENINGS = 3
# FAO: clear and still is wind under 2 m/s and no cloud; forecasts are seldom at 0 %.
STILL_M_S = 2.0
CLEAR_PERCENT = 25.0
FAO_FROST = (
    "Snyder, R. L. & de Melo-Abreu, J. P. (2005), Frost protection, FAO Environment "
    "and Natural Resources Series 10"
)


@dataclass(frozen=True, slots=True)
class Clock:
    """When a night falls and ends; None of it where the sun does not set or rise."""

    dawn_on: date
    sets_at: datetime
    rises_at: datetime

    @property
    def evening_on(self) -> date:
        return self.dawn_on - timedelta(days=1)

    @property
    def cover_by(self) -> datetime:
        return self.sets_at - BEFORE_SUNSET

    @property
    def evening_at(self) -> datetime:
        return self.sets_at + EVENING

    @property
    def hours(self) -> float:
        return (self.rises_at - self.sets_at).total_seconds() / 3600


@dataclass(frozen=True, slots=True)
class Curve:
    """The way down: from two hours after sunset to the minimum at sunrise."""

    evening_c: float
    minimum_c: float
    night_hours: float
    basis: str

    def at(self, hours: float) -> float:
        """Return the air at so many hours after sunset, °C."""
        return frost.night_curve(
            self.evening_c, self.minimum_c, self.night_hours, hours
        )

    def hours_below(self, limit: float, minimum: float) -> float:
        """Return the hours at or below a limit where the night ends at a minimum."""
        low = min(minimum, self.evening_c)
        return frost.hours_below(limit, self.evening_c, low, self.night_hours)


@dataclass(frozen=True, slots=True)
class Night:
    """What is known of one night before any tree is looked at."""

    clock: Clock | None
    dawn_on: date
    told: Expected | None
    still_and_clear: bool | None
    forecast: Number
    offset: Number
    estimate: Number
    expected: Number
    offsets: dict[int | None, Offset]
    curve: Curve | None
    why_no_curve: str

    def expected_at(self, spot_id: int) -> float | None:
        """Return the minimum expected at a spot, °C: the colder of what is known."""
        known = []
        if self.forecast.value is not None:
            offset = self.offsets.get(spot_id) or self.offsets.get(None)
            known.append(self.forecast.value + (offset.celsius if offset else 0.0))
        if self.estimate.value is not None:
            known.append(self.estimate.value)
        return min(known, default=None)


def clock_of(orchard: Orchard, dawn_on: date) -> Clock | None:
    """Return when the night that ends on a day begins and ends here."""
    place = float(orchard.latitude), float(orchard.longitude)
    evening = sun.rise_and_set(dawn_on - timedelta(days=1), *place)
    morning = sun.rise_and_set(dawn_on, *place)
    if evening is None or morning is None:
        return None
    return Clock(dawn_on, evening.sets_at, morning.rises_at)


def coming_dawn(orchard: Orchard, now: datetime) -> date:
    """Return the day on which the present or the coming night ends."""
    today = now.astimezone(ZoneInfo(orchard.time_zone)).date()
    clock = clock_of(orchard, today)
    return today if clock and now < clock.rises_at else today + timedelta(days=1)


def tonight(
    orchard: Orchard, *, now: datetime, evening_c: float | None = None
) -> Night:
    """Gather what is known of the coming night; `evening_c` is a reading just typed."""
    dawn_on = coming_dawn(orchard, now)
    clock = clock_of(orchard, dawn_on)
    told = weather_days.expected(orchard, dawn_on, dawn_on, as_of=now).get(dawn_on)
    offsets = weather_facts.offsets(orchard)
    evenings = _evenings(orchard, dawn_on)
    typed = evening_c
    read = _evening_reading(evenings, clock)
    forecast = _forecast(told, dawn_on)
    estimate = _estimate(evenings, read, dawn_on)
    offset = _offset(offsets)
    expected = _expected(forecast, offset, estimate)
    curve, why_not = _curve(expected.value, clock, evenings, read, typed)
    return Night(
        clock=clock,
        dawn_on=dawn_on,
        told=told,
        still_and_clear=_still_and_clear(told),
        forecast=forecast,
        offset=offset,
        estimate=estimate,
        expected=expected,
        offsets=offsets,
        curve=curve,
        why_no_curve=why_not,
    )


@dataclass(frozen=True, slots=True)
class Evening:
    """One night's readings: the evening, its dew point, the minimum that followed."""

    dawn_on: date
    air: float
    dew_point: float | None
    minimum: float | None
    calm_clear: bool | None


def _evenings(orchard: Orchard, dawn_on: date) -> tuple[Evening, ...]:
    """Pair readings taken two hours after sunset with the minimum of that night."""
    rows = list(
        Reading.objects.of(orchard)
        .current()
        .filter(what__in=(Reading.What.NOW, Reading.What.LOWEST))
        .filter(on__gte=dawn_on - EVENINGS_KEPT, on__lte=dawn_on)
        .order_by("at", "id")
    )
    lows = {row.on: row for row in rows if row.what == Reading.What.LOWEST}
    found: dict[date, Evening] = {}
    for row in rows:
        if row.what != Reading.What.NOW:
            continue
        for dawn_on in (row.on, row.on + timedelta(days=1)):
            clock = clock_of(orchard, dawn_on)
            if clock is None or abs(row.at - clock.evening_at) > EVENING_SLACK:
                continue
            low = lows.get(dawn_on)
            found[dawn_on] = Evening(
                dawn_on=dawn_on,
                air=row.celsius,
                dew_point=row.dew_point,
                minimum=low.celsius if low else None,
                calm_clear=low.calm_clear if low else None,
            )
    return tuple(found[day] for day in sorted(found))


def _evening_reading(
    evenings: tuple[Evening, ...], clock: Clock | None
) -> Evening | None:
    if clock is None:
        return None
    return next((one for one in evenings if one.dawn_on == clock.dawn_on), None)


def _still_and_clear(told: Expected | None) -> bool | None:
    if told is None or told.wind is None or told.cloud is None:
        return None
    return told.wind < STILL_M_S and told.cloud <= CLEAR_PERCENT


def _forecast(told: Expected | None, dawn_on: date) -> Number:
    what = _("Forecast minimum")
    day = date_format(dawn_on, "j M Y")
    if told is None or told.tmin is None:
        missing = _(
            "No minimum is forecast for %(day)s. Type in what the weather service says."
        )
        return Number(what, None, "°C", missing=missing % {"day": day})
    origin = told.sources.get("tmin", "")
    inputs = [Input(_("Lowest of %(day)s") % {"day": day}, told.tmin, "°C", origin)]
    for name, label, unit in (
        ("dew_point", _("Dew point"), "°C"),
        ("wind", _("Wind"), "m/s"),
        ("cloud", _("Cloud"), "%"),
    ):
        value = getattr(told, name)
        if value is not None:
            inputs.append(Input(label, value, unit, told.sources.get(name, "")))
    return Number(
        what,
        told.tmin,
        "°C",
        method=_("As forecast; the newest forecast counts."),
        source=origin,
        inputs=tuple(inputs),
    )


def _offset(offsets: dict[int | None, Offset]) -> Number:
    what = _("How much colder or warmer it is here")
    found = offsets.get(None)
    if found is None:
        return Number(
            what,
            None,
            "°C",
            law="frost.site_offset",
            difference=True,
            missing=_(
                "Not learnt yet: it takes the lowest reading of three still, clear "
                "nights that were forecast. Until then the forecast stands as it is."
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


def _estimate(
    evenings: tuple[Evening, ...], read: Evening | None, dawn_on: date
) -> Number:
    what = _("Minimum by the orchard's own nights")
    known = [
        (one.air, one.dew_point, one.minimum)
        for one in evenings
        if one.dawn_on < dawn_on
        and one.calm_clear
        and one.dew_point is not None
        and one.minimum is not None
    ]
    law, source = "frost.night_minimum", FAO_FROST

    def without(sentence: str) -> Number:
        return Number(what, None, "°C", law=law, source=source, missing=sentence)

    if read is None or read.dew_point is None:
        return without(
            _("Needs this evening's air and dew point, read two hours after sunset.")
        )
    try:
        fitted = frost.fit_night_minimum(known)
        value = frost.night_minimum(read.air, read.dew_point, fitted)
    except ValueError:
        return without(
            _(
                "Needs four still, clear nights with air and dew point two hours after "
                "sunset and the lowest reading; there are %(count)d that differ enough "
                "or too few."
            )
            % {"count": len(known)}
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
            Input(_("Air two hours after sunset"), read.air, "°C", _("own reading")),
            Input(_("Dew point then"), read.dew_point, "°C", _("own reading")),
        ),
    )


def _expected(forecast: Number, offset: Number, estimate: Number) -> Number:
    what = _("Expected minimum here")
    known = []
    inputs = []
    if forecast.value is not None:
        known.append(forecast.value + (offset.value or 0.0))
        inputs.append(Input(forecast.what, forecast.value, "°C", forecast.source))
        if offset.value is not None:
            inputs.append(Input(offset.what, offset.value, "°C", difference=True))
    if estimate.value is not None:
        known.append(estimate.value)
        inputs.append(Input(estimate.what, estimate.value, "°C"))
    if not known:
        return Number(what, None, "°C", missing=forecast.missing)
    return Number(
        what,
        min(known),
        "°C",
        law="frost.risk",
        method=_(
            "Forecast plus the site's own offset, or the estimate from own nights: the "
            "colder of the two."
        ),
        source=_("own records; each part has its own source"),
        inputs=tuple(inputs),
    )


def _curve(
    minimum: float | None,
    clock: Clock | None,
    evenings: tuple[Evening, ...],
    read: Evening | None,
    typed: float | None,
) -> tuple[Curve | None, str]:
    """Return the curve of the night, or why there is none."""
    if clock is None:
        return None, _("The sun does not set or rise here on that day.")
    if minimum is None:
        return None, _("Without an expected minimum there is no curve.")
    falls = [
        one.air - one.minimum
        for one in evenings
        if one.dawn_on < clock.dawn_on and one.calm_clear and one.minimum is not None
    ]
    if typed is not None:
        evening, basis = typed, _("from the evening temperature you typed")
    elif read is not None:
        evening, basis = read.air, _("from this evening's own reading")
    elif len(falls) >= FEWEST_EVENINGS:
        fall = statistics.median(falls)
        evening = minimum + max(fall, 0.0)
        basis = _(
            "no reading yet this evening: from the usual fall of %(count)d own still, "
            "clear nights"
        ) % {"count": len(falls)}
    else:
        return None, _(
            "The curve begins with the air two hours after sunset. Read it then, or "
            "type what you expect."
        )
    if evening < minimum:
        return None, _(
            "It is colder already than the minimum that was expected: cover now."
        )
    return Curve(evening, minimum, clock.hours, basis), ""
