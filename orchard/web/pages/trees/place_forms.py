"""Forms for blocks, spots and kinds."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from django import forms
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from orchard.records.models import HOSTS, Kind
from orchard.science import guide
from orchard.services.trees import SpotLine, SpotPlan
from orchard.web.fields import offer

HOST_WORDS = {
    "citrus": _("citrus"),
    "stone": _("stone fruit"),
    "pome": _("apple or pear"),
    "fig": _("fig"),
    "persimmon": _("persimmon"),
    "pomegranate": _("pomegranate"),
    "any": _("another"),
}


class BlockForm(forms.Form):
    """A block to be added or renamed."""

    code = forms.CharField(
        label=_("Code"),
        max_length=40,
        help_text=_(
            "Short, because the codes of its trees begin with it: A, N2, Wall."
        ),
    )
    name = forms.CharField(label=_("Name"), max_length=80, required=False)


class BlockCorrectionForm(BlockForm):
    name = forms.CharField(label=_("Name"), max_length=80)
    position = forms.IntegerField(
        label=_("Place in the walk"),
        min_value=0,
        max_value=9999,
        help_text=_("Blocks are walked from the lowest number to the highest."),
    )


class SpotsForm(forms.Form):
    """Spots to be added to a block."""

    numbers = forms.CharField(
        label=_("Which spots?"),
        max_length=400,
        help_text=_("Such as 1-12, or 1, 2, 2a."),
    )


class ArrangementForm(forms.Form):
    """The spots of a block in one table: number, turn on the walk, path below."""

    def __init__(self, *args: Any, spots: Sequence[SpotLine], **options: Any) -> None:
        super().__init__(*args, **options)
        self.spots = spots
        for spot in (line.spot for line in spots):
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
                "spot": line.spot,
                "tree": line.tree,
                "number": self[f"number_{line.spot.pk}"],
                "position": self[f"position_{line.spot.pk}"],
                "over_path": self[f"over_path_{line.spot.pk}"],
            }
            for line in self.spots
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
            for spot in (line.spot for line in self.spots)
        ]


def spots_sent(posted: Iterable[str]) -> set[int]:
    """Return the spots of which the fields of an arrangement were sent."""
    names = (name.removeprefix("number_") for name in posted if "number_" in name)
    return {int(name) for name in names if name.isdecimal() and len(name) < 16}


class KindForm(forms.Form):
    """A cultivar: one of the guide by its name, or one of the orchard's own."""

    name = forms.CharField(
        label=_("Cultivar"),
        max_length=80,
        help_text=_("A name from the guide comes with its seasons and hardiness."),
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
        help_text=_("Separated by commas. An imported register may use them too."),
    )

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        named = [(key, row.name) for key, row in guide.load().tenderness.items()]
        offer(self, "tender_class", [("", _now("not known")), *named])

    def clean_other_names(self) -> list[str]:
        names: str = self.cleaned_data["other_names"]
        return names.split(",")


def kind_shown(kind: Kind) -> dict[str, Any]:
    """Return what a form shows of a kind."""
    shown = {name: getattr(kind, name) for name in KindForm.base_fields}
    return {**shown, "other_names": ", ".join(kind.other_names)}
