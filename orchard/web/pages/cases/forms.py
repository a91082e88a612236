"""The form that closes a case."""

from __future__ import annotations

from django import forms
from django.utils.translation import gettext_lazy as _


class OutcomeForm(forms.Form):
    outcome = forms.CharField(
        label=_("What the authority answered"),
        help_text=_("Found or not found, by whom, and what is to be done."),
        max_length=500,
        widget=forms.Textarea,
    )
