"""What a question of the practice sends back."""

from __future__ import annotations

from django import forms

from orchard.science.words import PracticeLevel


class PracticeAnswerForm(forms.Form):
    """Which question it was, and what it was taken for; nothing for "I don't know"."""

    key = forms.UUIDField()
    sign = forms.CharField(max_length=40)
    level = forms.ChoiceField(choices=[(row.value, row.value) for row in PracticeLevel])
    photo = forms.UUIDField(required=False)
    taken_for = forms.CharField(max_length=40, required=False)
