"""A register of trees: sent, looked through, taken in; and an example of one."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from typing import Any

from django import forms
from django.http import HttpResponse, QueryDict
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods, require_safe

from orchard.services.imports import register
from orchard.services.imports.register import (
    FIELDS,
    ImportedTrees,
    RegisterChoices,
    RegisterPreview,
)
from orchard.services.imports.sheets import MOST_ROWS, Sheet, labels
from orchard.services.permissions import Deed
from orchard.web.doorkeeper import door
from orchard.web.pages import trees
from orchard.web.pages.imports import register_forms
from orchard.web.pages.imports.sheets import SheetPages
from orchard.web.requests import OrchardRequest

EXAMPLE = (
    ("code", "cultivar", "block", "spot", "rootstock", "planted", "container",
     "believed to be", "note"),
    ("A-1", "Washington navel", "A", "1", "Carrizo / Troyer citrange", "2018-04-12",
     "", "no", ""),
    ("A-2", "Owari satsuma", "A", "2", "Trifoliate orange", "2019-03-30", "", "no",
     "reaches over the path"),
    ("A-3", "Valencia", "A", "3", "", "", "", "yes", "label lost"),
    ("P-1", "Meiwa kumquat", "P", "1", "Flying Dragon", "2023-05-06", "57 L", "no", ""),
    ("P-2", "Makrut lime", "P", "2", "own roots", "2024-04-20", "38 L", "no", ""),
)  # fmt: skip


class RegisterPages(SheetPages[RegisterChoices, RegisterPreview]):
    """The steps of taking in a register."""

    name = "register"
    leads_to = "trees"
    most_rows = MOST_ROWS
    choices_class = RegisterChoices

    @property
    def example(self) -> tuple[tuple[str, ...], ...]:
        return EXAMPLE

    def upload_form(self, *data: Any) -> forms.Form:
        return register_forms.RegisterUploadForm(*data)

    def field_labels(self, about: dict[str, str]) -> dict[str, object]:
        return labels(FIELDS)

    def count_recognised(self, cells: Sequence[str], about: dict[str, str]) -> int:
        return register.count_recognised(cells)

    def choices_in(
        self, sent: QueryDict, sheet: Sheet, about: dict[str, str]
    ) -> RegisterChoices:
        return register_forms.choices_in(sent, sheet)

    def preview(
        self, sheet: Sheet, about: dict[str, str], choices: RegisterChoices
    ) -> RegisterPreview:
        request = self.request
        return register.preview(
            request.orchard, sheet, today=request.today, choices=choices
        )

    def details(self, preview: RegisterPreview) -> dict[str, Any]:
        own = {row.number for row in preview.remarkable}
        rows = [row for row in preview.rows if not row.reasons or row.number in own]
        return {"hosts": trees.HOST_WORDS, "rows": rows}

    def take_in(
        self, sheet: Sheet, about: dict[str, str], choices: RegisterChoices
    ) -> str:
        taken = register.import_trees(
            self.request.orchard,
            sheet,
            by=self.request.user,
            now=self.request.now,
            today=self.request.today,
            choices=choices,
        )
        return _summary(taken)


@require_http_methods(["GET", "HEAD", "POST"])
@door(Deed.KEEP_REGISTER)
def import_trees(request: OrchardRequest) -> HttpResponse:
    return RegisterPages(request).answer()


def _summary(taken: ImportedTrees) -> str:
    text = ngettext("%(count)d tree is new.", "%(count)d trees are new.", taken.trees)
    parts = [text % {"count": taken.trees}]
    if taken.here:
        text = ngettext(
            "%(count)d was here already.", "%(count)d were here already.", taken.here
        )
        parts.append(text % {"count": taken.here})
    return " ".join(parts)


@require_safe
@door(Deed.KEEP_REGISTER)
def example_register(request: OrchardRequest) -> HttpResponse:
    text = io.StringIO(newline="")
    csv.writer(text).writerows(EXAMPLE)
    # The mark at the start tells spreadsheet programs that this is UTF-8.
    return HttpResponse(
        text.getvalue().encode("utf-8-sig"),
        content_type="text/csv; charset=utf-8",
        headers={"Content-Disposition": 'attachment; filename="register-example.csv"'},
    )
