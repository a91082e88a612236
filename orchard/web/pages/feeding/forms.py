"""How a laboratory's report on leaves is written down."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date
from typing import Any

from django import forms
from django.utils.text import capfirst
from django.utils.translation import gettext_lazy as _

from orchard.records.models import Kind, LeafTest
from orchard.science import feeding as law
from orchard.web.fields import (
    ColumnOfChoices,
    day_field,
    number_field,
    offer,
    reason_field,
)

PERCENT, G_PER_KG = "percent", "g_per_kg"


def _figure(label: Any, **options: Any) -> forms.FloatField:
    field = number_field(label, required=False, **options)
    field.widget.attrs |= {"inputmode": "decimal", "step": "any"}
    return field


class LeafTestForm(forms.Form):
    """Leaves of a tree, or of one cultivar in a block, and what was found in them."""

    place = forms.CharField(
        label=_("Tree or block"),
        max_length=24,
        help_text=_("The code of the tree, or of the block for a mixed sample."),
        error_messages={"required": _("Enter the code of a tree or block.")},
    )
    kind = forms.TypedChoiceField(
        label=_("Cultivar"),
        coerce=int,
        empty_value=None,
        required=False,
        help_text=_("Needed for a block of several cultivars."),
    )
    rootstock = forms.CharField(label=_("Rootstock"), max_length=80, required=False)
    taken_on = day_field(_("Leaves taken on"))
    leaf_months = number_field(
        _("Age of the leaves, months"),
        help_text=_("Since the flush opened. Each set is for leaves of one age."),
    )
    laboratory = forms.CharField(label=_("Laboratory"), max_length=120, required=False)
    sample = forms.CharField(label=_("Sample number"), max_length=60, required=False)
    unit = forms.ChoiceField(
        label=_("Main nutrients are in"),
        choices=[(PERCENT, _("% of dry matter")), (G_PER_KG, _("g/kg"))],
        widget=forms.RadioSelect,
    )
    soil_ph = _figure(_("pH of the soil, if tested too"))
    note = forms.CharField(label=_("In your words"), max_length=500, required=False)
    closes_task = forms.BooleanField(
        label=_("Close the open task “Take leaf samples” of this place"),
        required=False,
    )
    reason = reason_field(_("Why you correct it"))

    def __init__(self, *args: Any, kinds: Iterable[Kind], **options: Any) -> None:
        super().__init__(*args, **options)
        for nutrient in law.leaf_nutrients().values():
            label = f"{capfirst(nutrient.name)} ({nutrient.key})"
            if nutrient.unit != "%":
                label = f"{label}, {nutrient.unit}"
            self.fields[nutrient.key] = _figure(label)
        none = ("", _("as the tree, or the only one in the block"))
        offer(self, "kind", [none, *((each.pk, each.name) for each in kinds)])
        self.fields["leaf_months"].widget.attrs |= {
            "inputmode": "decimal", "step": "any"
        }  # fmt: skip

    @classmethod
    def new(
        cls,
        kinds: Iterable[Kind],
        *,
        place: str,
        today: date,
        may_close: bool,
        data: Any = None,
    ) -> LeafTestForm:
        """Return the form for a new report; it may close the task it comes from."""
        initial = {"place": place, "unit": PERCENT, "closes_task": True}
        form = cls(data, kinds=kinds, initial=initial)
        del form.fields["reason"]
        if not may_close:
            del form.fields["closes_task"]
        form.fields["taken_on"].widget.attrs["max"] = today.isoformat()
        return form

    @classmethod
    def correcting(
        cls, row: LeafTest, kinds: Iterable[Kind], *, today: date, data: Any = None
    ) -> LeafTestForm:
        """Return the form filled with what is on record, asking for the reason."""
        owner = row.tree or row.block
        initial = {
            name: getattr(row, name)
            for name in (
                "rootstock", "taken_on", "leaf_months", "laboratory", "sample",
                "soil_ph", "note",
            )
        }  # fmt: skip
        initial |= row.contents
        initial |= {
            "place": owner.code if owner else "",
            "kind": row.kind_id,
            "unit": PERCENT,
        }
        form = cls(data, kinds=kinds, initial=initial)
        form.fields["taken_on"].widget.attrs["max"] = today.isoformat()
        del form.fields["closes_task"]
        return form

    @property
    def main(self) -> Sequence[Any]:
        """Return the fields of the nutrients that reports give in % or g/kg."""
        return [self[key] for key in self._keys("%")]

    @property
    def trace(self) -> Sequence[Any]:
        """Return the fields of the nutrients that reports give in mg/kg."""
        return [self[key] for key in self._keys("mg/kg")]

    def _keys(self, unit: str) -> list[str]:
        rows = law.leaf_nutrients().values()
        return [each.key for each in rows if each.unit == unit]

    def clean(self) -> dict[str, Any]:
        """Gather the contents, each in the unit that it is kept in."""
        cleaned = super().clean() or self.cleaned_data
        factor = 0.1 if cleaned.pop("unit", PERCENT) == G_PER_KG else 1.0
        contents = {}
        for key in self._keys("%") + self._keys("mg/kg"):
            value = cleaned.pop(key, None)
            if value is not None:
                by_weight = key in self._keys("%")
                contents[key] = round(value * factor, 6) if by_weight else value
        cleaned["contents"] = contents
        return cleaned


class LeafSetForm(forms.Form):
    """The published set of ranges that an orchard goes by."""

    leaf_set = forms.ChoiceField(
        label=_("Our set"), widget=ColumnOfChoices, required=False
    )

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        sets = ((each.key, each.name) for each in law.leaf_sets())
        offer(self, "leaf_set", [*sets, ("", _("None chosen"))])
