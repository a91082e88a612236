"""The answer to a second look."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from orchard.records.models import SecondLook
from orchard.science import guide
from orchard.web.fields import ColumnOfChoices, offer


class AnswerForm(forms.Form):
    answer = forms.ChoiceField(
        label=_("What do you see?"),
        choices=SecondLook.Answer.choices,
        widget=ColumnOfChoices,
    )
    sign = forms.ChoiceField(label=_("If something else: what"), required=False)
    note = forms.CharField(
        label=_("Note for the observer"),
        max_length=2000,
        required=False,
        widget=forms.Textarea,
    )

    def __init__(self, *args: Any, host: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        signs = sorted(guide.load().signs.values(), key=lambda row: row.name)
        rest = [(row.key, row.name) for row in signs if row.fits(host)]
        offer(self, "sign", [("", _("not something else")), *rest])

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if cleaned.get("answer") == "other" and not cleaned.get("sign"):
            self.add_error("sign", _("Say what it is instead."))
        if cleaned.get("answer") and cleaned.get("answer") != "other":
            cleaned["sign"] = ""
        return cleaned
