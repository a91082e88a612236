"""What to show of the ledger."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from orchard.services.audit import subject_types
from orchard.web.fields import offer


class LedgerFilterForm(forms.Form):
    person = forms.TypedChoiceField(
        label=_("Person"), required=False, coerce=int, empty_value=None
    )
    sort = forms.ChoiceField(label=_("About"), required=False)
    tree = forms.CharField(label=_("Tree's code"), required=False, max_length=24)

    def __init__(
        self, *args: Any, people: list[tuple[int, str]], **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        offer(self, "person", [("", _("everybody")), *people])
        offer(self, "sort", [("", _("everything")), *subject_types()])
