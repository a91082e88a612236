"""The form of a house rule: the guide's rows, each to be changed or switched off."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from orchard.records.models import Orchard, PestStatus
from orchard.science import guide
from orchard.science.guide import Condition, Rule, Sign
from orchard.science.verdict import limit_text, rule_text
from orchard.science.words import LocalStatus, Verdict
from orchard.web import explain
from orchard.web.fields import NumberWithUnit, offer
from orchard.web.templatetags.orchard import verdict_word

MOST_DAYS = 3660
DOES = (Verdict.ACT, Verdict.REPORT)
WITHOUT_LIMIT = ("sm", "bbch")


@dataclass(frozen=True, slots=True)
class RuleRow:
    """One row of the form with what it was made from."""

    number: int
    when: str
    on: forms.BoundField | None
    verdict: forms.BoundField
    due: forms.BoundField
    recheck: forms.BoundField
    because: forms.BoundField
    limits: tuple[forms.BoundField, ...]
    # The word of its verdict, "" where it is switched off.
    verdict_now: str
    # It differs from the guide's, or something in it is wrong.
    is_open: bool


class WhenNeeded(forms.IntegerField):
    """A number that only some verdicts need; the form asks for it when they do."""

    def validate(self, value: Any) -> None:
        """Leave it to the form to miss it."""


def _shape(rule: Rule) -> tuple[tuple[str, str], ...]:
    return tuple((condition.fact, condition.op) for condition in rule.conditions)


def starting_rows(sign: Sign, own: Sequence[Rule] | None) -> list[tuple[Rule, bool]]:
    """Return the rows a form begins with, and whether each is switched on.

    They are the guide's, with what the house rule of today changes in them. A house
    rule that is no changed copy of the guide's list is its own beginning.
    """
    if own is None:
        return [(rule, True) for rule in sign.rules]
    left = list(own)
    rows = []
    for rule in sign.rules:
        mine = next((row for row in left if _shape(row) == _shape(rule)), None)
        if mine is not None:
            left.remove(mine)
        rows.append((mine or rule, mine is not None))
    return rows if not left else [(rule, True) for rule in own]


class RulesForm(forms.Form):
    """The rules of one sign; `rows()` gives them back as the guide writes rules."""

    use_required_attribute = False

    reason = forms.CharField(
        label=gettext_lazy("Why this orchard differs"),
        help_text=gettext_lazy("Shown next to each verdict."),
        max_length=500,
        widget=forms.Textarea(attrs={"rows": 3}),
    )
    starts_on = forms.DateField(
        label=gettext_lazy("In force from"),
        help_text=gettext_lazy("Today or later. Verdicts already given stay."),
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )

    def __init__(
        self,
        *,
        sign: Sign,
        orchard: Orchard,
        own: Sequence[Rule] | None,
        today: date,
        data: Any = None,
    ) -> None:
        super().__init__(data, initial={"starts_on": today})
        self.sign = sign
        self.orchard = orchard
        self.start = starting_rows(sign, own)
        for number, (rule, on) in enumerate(self.start):
            self._add_row(number, rule, on=on)

    def _add_row(self, number: int, rule: Rule, *, on: bool) -> None:
        if not rule.is_unconditional:
            self.fields[f"on-{number}"] = forms.BooleanField(
                label=_("This line counts"), required=False, initial=on
            )
        for place, condition in enumerate(rule.conditions):
            limit = self._limit_in(condition)
            if limit is not None:
                field = self._limit_field(condition, limit)
                self.fields[f"limit-{number}-{place}"] = field
        self.fields[f"verdict-{number}"] = forms.ChoiceField(
            label=_("Verdict"),
            choices=[(verdict.value, verdict_word(verdict)) for verdict in Verdict],
            initial=rule.verdict.value,
        )
        self.fields[f"due-{number}"] = WhenNeeded(
            label=_("Days to do it"),
            help_text=_("For Act and Report only; 0 is the same day."),
            min_value=0,
            max_value=MOST_DAYS,
            initial=rule.due,
        )
        self.fields[f"recheck-{number}"] = WhenNeeded(
            label=_("Days to the next look"),
            help_text=_("Watch always needs it."),
            min_value=1,
            max_value=MOST_DAYS,
            initial=rule.recheck,
        )
        self.fields[f"because-{number}"] = forms.CharField(
            label=_("Reason shown"),
            max_length=400,
            initial=rule.because,
            widget=forms.Textarea(attrs={"rows": 2}),
        )

    def _limit_in(self, condition: Condition) -> float | None:
        """Return the threshold of a condition, if it has one that can be typed."""
        fact, value = guide.load().facts[condition.fact], condition.value
        if fact.kind != "number" or condition.fact in WITHOUT_LIMIT:
            return None
        return float(value) if isinstance(value, int | float) else None

    def _limit_field(self, condition: Condition, limit: float) -> forms.Field:
        fact = guide.load().facts[condition.fact]
        ends = [
            explain.shown_number(end, fact, self.orchard)
            for end in (fact.low, fact.high)
        ]
        shown = explain.shown_number(limit, fact, self.orchard)
        whole = fact.whole and shown == int(shown)
        label = limit_text(
            condition, self.sign, guide.load(), explain.wording_for(self.orchard)
        )
        initial = int(shown) if shown == int(shown) else shown
        widget = NumberWithUnit(unit=explain.shown_unit(fact, self.orchard))
        if whole:
            return forms.IntegerField(
                label=label,
                min_value=int(ends[0]),
                max_value=int(ends[1]),
                initial=initial,
                widget=widget,
            )
        return forms.FloatField(
            label=label,
            min_value=ends[0],
            max_value=ends[1],
            initial=initial,
            widget=widget,
        )

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        for number, (rule, _on) in enumerate(self.start):
            if not self._counts(number, rule):
                continue
            verdict = cleaned.get(f"verdict-{number}")
            if verdict in DOES and cleaned.get(f"due-{number}") is None:
                self._ask(f"due-{number}", _("Enter in how many days it must be done."))
            if verdict == Verdict.WATCH and cleaned.get(f"recheck-{number}") is None:
                self._ask(
                    f"recheck-{number}",
                    _("Enter after how many days to inspect again."),
                )
        return cleaned

    def _ask(self, field: str, sentence: str) -> None:
        if field not in self.errors:
            self.add_error(field, sentence)

    def _counts(self, number: int, rule: Rule) -> bool:
        return rule.is_unconditional or bool(self.cleaned_data.get(f"on-{number}"))

    def rows(self) -> list[dict[str, Any]]:
        """Return the lines that count as the guide writes rules; call when valid."""
        cleaned = self.cleaned_data
        rows = []
        for number, (rule, _on) in enumerate(self.start):
            if not self._counts(number, rule):
                continue
            verdict = cleaned[f"verdict-{number}"]
            row = {
                "if": {
                    condition.left_side: self._value(number, place, condition)
                    for place, condition in enumerate(rule.conditions)
                },
                "verdict": verdict,
                "because": cleaned[f"because-{number}"],
            }
            due, recheck = cleaned[f"due-{number}"], cleaned[f"recheck-{number}"]
            if verdict in DOES:
                row["due"] = due
            if recheck is not None:
                row["recheck"] = recheck
            rows.append(row)
        return rows

    def _value(self, number: int, place: int, condition: Condition) -> Any:
        name = f"limit-{number}-{place}"
        if name not in self.fields:
            return (
                list(condition.value)
                if isinstance(condition.value, tuple)
                else condition.value
            )
        fact = guide.load().facts[condition.fact]
        shown = self.cleaned_data[name]
        # What nobody changed comes back exactly, whatever the units did to it.
        if shown == self.fields[name].initial:
            return condition.value
        stored = explain.stored_number(shown, fact, self.orchard)
        return int(stored) if stored == int(stored) else stored

    def shown_rows(self) -> list[RuleRow]:
        """Return the rows for the page."""
        alone = len(self.start) == 1
        wording = explain.wording_for(self.orchard)
        rows = []
        # Nothing is changed on a form that was not sent.
        differing = {*self.errors, *self.changed_data} if self.is_bound else set()
        for number, (rule, on) in enumerate(self.start):
            names = [f"limit-{number}-{place}" for place in range(len(rule.conditions))]
            fields = [
                name for name in self.fields if name.split("-")[1:2] == [str(number)]
            ]
            verdict = self[f"verdict-{number}"].value()
            is_said = rule.is_unconditional or bool(self[f"on-{number}"].value())
            rows.append(
                RuleRow(
                    number=number + 1,
                    when=rule_text(rule, self.sign, guide.load(), wording, alone=alone),
                    on=None if rule.is_unconditional else self[f"on-{number}"],
                    verdict=self[f"verdict-{number}"],
                    due=self[f"due-{number}"],
                    recheck=self[f"recheck-{number}"],
                    because=self[f"because-{number}"],
                    limits=tuple(self[name] for name in names if name in self.fields),
                    verdict_now=verdict_word(verdict)
                    if is_said and verdict in set(Verdict)
                    else "",
                    is_open=not on
                    or rule not in self.sign.rules
                    or not differing.isdisjoint(fields),
                )
            )
        return rows


class LiftForm(forms.Form):
    reason = forms.CharField(
        label=gettext_lazy("Why it is lifted"),
        max_length=500,
        widget=forms.Textarea(attrs={"rows": 2}),
    )


class PestsForm(forms.Form):
    """How all pests that matter by place stand here, confirmed at once."""

    source = forms.CharField(
        label=gettext_lazy("Who says so"),
        help_text=gettext_lazy(
            "The authority's notice and its date, or the person you spoke to."
        ),
        max_length=PestStatus._meta.get_field("source").max_length,
    )

    def __init__(
        self,
        *args: Any,
        codes: Iterable[str],
        suggested: Mapping[str, str],
        **more: Any,
    ) -> None:
        super().__init__(*args, **more)
        words = [("", _("not set: ask the authority"))]
        words += [(row.value, explain.status_word(row)) for row in LocalStatus]
        for code in codes:
            pest = guide.load().pests[code]
            self.fields[f"pest-{code}"] = forms.ChoiceField(
                label=pest.name,
                help_text=guide.load().standings[code].note,
                choices=words,
                initial=suggested.get(code, ""),
                required=False,
            )

    def statuses(self) -> dict[str, str]:
        """Return what was set, by code; nothing of those left to ask about."""
        return {
            name.removeprefix("pest-"): value
            for name, value in self.cleaned_data.items()
            if name.startswith("pest-") and value
        }


class PestForm(forms.Form):
    """How one pest stands here, and who says so."""

    status = forms.ChoiceField(label=gettext_lazy("Here it is"))
    source = forms.CharField(
        label=gettext_lazy("Who says so"),
        help_text=gettext_lazy(
            "The authority's notice and its date, or the person you spoke to."
        ),
        max_length=PestStatus._meta.get_field("source").max_length,
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        statuses = [
            (standing.value, explain.status_word(standing)) for standing in LocalStatus
        ]
        offer(self, "status", statuses)
