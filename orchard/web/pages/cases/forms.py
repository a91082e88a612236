"""The forms of a case: a call about it, and its close."""

from __future__ import annotations

from django import forms
from django.utils.translation import gettext_lazy as _

from orchard.web.fields import MomentField


class CallForm(forms.Form):
    caller = forms.CharField(label=_("Who called"), max_length=120)
    called = forms.CharField(label=_("Whom"), max_length=160)
    called_at = MomentField(label=_("When"))
    summary = forms.CharField(
        label=_("What was said"),
        max_length=1000,
        widget=forms.Textarea(attrs={"rows": 3}),
    )


class OutcomeForm(forms.Form):
    outcome = forms.CharField(
        label=_("What the authority answered"),
        help_text=_("Found or not found, by whom, and what is to be done."),
        max_length=500,
        widget=forms.Textarea,
    )
