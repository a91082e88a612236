"""The pages of every import: a file is sent, looked through, taken in."""

from __future__ import annotations

import hashlib
from abc import ABC, abstractmethod
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import fields, replace
from typing import Any, ClassVar, Generic, TypeVar

from django import forms
from django.core import signing
from django.core.files.uploadedfile import UploadedFile
from django.http import HttpResponse, QueryDict
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from orchard.services.errors import Refused
from orchard.services.imports.sheets import (
    LEFT_OUT,
    ROWS_LOOKED_AT,
    Line,
    Sheet,
    SheetChoices,
    SheetPreview,
    carried_over,
    numbers_in,
    read_sheet,
    span_of,
    with_headings_in,
)
from orchard.web import answers
from orchard.web.requests import OrchardRequest

A_DAY = 60 * 60 * 24
# No file has so many rows, empty ones and all.
MOST_NUMBER = 100_000
# Rows left out that have a tick each; the rest has one.
MOST_TICKS = 20
SUFFIXES = ".csv,.tsv,.txt,.xlsx"
ChoicesT = TypeVar("ChoicesT", bound=SheetChoices)
PreviewT = TypeVar("PreviewT", bound=SheetPreview[Any, Any, Any])


def sheet_field(label: Any, help_text: Any) -> forms.FileField:
    """Return a field for a CSV or XLSX file; what is in it is read elsewhere."""
    return forms.FileField(
        label=label,
        help_text=help_text,
        allow_empty_file=True,
        widget=forms.FileInput(attrs={"accept": SUFFIXES}),
        error_messages={"required": gettext_lazy("Choose a file first.")},
    )


class SheetPages(ABC, Generic[ChoicesT, PreviewT]):
    """The steps of an import for a request; an import says what it does in each.

    Nothing is stored in between: the preview's own form carries the sheet along, signed
    and small, with what was given beside it (`about`).
    """

    name: ClassVar[str]
    leads_to: ClassVar[str]
    most_rows: ClassVar[int]
    choices_class: type[ChoicesT]

    def __init__(self, request: OrchardRequest) -> None:
        self.request = request

    @property
    @abstractmethod
    def example(self) -> tuple[tuple[str, ...], ...]:
        """The first rows of a file as it may look."""

    @abstractmethod
    def upload_form(self, *data: Any) -> forms.Form:
        """Return the form that a file is sent with; its field is `file`."""

    def about(self, form: forms.Form) -> dict[str, str]:
        """Return what was given beside the file, by the valid form."""
        return {}

    @abstractmethod
    def field_labels(self, about: dict[str, str]) -> Mapping[str, object]:
        """Return what a column may be taken for, by code, with its name."""

    @abstractmethod
    def count_recognised(self, cells: Sequence[str], about: dict[str, str]) -> int:
        """Count the cells of a row that are headings of this import."""

    @abstractmethod
    def choices_in(
        self, sent: QueryDict, sheet: Sheet, about: dict[str, str]
    ) -> ChoicesT:
        """Return what the person chose and ticked; the rest is not chosen."""

    @abstractmethod
    def preview(
        self, sheet: Sheet, about: dict[str, str], choices: ChoicesT
    ) -> PreviewT:
        """Look through the sheet, and write nothing."""

    def shown_choices(self, preview: PreviewT, choices: ChoicesT) -> ChoicesT:
        """Return the choices that the form of this preview sends, if left as it is."""
        return replace(choices, mapping=preview.mapping, left_out=preview.rows_left_out)

    def details(self, preview: PreviewT) -> dict[str, Any]:
        """Return what the template of this import shows besides."""
        return {}

    @abstractmethod
    def take_in(self, sheet: Sheet, about: dict[str, str], choices: ChoicesT) -> str:
        """Take the sheet in, and return what to tell the person."""

    def answer(self) -> HttpResponse:
        """Answer the request, whichever step it is."""
        request = self.request
        if request.method != "POST":
            context = self._upload_context(self.upload_form())
            return render(request, self._template("upload"), context)
        if "sheet" in request.POST:
            return self._answer_preview()
        form = self.upload_form(request.POST, request.FILES)
        if form.is_valid():
            about = self.about(form)
            with answers.refusals(form):
                sheet = self._read(form.cleaned_data["file"], about)
                return self._show(sheet, about, self.choices_class())
        return self._refused_upload(form)

    def _answer_preview(self) -> HttpResponse:
        """Look again with what was chosen, or take in what was shown."""
        sent = self.request.POST
        carried = self._unpacked(sent["sheet"])
        if carried is None:
            text = _(
                "The page with the file is older than a day, or damaged. Send it again."
            )
            return self._refused_upload(self.upload_form(), refusal=text)
        sheet, about = carried
        choices = self.choices_in(sent, sheet, about)
        try:
            if mended := self.request.FILES.get("mended"):
                newer = self._read(mended, about)
                choices = carried_over(choices, sheet, newer)
                return self._show(newer, about, choices)
            if heading_row := self._other_heading_row(sheet):
                sheet = with_headings_in(sheet, heading_row)
                choices = replace(choices, mapping=None, left_out=None)
                return self._show(sheet, about, choices)
        except Refused as refusal:
            return self._show(sheet, about, choices, refusal=str(refusal))
        if sent.get("step") != "take":
            return self._show(sheet, about, choices)
        if sent.get("mark") != mark_of(choices):
            text = _("You changed something above. This is the new preview.")
            return self._show(sheet, about, choices, refusal=text)
        try:
            summary = self.take_in(sheet, about, choices)
        except Refused as refusal:
            return self._show(sheet, about, choices, refusal=str(refusal))
        slug = self.request.orchard.slug
        return answers.done(self.request, summary, to=self.leads_to, orchard=slug)

    def _read(self, file: UploadedFile[Any], about: dict[str, str]) -> Sheet:
        return read_sheet(
            file,
            file.name or "",
            most_rows=self.most_rows,
            recognise=lambda cells: self.count_recognised(cells, about),
        )

    def _other_heading_row(self, sheet: Sheet) -> int | None:
        """Return the row that the person takes the headings from, if it is another."""
        chosen = self.request.POST.get("heading_row", "")
        if not chosen.isdecimal() or int(chosen) == sheet.heading_row:
            return None
        return int(chosen)

    def _show(
        self, sheet: Sheet, about: dict[str, str], choices: ChoicesT, refusal: str = ""
    ) -> HttpResponse:
        preview = self.preview(sheet, about, choices)
        labels = self.field_labels(about)
        context = {
            "preview": preview,
            "sheet": sheet,
            "packed": self._packed(sheet, about),
            "mark": mark_of(self.shown_choices(preview, choices)),
            "choices": choices,
            "suffixes": SUFFIXES,
            "heading_rows": _as_text(sheet.lines[:ROWS_LOOKED_AT]),
            "left_out": _as_text(preview.left_out[:MOST_TICKS]),
            "more_left_out": span_of(
                number for number, _cells in preview.left_out[MOST_TICKS:]
            ),
            "count_more": len(preview.left_out[MOST_TICKS:]),
            "fields": [(LEFT_OUT, _("left out")), *labels.items()],
            "refusal": refusal,
            "back_url": self._back_url,
            **self.details(preview),
        }
        return render(
            self.request,
            self._template("preview"),
            context,
            status=422 if refusal else 200,
        )

    def _refused_upload(self, form: forms.Form, refusal: str = "") -> HttpResponse:
        context = self._upload_context(form) | {"refusal": refusal}
        return answers.refused_page(self.request, self._template("upload"), context)

    def _upload_context(self, form: forms.Form) -> dict[str, Any]:
        own = {"form": form, "example": self.example}
        return own | {"back_url": self._back_url}

    def _template(self, step: str) -> str:
        return f"imports/{self.name}_{step}.html"

    @property
    def _back_url(self) -> str:
        return reverse(self.leads_to, args=[self.request.orchard.slug])

    @property
    def _salt(self) -> str:
        return f"{self.name}:{self.request.orchard.pk}:{self.request.user.pk}"

    def _packed(self, sheet: Sheet, about: dict[str, str]) -> str:
        plain = [sheet.packed(), about]
        return signing.dumps(plain, salt=self._salt, compress=True)

    def _unpacked(self, text: str) -> tuple[Sheet, dict[str, str]] | None:
        """Return what a form carried; None when it is a day old or tampered with."""
        try:
            plain, about = signing.loads(text, salt=self._salt, max_age=A_DAY)
        except signing.BadSignature:
            return None
        return Sheet.unpacked(plain), about


def mapping_in(
    sent: QueryDict, sheet: Sheet, labels: Mapping[str, object]
) -> tuple[str, ...]:
    """Return what the person takes each column for; what is no field is left out."""
    return tuple(
        code if (code := sent.get(f"column_{number}", "")) in labels else LEFT_OUT
        for number in range(len(sheet.headings))
    )


def day_first_in(sent: QueryDict) -> bool | None:
    """Return whether the day comes first in 03/04/2021; None while nobody chose."""
    return {"day": True, "month": False}.get(sent.get("order", ""))


def _as_text(lines: Iterable[Line]) -> list[tuple[int, str]]:
    return [(number, " · ".join(filter(None, cells))) for number, cells in lines]


def left_out_in(sent: QueryDict) -> frozenset[int]:
    """Return the numbers of the rows that the person leaves out."""
    return numbers_in(" ".join(sent.getlist("left_out")), most=MOST_NUMBER)


def mark_of(choices: SheetChoices) -> str:
    """Return a short mark by which choices can be told to be the same."""
    plain = [_ordered(getattr(choices, field.name)) for field in fields(choices)]
    return hashlib.sha256(repr(plain).encode()).hexdigest()[:16]


def _ordered(value: Any) -> Any:
    if isinstance(value, Mapping):
        return sorted(value.items())
    return sorted(value) if isinstance(value, frozenset) else value
