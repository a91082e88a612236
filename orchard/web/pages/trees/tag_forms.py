"""The form that says which tags are printed, and on what."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from orchard.services.trees import BlockLine, TagChoice
from orchard.web.fields import ColumnOfChoices, offer

PAPERS = [("a4", "A4"), ("letter", "Letter")]
PER_PAGE = {"4": 4, "8": 8, "12": 12, "21": 21}


class TagsForm(forms.Form):
    """Which tags are printed, and on what."""

    which = forms.ChoiceField(
        label=_("Which trees?"),
        widget=ColumnOfChoices,
        initial="none",
        choices=[
            ("none", _("Trees without a tag")),
            ("blocks", _("Trees of these blocks")),
            ("codes", _("Trees with these codes")),
            ("all", _("All trees")),
        ],
    )
    blocks = forms.MultipleChoiceField(
        label=_("Blocks"), required=False, widget=forms.CheckboxSelectMultiple
    )
    codes = forms.CharField(
        label=_("Codes"),
        required=False,
        max_length=4000,
        help_text=_("Separated by spaces or commas."),
    )
    paper = forms.ChoiceField(
        label=_("Paper"),
        widget=forms.RadioSelect,
        choices=PAPERS,
    )
    per_page = forms.ChoiceField(
        label=_("Tags on one sheet"),
        widget=forms.RadioSelect,
        initial="8",
        choices=[(key, key) for key in PER_PAGE],
    )

    def __init__(self, *args: Any, blocks: list[BlockLine], **options: Any) -> None:
        super().__init__(*args, **options)
        named = [(block.code, f"{block.code} {block.name}") for block in blocks]
        offer(self, "blocks", named)

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        if given.get("which") == "blocks" and not given.get("blocks"):
            self.add_error("blocks", _("Tick at least one block."))
        if given.get("which") == "codes" and not given.get("codes", "").strip():
            self.add_error("codes", _("Write at least one code."))
        return given

    def choice(self) -> TagChoice:
        given = self.cleaned_data
        which = given["which"]
        return TagChoice(
            codes=given["codes"] if which == "codes" else "",
            blocks=tuple(given["blocks"]) if which == "blocks" else (),
            only_without=which == "none",
        )
