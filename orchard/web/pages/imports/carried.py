"""A table carried by a form: signed and small, so that nothing is kept in between."""

from __future__ import annotations

import hashlib
from typing import Any

from django import forms
from django.core import signing
from django.utils.translation import gettext_lazy as _

from orchard.services.imports import Sheet

A_DAY = 60 * 60 * 24
SHEETS = ".csv,.tsv,.txt,.xlsx"


def sheet_field(label: Any, help_text: Any) -> forms.FileField:
    """Return a field for a CSV or XLSX file; what is in it is read elsewhere."""
    return forms.FileField(
        label=label,
        help_text=help_text,
        allow_empty_file=True,
        widget=forms.FileInput(attrs={"accept": SHEETS}),
        error_messages={"required": _("Choose a file first.")},
    )


def packed(sheet: Sheet, salt: str, about: Any = None) -> str:
    """Return a sheet, and what was said about it, signed and small."""
    return signing.dumps([sheet.packed(), about], salt=salt, compress=True)


def unpacked(text: str, salt: str) -> tuple[Sheet, Any] | None:
    """Return the sheet of a form; None when it is a day old or was tampered with."""
    try:
        plain, about = signing.loads(text, salt=salt, max_age=A_DAY)
    except signing.BadSignature:
        return None
    return Sheet.unpacked(plain), about


def mark_of(*chosen: Any) -> str:
    """Return a short mark by which what was chosen can be told to be the same."""
    return hashlib.sha256(repr(chosen).encode()).hexdigest()[:16]
