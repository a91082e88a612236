"""The answer to a second look."""

from __future__ import annotations

from django import forms
from django.utils.translation import gettext_lazy as _

from orchard.records.models import SecondLook
from orchard.science import guide
from orchard.web.fields import ColumnOfChoices


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

    def __init__(self, *args, host: str, **kwargs) -> None:
        super().__init__(*args, **kwargs)
        signs = sorted(guide.load().signs.values(), key=lambda one: one.name)
        self.fields["sign"].choices = [
            ("", _("not something else")),
            *((one.key, one.name) for one in signs if one.fits(host)),
        ]

    def clean(self):
        said = super().clean()
        if said.get("answer") == "other" and not said.get("sign"):
            self.add_error("sign", _("Say what it is instead."))
        if said.get("answer") and said.get("answer") != "other":
            said["sign"] = ""
        return said
