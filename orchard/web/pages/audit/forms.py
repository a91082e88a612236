"""What to show of the ledger."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from orchard.services.audit import subject_types
from orchard.web.fields import day_field, offer


class LedgerFilterForm(forms.Form):
    person = forms.TypedChoiceField(
        label=_("Person"), required=False, coerce=int, empty_value=None
    )
    sort = forms.ChoiceField(label=_("About"), required=False)
    tree = forms.CharField(label=_("Tree's code"), required=False, max_length=24)
    first_day = day_field(_("From"), required=False)
    last_day = day_field(_("To"), required=False)

    def __init__(
        self, *args: Any, people: list[tuple[int, str]], **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        offer(self, "person", [("", _("everyone")), *people])
        offer(self, "sort", [("", _("everything")), *subject_types()])

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        first, last = cleaned.get("first_day"), cleaned.get("last_day")
        if first and last and last < first:
            self.add_error("last_day", _("This day is before the first one."))
        return cleaned
