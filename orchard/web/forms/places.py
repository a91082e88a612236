"""Forms for the orchard's details, its blocks, spots and kinds, and for tags."""

from __future__ import annotations

import re
from collections.abc import Sequence
from decimal import Decimal
from typing import Any
from zoneinfo import available_timezones

from django import forms
from django.utils.dates import MONTHS
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from orchard.records.models import Kind, Orchard, Spot
from orchard.records.models.places import HOSTS
from orchard.science import guide
from orchard.science.windows.seasons import first_month
from orchard.services.trees import Choice, SpotPlan
from orchard.services.trees.places import BlockLine

FEET_TO_M = Decimal("0.3048")
HOST_WORDS = {
    "citrus": _("citrus"),
    "stone": _("stone fruit"),
    "pome": _("apple or pear"),
    "fig": _("fig"),
    "persimmon": _("persimmon"),
    "pomegranate": _("pomegranate"),
    "any": _("another"),
}
PER_PAGE = {"4": 4, "8": 8, "12": 12, "21": 21}


class DayOfYear(forms.MultiWidget):
    """A day and a month, without a year."""

    def __init__(self, attrs: Any = None) -> None:
        months = [("", "—"), *((str(n), name) for n, name in MONTHS.items())]
        day = forms.NumberInput(
            attrs={"min": 1, "max": 31, "aria-label": _("day of the month")}
        )
        month = forms.Select(choices=months, attrs={"aria-label": _("month")})
        super().__init__({"day": day, "month": month}, attrs)

    def decompress(self, value: Any) -> list[Any]:
        return list(value) if value else [None, ""]


class DayOfYearField(forms.MultiValueField):
    widget = DayOfYear

    def __init__(self, **options: Any) -> None:
        fields = (
            forms.IntegerField(min_value=1, max_value=31, required=False),
            forms.IntegerField(min_value=1, max_value=12, required=False),
        )
        super().__init__(fields, required=False, require_all_fields=False, **options)

    def compress(self, values: list[Any]) -> tuple[int, int] | None:
        if not values or all(value is None for value in values):
            return None
        if any(value is None for value in values):
            raise forms.ValidationError(_("Give both, the day and the month."))
        return values[0], values[1]


def season_day(day: tuple[int, int] | None, latitude: float) -> str:
    """Return a day and month as the record keeps it, counted from spring."""
    if day is None:
        return ""
    month = (day[1] - first_month(latitude)) % 12 + 1
    return f"SM{month}-{day[0]:02d}"


def calendar_day(text: str, latitude: float) -> tuple[int, int] | None:
    """Return the day and month of what the record keeps."""
    found = re.fullmatch(r"SM(\d{1,2})-(\d{1,2})", text)
    if found is None:
        return None
    return int(found[2]), (first_month(latitude) + int(found[1]) - 2) % 12 + 1


def day_said(day: tuple[int, int] | None) -> str:
    """Write a day and month in words."""
    if day is None:
        return ""
    return _now("%(day)d %(month)s") % {"day": day[0], "month": MONTHS[day[1]]}


class Details(forms.Form):
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
        label=_("Latitude"), help_text=_("In degrees; south of the equator below zero.")
    )
    longitude = forms.DecimalField(
        label=_("Longitude"), help_text=_("In degrees; west of Greenwich below zero.")
    )
    elevation = forms.DecimalField(
        label=_("Height above the sea"), max_digits=6, required=False
    )
    units = forms.ChoiceField(
        label=_("Units"), choices=Orchard.Units.choices, widget=forms.RadioSelect
    )
    frost_from = DayOfYearField(
        label=_("Frost is to be expected from"),
        help_text=_(
            "Pruning waits while frost may come. Empty both where it never does."
        ),
    )
    frost_to = DayOfYearField(label=_("Frost is to be expected until"))
    fruit_fly_area = forms.BooleanField(
        label=_("Fruit flies occur in this area"), required=False
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
    emergency_note = forms.CharField(
        label=_("In an emergency"),
        required=False,
        max_length=2000,
        widget=forms.Textarea,
        help_text=_("Where first aid is, whom to call, how an ambulance gets in."),
    )
    confirmed = forms.BooleanField(
        label=_("Yes, work the windows out anew"), required=False
    )

    def __init__(self, *args: Any, orchard: Orchard, **options: Any) -> None:
        self.orchard = orchard
        super().__init__(*args, initial=self._shown(orchard), **options)
        self.asks = False

    @property
    def height_unit(self) -> str:
        return _now("ft") if self.orchard.units == "us" else "m"

    @property
    def zones(self) -> list[str]:
        return sorted(zone for zone in available_timezones() if "/" in zone)

    @staticmethod
    def _shown(orchard: Orchard) -> dict[str, Any]:
        latitude = float(orchard.latitude)
        height = Decimal(orchard.elevation_m)
        return {
            **{
                name: getattr(orchard, name)
                for name in Details.base_fields
                if hasattr(orchard, name)
            },
            "latitude": orchard.latitude.normalize(),
            "longitude": orchard.longitude.normalize(),
            "elevation": (
                round(height / FEET_TO_M) if orchard.units == "us" else height
            ),
            "frost_from": calendar_day(orchard.frost_from, latitude),
            "frost_to": calendar_day(orchard.frost_to, latitude),
        }

    def changes(self) -> dict[str, Any]:
        """Return the details as the record keeps them."""
        given = dict(self.cleaned_data)
        given.pop("confirmed")
        latitude = float(given["latitude"])
        height = given.pop("elevation") or Decimal(0)
        if height == self.initial["elevation"]:
            metres = self.orchard.elevation_m
        elif self.orchard.units == "us":
            metres = round(height * FEET_TO_M)
        else:
            metres = round(height)
        return {
            **given,
            "elevation_m": metres,
            "frost_from": season_day(given["frost_from"], latitude),
            "frost_to": season_day(given["frost_to"], latitude),
        }

    def clean_latitude(self) -> Decimal:
        latitude = self.cleaned_data["latitude"]
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
        self.asks = moved
        if moved and not self.errors and not given.get("confirmed"):
            self.add_error(
                "confirmed",
                _("You change the latitude or the time zone. Tick to confirm it."),
            )
        return given

    @property
    def turns(self) -> bool:
        """Say whether spring and autumn change places."""
        latitude = self.cleaned_data.get("latitude")
        return latitude is not None and first_month(float(latitude)) != first_month(
            float(self.orchard.latitude)
        )


class Block(forms.Form):
    """A block to be added or renamed."""

    code = forms.CharField(
        label=_("Code"),
        max_length=40,
        help_text=_("Short, as it begins the codes of its trees: A, N2, Wall."),
    )
    name = forms.CharField(label=_("Name"), max_length=80, required=False)


class BlockCorrection(Block):
    name = forms.CharField(label=_("Name"), max_length=80)
    position = forms.IntegerField(
        label=_("Place in the walk"),
        min_value=0,
        max_value=9999,
        help_text=_("Blocks are walked from the lowest number to the highest."),
    )


class Spots(forms.Form):
    """Spots to be added to a block."""

    numbers = forms.CharField(
        label=_("Which spots?"),
        max_length=400,
        help_text=_("Such as 1-12, or 1, 2, 2a."),
    )


class Arrangement(forms.Form):
    """The spots of a block in one table: number, turn on the walk, path below."""

    def __init__(self, *args: Any, spots: Sequence[Spot], **options: Any) -> None:
        super().__init__(*args, **options)
        self.spots = spots
        for spot in spots:
            self.fields[f"number_{spot.pk}"] = forms.CharField(
                label=_now("number of %(spot)s") % {"spot": spot.number},
                max_length=40,
                initial=spot.number,
                widget=forms.TextInput(attrs={"class": "input short", "size": 6}),
            )
            self.fields[f"position_{spot.pk}"] = forms.IntegerField(
                label=_now("place of %(spot)s in the walk") % {"spot": spot.number},
                min_value=0,
                max_value=9999,
                initial=spot.position,
                widget=forms.NumberInput(attrs={"class": "input short"}),
            )
            self.fields[f"over_path_{spot.pk}"] = forms.BooleanField(
                label=_now("%(spot)s reaches over a path") % {"spot": spot.number},
                required=False,
                initial=spot.over_path,
            )
        for name, field in self.fields.items():
            if not name.startswith("over_path"):
                field.widget.attrs["aria-label"] = field.label

    def lines(self) -> list[dict[str, Any]]:
        return [
            {
                "spot": spot,
                "tree": next(iter(spot.standing), None),
                "number": self[f"number_{spot.pk}"],
                "position": self[f"position_{spot.pk}"],
                "over_path": self[f"over_path_{spot.pk}"],
            }
            for spot in self.spots
        ]

    def plans(self) -> list[SpotPlan]:
        given = self.cleaned_data
        return [
            SpotPlan(
                spot.pk,
                given[f"number_{spot.pk}"],
                given[f"position_{spot.pk}"],
                given[f"over_path_{spot.pk}"],
            )
            for spot in self.spots
        ]


class OwnKind(forms.Form):
    """A cultivar: one of the guide by its name, or one of the orchard's own."""

    name = forms.CharField(
        label=_("Cultivar"),
        max_length=80,
        help_text=_("A name of the guide brings its seasons and its tenderness along."),
        widget=forms.TextInput(attrs={"list": "cultivars", "spellcheck": "false"}),
    )
    host = forms.ChoiceField(
        label=_("Sort of fruit tree"),
        choices=[(host, HOST_WORDS[host]) for host in HOSTS],
        initial="citrus",
    )
    group = forms.CharField(label=_("Group"), max_length=60, required=False)
    tender_class = forms.ChoiceField(label=_("Tenderness"), required=False)
    other_names = forms.CharField(
        label=_("Other names"),
        max_length=300,
        required=False,
        help_text=_("With commas between them. A register is understood by them too."),
    )

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["tender_class"].choices = [
            ("", _now("not known")),
            *((key, one.name) for key, one in guide.load().tenderness.items()),
        ]

    def clean_other_names(self) -> list[str]:
        return self.cleaned_data["other_names"].split(",")


def kind_shown(kind: Kind) -> dict[str, Any]:
    """Return what a form shows of a kind."""
    shown = {name: getattr(kind, name) for name in OwnKind.base_fields}
    return {**shown, "other_names": ", ".join(kind.other_names)}


class Tags(forms.Form):
    """Which tags are printed, and on what."""

    which = forms.ChoiceField(
        label=_("Which trees?"),
        widget=forms.RadioSelect,
        initial="none",
        choices=[
            ("none", _("Trees without a tag")),
            ("blocks", _("Trees of these blocks")),
            ("codes", _("Trees with these codes")),
            ("all", _("All trees")),
        ],
    )
    blocks = forms.MultipleChoiceField(
        label=_("Blocks"), required=False, widget=forms.CheckboxSelectMultiple
    )
    codes = forms.CharField(
        label=_("Codes"),
        required=False,
        max_length=4000,
        help_text=_("With spaces or commas between them."),
    )
    paper = forms.ChoiceField(
        label=_("Paper"),
        widget=forms.RadioSelect,
        choices=[("a4", "A4"), ("letter", "Letter")],
    )
    per_page = forms.ChoiceField(
        label=_("Tags on one sheet"),
        widget=forms.RadioSelect,
        initial="8",
        choices=[(key, key) for key in PER_PAGE],
    )

    def __init__(self, *args: Any, blocks: list[BlockLine], **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["blocks"].choices = [
            (block.code, f"{block.code} {block.name}") for block in blocks
        ]

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        if given.get("which") == "blocks" and not given.get("blocks"):
            self.add_error("blocks", _("Tick at least one block."))
        if given.get("which") == "codes" and not given.get("codes", "").strip():
            self.add_error("codes", _("Write at least one code."))
        return given

    def choice(self) -> Choice:
        given = self.cleaned_data
        which = given["which"]
        return Choice(
            codes=given["codes"] if which == "codes" else "",
            blocks=tuple(given["blocks"]) if which == "blocks" else (),
            only_without=which == "none",
        )
