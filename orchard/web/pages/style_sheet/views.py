"""Show every part in every state on one page; open it after a change of style."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from orchard.science import guide
from orchard.web.fields import ColumnOfChoices, NumberWithUnit

AMOUNTS = (("0", "None"), ("1", "1 to 4"), ("5", "5 or more"), ("u", "Not sure"))

MEMBER = {"user": {"name": "Vera"}, "get_role_display": "volunteer"}


@dataclass(frozen=True, slots=True)
class SampleNotice:
    """Stand in for what the book says after a deed."""

    text: str
    level: str = "success"
    undo_url: str = ""


@dataclass(frozen=True, slots=True)
class Item:
    """Stand in for one line of the menu."""

    label: str
    url: str
    current: bool = False


@dataclass(frozen=True, slots=True)
class SampleEntry:
    """Stand in for one line of a list."""

    code: str
    verdict: str
    sentence: str
    small: str
    due_on: date
    current: bool = False


class LookForm(forms.Form):
    """Hold one field of every sort."""

    name = forms.CharField(
        label="Your name", help_text="As the crew lead writes it.", max_length=80
    )
    weight = forms.DecimalField(
        label="Weight picked", min_value=0, widget=NumberWithUnit(unit="kg")
    )
    seen_on = forms.DateField(
        label="Day", widget=forms.DateInput(attrs={"type": "date"})
    )
    block = forms.ChoiceField(label="Block", choices=[("a", "A"), ("b", "B")])
    amount = forms.ChoiceField(
        label="How many of 20 shoots have a colony?",
        widget=forms.RadioSelect,
        choices=AMOUNTS,
    )
    parts = forms.MultipleChoiceField(
        label="Where on the tree?",
        widget=forms.CheckboxSelectMultiple,
        required=False,
        choices=[("leaf", "Leaf"), ("shoot", "Shoot"), ("trunk", "Trunk")],
    )
    # The stubs leave out that a field takes a template.
    condition = forms.ChoiceField(  # type: ignore[call-arg]
        template_name="forms/condition.html",
        label="Condition of the whole tree",
        widget=forms.RadioSelect,
        choices=[
            ("1", "dying"),
            ("2", "poor"),
            ("3", "fair"),
            ("4", "good"),
            ("5", "thriving"),
        ],
    )
    note = forms.CharField(label="Note", widget=forms.Textarea, required=False)
    consent = forms.BooleanField(
        label="Nobody can be recognised in this photo", required=False
    )
    photo = forms.FileField(label="Photo", required=False)


class ColumnLookForm(LookForm):
    """Hold the same fields, the choices one below the other."""

    amount = forms.ChoiceField(
        label=LookForm.base_fields["amount"].label,
        widget=ColumnOfChoices,
        choices=AMOUNTS,
    )


@require_safe
def look(request: HttpRequest) -> HttpResponse:
    """Answer with every part in every state."""
    today = date(2026, 7, 9)
    typed = {"name": "", "weight": "-2", "amount": "1", "condition": "3"}
    wrong = ColumnLookForm(typed, auto_id="wrong_%s")
    entries = (
        ("A-03", "act", "Cut the sucker below the graft flush.", "Seen by Vera", -4),
        ("A-11", "report", "Shoot tips with waxy strings: tell the authority.", "", 0),
        ("B-07", "watch", "Trails on 10 % of the new leaves: look again.", "Lee", 14),
        ("C-120", "leave", "Pale old leaves in the cool months are normal.", "", 60),
    )
    return render(
        request,
        "style_sheet/show.html",
        {
            "today": today,
            "orchard": {"name": "Demonstration orchard"},
            "member": MEMBER,
            "menu": [
                Item("Today", "#content"),
                Item("Trees", "#lists", current=True),
                Item("Rounds", "#forms"),
                Item("Photos", "#photos"),
                Item("Guide", "#signs"),
            ],
            "notices": [
                SampleNotice(
                    "A-03 is checked. Next on the round: A-04.", undo_url="/look/"
                ),
                SampleNotice(
                    "The spray hold on B-07 ends on Friday. Pick after that.", "error"
                ),
                SampleNotice("No signal. You can go on: records wait here.", "info"),
            ],
            "form": LookForm(initial={"amount": "1", "condition": "4"}),
            "wrong": wrong,
            "numbered": {"first": 1, "last": 5, "total": 12},
            "entries": [
                SampleEntry(
                    code, verdict, sentence, small, today + timedelta(days), place == 2
                )
                for place, (code, verdict, sentence, small, days) in enumerate(entries)
            ],
            "verdicts": ("leave", "watch", "act", "report"),
            "days": [today + timedelta(n) for n in (-900, -40, -4, -1, 0, 1, 3)],
            "moment": datetime(2026, 7, 9, 14, 5, tzinfo=UTC),
            "drawings": [
                (f"img/signs/{sign.key}.svg", sign.name)
                for sign in guide.load().signs.values()
            ],
        },
    )
