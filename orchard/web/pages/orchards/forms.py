"""The form of an orchard's details; its place on the map decides the seasons."""

from __future__ import annotations

from decimal import Decimal
from typing import Any
from zoneinfo import available_timezones

from django import forms
from django.utils.translation import gettext_lazy as _

from orchard.records.models import Orchard
from orchard.science import guide
from orchard.science.units import scale_of, shown, stored
from orchard.science.windows import first_month
from orchard.science.words import PublicUse, RecordProfile
from orchard.web.days_of_year import DayOfYearField, calendar_day, season_day
from orchard.web.fields import (
    ColumnOfChoices,
    NumberWithUnit,
    day_field,
    offer,
    set_unit,
)

PROFILES = {
    RecordProfile.EU: _("European Union"),
    RecordProfile.US: _("United States"),
    RecordProfile.AU: _("Australia"),
    RecordProfile.OTHER: _("another country: the strictest of each"),
}
PUBLIC_USES = [
    ("", _("not set")),
    (PublicUse.BANNED, _("banned")),
    (PublicUse.LOW_RISK, _("only those registered as low risk")),
    (PublicUse.WITH_NOTICE, _("allowed, with a posting at each entrance")),
]


def _phone(label: Any) -> forms.CharField:
    return forms.CharField(
        label=label,
        max_length=40,
        required=False,
        widget=forms.TextInput(attrs={"type": "tel"}),
    )


def _line(label: Any, most: int) -> forms.CharField:
    return forms.CharField(label=label, max_length=most, required=False)


def regions() -> list[tuple[str, str]]:
    """Return the regions of the guide, by key and name."""
    return [(row.key, row.name) for row in guide.load().regions.values()]


class OrchardForm(forms.Form):
    """What an orchard is and where; the place decides the seasons."""

    name = forms.CharField(label=_("Name"), max_length=120)
    place = forms.CharField(label=_("Place"), max_length=160)
    time_zone = forms.CharField(
        label=_("Time zone"),
        max_length=64,
        help_text=_("Like Europe/Lisbon. A day of the record is a day of this zone."),
        widget=forms.TextInput(attrs={"list": "zones", "spellcheck": "false"}),
    )
    latitude = forms.DecimalField(
        label=_("Latitude"),
        help_text=_("In degrees; south of the equator below zero."),
        widget=NumberWithUnit(unit="°"),
    )
    longitude = forms.DecimalField(
        label=_("Longitude"),
        help_text=_("In degrees; west of Greenwich below zero."),
        widget=NumberWithUnit(unit="°"),
    )
    elevation = forms.DecimalField(
        label=_("Height above the sea"),
        max_digits=6,
        required=False,
        widget=NumberWithUnit,
    )
    units = forms.ChoiceField(
        label=_("Units"), choices=Orchard.Units.choices, widget=ColumnOfChoices
    )
    frost_from = DayOfYearField(
        label=_("Frost expected from"),
        help_text=_(
            "Pruning waits while frost may come. Leave both empty where there is never "
            "frost."
        ),
    )
    frost_to = DayOfYearField(label=_("Frost expected until"))
    region = forms.ChoiceField(
        label=_("Region"),
        required=False,
        help_text=_(
            "What is usual there is suggested under Pest status. Only the coordinator "
            "changes it; then each status must be confirmed again."
        ),
    )
    crew_hours = forms.IntegerField(
        label=_("Hours of work a week"),
        min_value=0,
        max_value=9999,
        required=False,
        widget=NumberWithUnit(unit="h"),
        help_text=_(
            "The hours the whole crew works in a week. The board compares its tasks "
            "with them."
        ),
    )
    fruit_fly_area = forms.BooleanField(
        label=_("Fruit flies occur in this area"), required=False
    )
    maturity_standard = forms.ChoiceField(
        label=_("Ripeness standard"),
        choices=Orchard.MaturityStandard.choices,
        help_text=_(
            "For teaching only. For fruit that is sold or given away the law decides."
        ),
    )
    authority_name = forms.CharField(
        label=_("Plant-health authority"),
        max_length=160,
        required=False,
        help_text=_("Whom a suspected regulated pest is reported to."),
    )
    authority_contact = forms.CharField(
        label=_("How to reach it"), max_length=200, required=False
    )
    authority_phone = forms.CharField(
        label=_("Phone of the authority"),
        max_length=40,
        required=False,
        widget=forms.TextInput(attrs={"type": "tel"}),
    )
    report_name = forms.CharField(
        label=_("Whom to ring from the tree"),
        max_length=120,
        required=False,
        help_text=_(
            "The first person to ring when a regulated pest is suspected. Use a name "
            "that all know."
        ),
    )
    report_phone = forms.CharField(
        label=_("Number to ring"),
        max_length=40,
        required=False,
        widget=forms.TextInput(attrs={"type": "tel"}),
        help_text=_("Shown as the first button at a Report, with no signal as well."),
    )
    emergency_note = forms.CharField(
        label=_("In an emergency"),
        required=False,
        max_length=2000,
        widget=forms.Textarea,
        help_text=_("Where first aid is, whom to call, how an ambulance gets in."),
    )
    public_page = forms.BooleanField(
        label=_("Show a page for visitors, open to everybody"),
        required=False,
        help_text=_(
            "It says what grows here and what is worth seeing. It names no people, no "
            "tasks and nothing that is suspected."
        ),
    )
    visiting_words = forms.CharField(
        label=_("When to come, and how"),
        required=False,
        max_length=1000,
        widget=forms.Textarea,
        help_text=_("Opening hours, the way in, what to know. For the visitors' page."),
    )
    quarantine_from = day_field(
        _("Under quarantine since"),
        required=False,
        help_text=_(
            "From that day no fruit leaves this place. Leave both empty where there is "
            "no quarantine, and empty both when the authority lifts it."
        ),
    )
    quarantine_words = forms.CharField(
        label=_("What the authority wrote"),
        max_length=1000,
        required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text=_("Its own words, with the number of the order."),
    )
    record_profile = forms.ChoiceField(
        label=_("Treatment records follow the law of"),
        choices=PROFILES.items(),
        required=False,
        help_text=_(
            "It decides what a record must hold, when it is due, how long kept."
        ),
    )
    public_use = forms.ChoiceField(
        label=_("Plant protection products in this public garden"),
        choices=PUBLIC_USES,
        required=False,
        help_text=_("Not set is as good as banned: plans are refused."),
    )
    ambulance_phone = _phone(_("Ambulance"))
    poison_phone = _phone(_("Poison line"))
    hospital = _line(_("Nearest hospital, with its address"), 200)
    access_point = _line(_("Where an ambulance comes in"), 200)
    responsible_person = _line(_("Who answers for treatments, with a phone"), 160)
    environment_phone = _phone(_("Environment line"))
    confirmed = forms.BooleanField(
        label=_("Yes, work out the dates again"), required=False
    )

    def __init__(self, *args: Any, orchard: Orchard, **options: Any) -> None:
        self.orchard = orchard
        options["initial"] = self._shown(orchard)
        super().__init__(*args, **options)
        set_unit(self, "elevation", scale_of("m", orchard.units).unit)
        offer(self, "region", [("", _("not named")), *regions()])
        self.asks = self.moves_place = self.moves_region = False

    @property
    def zones(self) -> list[str]:
        return sorted(zone for zone in available_timezones() if "/" in zone)

    @staticmethod
    def _shown(orchard: Orchard) -> dict[str, Any]:
        latitude = float(orchard.latitude)
        height, _unit = shown(orchard.elevation_m, "m", orchard.units)
        return {
            **{
                name: getattr(orchard, name)
                for name in OrchardForm.base_fields
                if hasattr(orchard, name)
            },
            "latitude": orchard.latitude.normalize(),
            "longitude": orchard.longitude.normalize(),
            "elevation": Decimal(round(height)),
            "frost_from": calendar_day(orchard.frost_from, latitude),
            "frost_to": calendar_day(orchard.frost_to, latitude),
        }

    def changes(self) -> dict[str, Any]:
        """Return the details as the record keeps them."""
        given = dict(self.cleaned_data)
        given.pop("confirmed")
        if not given["record_profile"]:
            # A page kept from before it was asked: it stays as it is.
            del given["record_profile"]
        if "quarantine_from" not in self.data:
            # The same: such a page must not lift it.
            del given["quarantine_from"], given["quarantine_words"]
        if "visiting_words" not in self.data:
            del given["public_page"], given["visiting_words"]
        latitude = float(given["latitude"])
        height = given.pop("elevation") or Decimal(0)
        metres = self.orchard.elevation_m
        if height != self.initial["elevation"]:
            metres = round(stored(float(height), "m", self.orchard.units))
        return {
            **given,
            "elevation_m": metres,
            "frost_from": season_day(given["frost_from"], latitude),
            "frost_to": season_day(given["frost_to"], latitude),
        }

    def clean_latitude(self) -> Decimal:
        latitude: Decimal = self.cleaned_data["latitude"]
        if not -90 <= latitude <= 90:
            raise forms.ValidationError(
                _("The latitude is a number from -90 to 90; south is below zero.")
            )
        return latitude

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        moved = given.get("latitude") not in (None, self.orchard.latitude) or given.get(
            "time_zone", ""
        ).strip() not in ("", self.orchard.time_zone)
        # The first region named says nothing against what was set before.
        self.moves_region = self.orchard.region not in ("", given.get("region", ""))
        self.asks = moved or self.moves_region
        if self.moves_region:
            self["confirmed"].label = (
                _("Yes, work out the dates and ask about the pests again")
                if moved
                else _("Yes, ask about the pests again")
            )
        if self.asks and not self.errors and not given.get("confirmed"):
            self.add_error(
                "confirmed",
                _("You change the latitude or the time zone. Tick to confirm it.")
                if moved
                else _("You change the region. Tick to confirm it."),
            )
        self.moves_place = moved
        return given

    @property
    def turns(self) -> bool:
        """Say whether spring and autumn change places."""
        latitude = self.cleaned_data.get("latitude")
        return latitude is not None and first_month(float(latitude)) != first_month(
            float(self.orchard.latitude)
        )
