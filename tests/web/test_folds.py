"""Folds of a long form: what each says in its line, and what stands open."""

from __future__ import annotations

from datetime import UTC, datetime

from django import forms
from django.utils import timezone

from orchard.web.fields import MomentField, day_field, number_field
from orchard.web.folds import Fold, ask_for, filled_text


class Watering(forms.Form):
    litres = number_field("Litres", required=False)
    litres_unit = forms.ChoiceField(
        choices=[("", "choose"), ("l", "L")], required=False
    )
    wind = number_field("Wind, km/h", required=False)
    how = forms.ChoiceField(choices=[("", "choose"), ("can", "with a can")])
    dry = forms.BooleanField(label="The soil is dry", required=False)
    at = MomentField(label="When")
    on = day_field("Day", required=False)
    note = forms.CharField(required=False)


def test_a_line_says_numbers_with_their_unit_or_their_name():
    given = {"litres": "12", "litres_unit": "l", "wind": "8", "how": "can", "dry": "on"}
    form = Watering({**given, "on": "2026-05-06", "at": "2026-05-06T09:30"})
    with timezone.override("Europe/Rome"):
        assert filled_text(list(form)) == (
            "12 L, Wind, km/h: 8, with a can, The soil is dry, 6 May 2026, 09:30, "
            "Day: 2026-05-06"
        )


def test_a_unit_without_its_number_and_what_is_empty_are_left_out():
    form = Watering({"litres_unit": "l"})
    assert filled_text(list(form)) == ""


def test_moments_that_a_form_begins_with_are_said_in_the_orchard_s_zone():
    form = Watering(initial={"at": datetime(2026, 5, 6, 7, 30, tzinfo=UTC)})
    with timezone.override("Europe/Rome"):
        assert filled_text([form["at"]]) == "6 May 2026, 09:30"


def test_what_cannot_be_read_is_said_as_it_was_typed():
    assert filled_text([Watering({"at": "noon"})["at"]]) == "noon"


def test_a_fold_names_what_the_record_needs_and_opens_at_a_fault():
    form = Watering({"how": "", "wind": "much"})
    ask_for(form, ["wind", "how", "not_here"])
    assert Fold([form["how"]]).says == "Needed: How"
    assert Fold([form["how"], form["note"]]).is_wrong
    assert not Fold([form["note"]]).is_wrong
    assert Fold([form["wind"]], "a breeze").says == "a breeze"
