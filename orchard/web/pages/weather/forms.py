"""Forms for weather: a reading, a forecast, a file and what is said about it."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo

from django import forms
from django.http import QueryDict
from django.utils.translation import gettext_lazy as _

from orchard.records.models import Orchard, Reading, Spot
from orchard.science import units
from orchard.services import trees
from orchard.web.fields import (
    NOT_SAID,
    MomentField,
    NumberWithUnit,
    day_field,
    offer,
    set_unit,
    with_figures,
)

What = Reading.What
CALM = {"yes": True, "no": False}


def number_field(label: Any, **options: Any) -> forms.FloatField:
    """Return a field for a measured number, typed with point or comma."""
    return forms.FloatField(
        label=label,
        localize=False,
        widget=NumberWithUnit({"step": "any", "inputmode": "text"}),
        error_messages={
            "required": _("Give the figure."),
            "invalid": _("Give a number."),
        },
        **options,
    )


class OwnUnitsForm(forms.Form):
    """A form whose numbers are typed in the orchard's units and given out in SI."""

    stored_as: dict[str, str] = {}

    def set_units(self, orchard: Orchard) -> None:
        """Take the orchard's units, and write them behind each field."""
        self.system = orchard.units
        for name, unit in self.stored_as.items():
            set_unit(self, name, units.scale_of(unit, orchard.units).unit)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        for name, unit in self.stored_as.items():
            if cleaned.get(name) is not None:
                cleaned[name] = units.stored(cleaned[name], unit, self.system)
        return cleaned


class ReadingForm(OwnUnitsForm):
    what = forms.ChoiceField(
        label=_("What you read"), choices=What.choices, widget=forms.RadioSelect
    )
    celsius = number_field(_("The thermometer says"))
    at = MomentField(label=_("When"))
    spot = forms.ChoiceField(
        label=_("Where it hangs"),
        required=False,
        help_text=_("Each cold spot has its own offset."),
    )
    calm_clear = forms.ChoiceField(
        label=_("Was the night still and clear?"),
        help_text=_(
            "Only from such nights can the app tell how much colder it is here than "
            "the forecast."
        ),
        choices=[("yes", _("yes")), ("no", _("no")), (NOT_SAID, _("not sure"))],
        required=False,
        widget=forms.RadioSelect,
    )
    dew_point = number_field(
        _("Dew point"),
        required=False,
        help_text=with_figures(
            _("If your instrument shows it; %(hours)s hours after sunset is best."),
            words=True,
            hours="evening_reading_h",
        ),
    )
    note = forms.CharField(label=_("In your words"), max_length=500, required=False)

    stored_as = {"celsius": "°C", "dew_point": "°C"}
    spots: dict[str, Spot]

    @classmethod
    def new(
        cls, orchard: Orchard, *, now: datetime, data: QueryDict | None = None
    ) -> ReadingForm:
        """Return the form for a reading taken now."""
        local = now.astimezone(ZoneInfo(orchard.time_zone)).replace(tzinfo=None)
        form = cls(data, initial={"at": local, "what": What.NOW})
        spots = list(trees.all_spots(orchard))
        named = [(spot.pk, str(spot)) for spot in spots]
        offer(form, "spot", [("", _("somewhere in the orchard")), *named])
        form.spots = {str(spot.pk): spot for spot in spots}
        form.set_units(orchard)
        return form

    def clean_spot(self) -> Spot | None:
        return self.spots.get(self.cleaned_data["spot"])

    def clean_calm_clear(self) -> bool | None:
        return CALM.get(self.cleaned_data["calm_clear"])


class ForecastForm(OwnUnitsForm):
    for_on = day_field(_("For which day"))
    source = forms.CharField(
        label=_("Whose forecast"),
        max_length=120,
        help_text=_("Such as the national weather service."),
    )
    tmin = number_field(
        _("Lowest"),
        required=False,
        help_text=_("Mostly reached at dawn: for tonight, give tomorrow as the day."),
    )
    tmax = number_field(_("Highest"), required=False)
    dew_point = number_field(_("Dew point"), required=False)
    wind = number_field(_("Wind"), required=False)
    cloud = number_field(_("Cloud, share of the sky"), required=False)
    rain_mm = number_field(_("Rain"), required=False)
    is_confirmed = forms.BooleanField(
        label=_("The lowest is right, unusual as it is"), required=False
    )

    stored_as = {
        "tmin": "°C",
        "tmax": "°C",
        "dew_point": "°C",
        "wind": "m/s",
        "cloud": "%",
        "rain_mm": "mm",
    }

    @classmethod
    def new(
        cls,
        orchard: Orchard,
        *,
        tomorrow: date,
        source: str,
        data: QueryDict | None = None,
    ) -> ForecastForm:
        """Return the form for a new forecast, by the same source as the last."""
        form = cls(data, initial={"for_on": tomorrow, "source": source})
        if not form.is_bound:
            # Asked only of a forecast that was doubted.
            form.fields["is_confirmed"].widget = forms.HiddenInput()
        form.set_units(orchard)
        return form
