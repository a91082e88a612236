"""Forms that change a record: a reason, another verdict."""

from __future__ import annotations

from django import forms
from django.utils.translation import gettext_lazy as _

from orchard.science.words import Verdict
from orchard.web.templatetags.orchard import verdict_word


class OverrideForm(forms.Form):
    verdict = forms.ChoiceField(
        label=_("Your verdict"),
        choices=lambda: [(choice.value, verdict_word(choice)) for choice in Verdict],
        widget=forms.RadioSelect,
    )
    due_days = forms.IntegerField(
        label=_("If it is Act: within how many days"),
        min_value=0,
        max_value=365,
        required=False,
    )
    reason = forms.CharField(
        label=_("Why"),
        help_text=_("The guide's verdict stays visible next to yours."),
        max_length=500,
    )
