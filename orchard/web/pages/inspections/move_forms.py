"""A look on the wrong tree: which is the right one, and why it is moved."""

from __future__ import annotations

from collections.abc import Iterable

from django import forms
from django.http import QueryDict
from django.utils.translation import gettext_lazy as _

from orchard.records.models import Tree
from orchard.web.fields import ColumnOfChoices, offer


class MoveForm(forms.Form):
    near = forms.ChoiceField(
        label=_("A tree beside it"), required=False, widget=ColumnOfChoices
    )
    tree = forms.CharField(
        label=_("Or the code of another tree"),
        required=False,
        max_length=24,
        widget=forms.TextInput(attrs={"autocapitalize": "characters"}),
    )
    reason = forms.CharField(
        label=_("Why"),
        help_text=_("One sentence, such as: the tag beside it was scanned."),
        max_length=500,
        error_messages={"required": _("Say why, so that the next reader understands.")},
    )

    @classmethod
    def with_neighbours(
        cls, trees: Iterable[Tree], data: QueryDict | None = None
    ) -> MoveForm:
        """Return the form with the trees that a tag is most easily mistaken for."""
        form = cls(data)
        near = [(tree.code, f"{tree.code} {tree.kind.name}") for tree in trees]
        offer(form, "near", near)
        if not near:
            del form.fields["near"]
        return form

    @property
    def code(self) -> str:
        """Return the code of the tree meant; what is typed counts before a tile."""
        cleaned = self.cleaned_data
        return str(cleaned["tree"].strip() or cleaned.get("near", ""))
