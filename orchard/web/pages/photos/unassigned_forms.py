"""Photos without a record: brought to the tray, and given their tree."""

from __future__ import annotations

from django import forms
from django.utils.translation import gettext_lazy as _


class BelongsForm(forms.Form):
    """Either a look that is suggested, or the code of a tree."""

    inspection = forms.IntegerField(required=False, widget=forms.HiddenInput)
    tree = forms.CharField(
        label=_("Code of the tree"),
        help_text=_("As it stands on the tag, such as A-7."),
        required=False,
        max_length=24,
        widget=forms.TextInput(attrs={"autocapitalize": "characters"}),
    )
