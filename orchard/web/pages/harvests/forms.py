"""How a pick, and where a part of it went, are written down."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django import forms
from django.utils import timezone
from django.utils.text import capfirst
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from orchard.records.models import Harvest, HarvestShare, Membership
from orchard.science.units import US_UNITS
from orchard.science.words import Picked
from orchard.services import harvests
from orchard.services.harvests import FoodCheck, WrittenPick
from orchard.services.tasks import name_places
from orchard.web.fields import (
    ColumnOfChoices,
    MomentField,
    codes_in,
    day_field,
    number_field,
    reason_field,
)
from orchard.web.folds import JUST_NOW, Fold, moment_text

POUND = US_UNITS["kg"].step
IN_KG = {"kg": 1.0, "g": 0.001, "lb": POUND}
UNITS = [("kg", "kg"), ("g", "g"), ("lb", "lb")]
# The largest number that a row can have.
BIGGEST_NUMBER = 2**63 - 1
# More than any crate holds; what a tree can give is asked of the service.
MOST_COUNTED = 1_000_000
PARTS = [
    (Picked.FRUIT.value, _("Fruit")),
    (Picked.LEAF.value, _("Leaves")),
    (Picked.FLOWER.value, _("Flowers")),
]
YES = (
    FoodCheck.WELL,
    FoodCheck.BINS,
    FoodCheck.UNSOILED,
    FoodCheck.SOUND,
    FoodCheck.ANIMALS,
    FoodCheck.PAPER,
)
WASHED = (FoodCheck.RINSED, FoodCheck.UNWASHED)
# The fields that say how much it was.
WEIGHED = frozenset({"amount", "tare", "unit", "count"})


def _weight(label: Any, **options: Any) -> forms.FloatField:
    field = number_field(label, required=False, **options)
    field.widget.attrs |= {"inputmode": "decimal", "step": "any"}
    return field


def _count(label: Any, **options: Any) -> forms.IntegerField:
    return forms.IntegerField(
        label=label,
        required=False,
        widget=forms.NumberInput(attrs={"inputmode": "numeric"}),
        max_value=MOST_COUNTED,
        error_messages={
            "invalid": _("Give a whole number."),
            "max_value": _("That is too many. Check the number."),
        },
        **options,
    )


class PickForm(forms.Form):
    """A pick: what, of which trees, how much of it, and what was asked about it."""

    part = forms.ChoiceField(
        label=_("What was picked"), choices=PARTS, widget=forms.RadioSelect
    )
    trees = forms.CharField(
        label=_("Trees: codes, or a block"),
        max_length=1000,
        help_text=_("They share the fruit."),
    )
    amount = _weight(_("Weight"))
    unit = forms.ChoiceField(label=_("Unit"), choices=UNITS)
    tare = _weight(
        _("Of which the empty crate"),
        help_text=_("In the same unit, if it was weighed along."),
    )
    count = _count(_("Or how many"))
    picked_clean = forms.BooleanField(
        label=_("Picked clean: nothing ripe is left"), required=False
    )
    picked_at = MomentField(label=_("When"))
    how = forms.ChoiceField(
        label=_("How"),
        choices=[("", _("not said")), *Harvest.How.choices],
        required=False,
    )
    ground = forms.BooleanField(
        label=FoodCheck.GROUND.label,
        required=False,
        help_text=_("Windfalls are never given away. They may go to compost."),
    )
    checks = forms.MultipleChoiceField(
        label=_("Tick what is so"),
        choices=[(check.value, check.label) for check in YES],
        widget=forms.CheckboxSelectMultiple,
        required=False,
    )
    washed = forms.ChoiceField(
        label=_("Washing"),
        choices=[
            ("", _("Not answered")),
            *((check.value, check.label) for check in WASHED),
        ],
        widget=ColumnOfChoices,
        required=False,
    )
    allowed = forms.BooleanField(label=FoodCheck.ALLOWED.label, required=False)
    anyway = forms.CharField(
        label=_("How it came about"),
        max_length=500,
        required=False,
        widget=forms.Textarea(attrs={"rows": 2}),
    )
    note = forms.CharField(label=_("In your words"), max_length=500, required=False)
    reason = reason_field(_("Why you correct it"))

    @classmethod
    def new(
        cls,
        member: Membership,
        *,
        now: datetime,
        may_allow: bool,
        trees: str = "",
        data: Any = None,
    ) -> PickForm:
        """Return the form for a new pick."""
        us = member.orchard.units == "us"
        initial = {
            "part": Picked.FRUIT.value,
            "trees": trees,
            "unit": "lb" if us else "kg",
            "picked_at": timezone.localtime(now),
        }
        form = cls(data, initial=initial)
        form._set_up(member, may_allow=may_allow)
        # A page that was kept for the day without signal reckons what time it is.
        form.fields["picked_at"].widget.attrs["data-now"] = True
        del form.fields["reason"]
        return form

    @classmethod
    def correcting(
        cls, row: Harvest, member: Membership, *, may_allow: bool, data: Any = None
    ) -> PickForm:
        """Return the form filled with what is on record, asking for the reason."""
        unit = "lb" if member.orchard.units == "us" else "kg"
        trees = list(row.harvested.select_related("tree").order_by("id"))
        picked = harvests.balance_of(row).picked
        checks = set(row.checks)
        initial = {
            "part": row.part,
            "trees": " ".join(each.tree.code for each in trees),
            "amount": None if picked.kg is None else round(picked.kg / IN_KG[unit], 3),
            "unit": unit,
            "count": picked.count,
            "picked_clean": any(each.is_picked_clean for each in trees),
            "picked_at": timezone.localtime(row.picked_at),
            "how": row.how,
            "ground": FoodCheck.GROUND in checks,
            "checks": [check.value for check in YES if check in checks],
            "washed": next((check.value for check in WASHED if check in checks), ""),
            "allowed": FoodCheck.ALLOWED in checks,
            "note": row.note,
        }
        form = cls(data, initial=initial)
        form._set_up(member, may_allow=may_allow or FoodCheck.ALLOWED in checks)
        return form

    def _set_up(self, member: Membership, *, may_allow: bool) -> None:
        self.member = member
        if not may_allow:
            del self.fields["allowed"]

    def fold_of(self, *names: str, line: str = "") -> Fold:
        return Fold([self[name] for name in names if name in self.fields], line)

    @property
    def part_fold(self) -> Fold:
        return self.fold_of("part")

    @property
    def place(self) -> Fold:
        text = str(self["trees"].value() or "")
        # What is no text for the field is no question for the database either.
        codes = () if self["trees"].errors else codes_in(text)
        line = name_places(self.member.orchard, codes) or text
        return self.fold_of("trees", line=line)

    @property
    def crate(self) -> Fold:
        return self.fold_of("tare")

    @property
    def moment(self) -> Fold:
        """When and how it was picked; of what was only now picked the time is left."""
        picked, more = self["picked_at"], self.fold_of("how", "note")
        is_new = "data-now" in picked.field.widget.attrs and not self.is_bound
        if is_new and timezone.now() - picked.initial < JUST_NOW:
            when = _now("just now")
        else:
            when = moment_text(picked)
        line = ", ".join(filter(None, [when, more.says]))
        return self.fold_of("picked_at", "how", "note", line=line)

    @property
    def questions(self) -> Fold:
        return self.fold_of("ground", "checks", "washed", "allowed")

    @property
    def all_the_same(self) -> Fold:
        return self.fold_of("anyway")

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        amount, tare = cleaned.get("amount"), cleaned.get("tare")
        if tare is not None and amount is None:
            self.add_error("amount", _now("Give the weight with the crate as well."))
        elif tare is not None and amount is not None and not 0 <= tare < amount:
            self.add_error(
                "tare",
                _now("The crate can't weigh as much as all of it. Check both weights."),
            )
        return cleaned

    @property
    def written(self) -> WrittenPick:
        """What a valid form says was picked."""
        cleaned = self.cleaned_data
        amount, kg = cleaned.get("amount"), None
        if amount is not None:
            kg = (amount - (cleaned.get("tare") or 0)) * IN_KG[cleaned["unit"]]
        return WrittenPick(
            part=Picked(cleaned["part"]),
            picked_at=cleaned["picked_at"],
            codes=codes_in(cleaned["trees"]),
            kg=kg,
            count=cleaned.get("count"),
            is_as_before=WEIGHED.isdisjoint(self.changed_data),
            is_picked_clean=cleaned["picked_clean"],
            how=cleaned["how"],
            checks=self._checks(),
            note=cleaned["note"],
        )

    def _checks(self) -> frozenset[str]:
        cleaned = self.cleaned_data
        given = set(cleaned["checks"])
        if cleaned["washed"]:
            given.add(cleaned["washed"])
        for check in (FoodCheck.GROUND, FoodCheck.ALLOWED):
            if cleaned.get(check.value):
                given.add(check.value)
        return frozenset(given)


class ShareForm(forms.Form):
    """Where a part of a lot went."""

    use = forms.ChoiceField(
        label=_("Where it went"),
        choices=[(use.value, capfirst(use.label)) for use in HarvestShare.Use],
        widget=forms.RadioSelect,
    )
    receiver = forms.CharField(label=_("Receiver"), max_length=160, required=False)
    contact = forms.CharField(
        label=_("How to reach them"),
        max_length=160,
        required=False,
        help_text=_("Phone or email. Needed where it is given away."),
    )
    kg = _weight(_("Weight"))
    unit = forms.ChoiceField(label=_("Unit"), choices=UNITS)
    count = _count(_("Or how many"))
    given_on = day_field(_("When"))
    reason = reason_field(_("Why you correct it"))

    @classmethod
    def new(cls, lot: Harvest, *, today: Any, data: Any = None) -> ShareForm:
        """Return the form for a part of a lot."""
        unit = "lb" if lot.orchard.units == "us" else "kg"
        form = cls(data, initial={"unit": unit, "given_on": today})
        form.fields["given_on"].widget.attrs["max"] = today.isoformat()
        del form.fields["reason"]
        return form

    @classmethod
    def correcting(
        cls, row: HarvestShare, *, today: Any, data: Any = None
    ) -> ShareForm:
        """Return the form filled with what is noted."""
        unit = "lb" if row.orchard.units == "us" else "kg"
        initial = {
            "use": row.use,
            "receiver": row.receiver,
            "contact": row.contact,
            "kg": None if row.kg is None else round(row.kg / IN_KG[unit], 3),
            "unit": unit,
            "count": row.count,
            "given_on": row.given_on,
        }
        form = cls(data, initial=initial)
        form.fields["given_on"].widget.attrs["max"] = today.isoformat()
        return form

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        unit = cleaned.pop("unit", "kg")
        if cleaned.get("kg") is not None:
            cleaned["kg"] *= IN_KG[unit]
        return cleaned


class RecallForm(forms.Form):
    because = reason_field(_("Why it is called back"))


class RecallCallForm(forms.Form):
    share = forms.IntegerField(
        widget=forms.HiddenInput, min_value=1, max_value=BIGGEST_NUMBER
    )
    is_answered = forms.BooleanField(label=_("They know"), required=False)
    words = forms.CharField(label=_("What they said"), max_length=500, required=False)
