"""Forms for a register: the file, and what the person says about it."""

from __future__ import annotations

from typing import Any

from django import forms
from django.http import QueryDict
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from orchard.records.models import HOSTS
from orchard.services.imports import Sheet
from orchard.services.imports.register import FIELDS, Choices
from orchard.web.pages.imports import carried
from orchard.web.pages.imports.carried import sheet_field


class Upload(forms.Form):
    file = sheet_field(
        _("The register: a CSV or XLSX file"), _("At most 2 MB and 5,000 rows.")
    )


def choices_in(sent: QueryDict, sheet: Sheet) -> Choices:
    """Return what the person chose and ticked; what makes no sense is not chosen."""
    mapping = tuple(
        field if (field := sent.get(f"column_{number}", "")) in FIELDS else ""
        for number in range(len(sheet.heads))
    )
    names = sent.getlist("kind_name")
    hosts = sent.getlist("kind_host")
    ticked = set(sent.getlist("new_kind"))
    kinds = tuple(
        (name[:80], host if host in HOSTS else "citrus")
        for name, host in zip(names, hosts, strict=False)
        if name in ticked
    )
    return Choices(
        mapping=mapping,
        day_first={"day": True, "month": False}.get(sent.get("order", "")),
        new_blocks=frozenset(code.lower() for code in sent.getlist("new_block")),
        new_spots=frozenset(code.lower() for code in sent.getlist("new_spots")),
        new_kinds=kinds,
    )


def mark_of(choices: Choices) -> str:
    """Return a short mark by which choices can be told to be the same."""
    return carried.mark_of(
        choices.mapping,
        choices.day_first,
        sorted(choices.new_blocks),
        sorted(choices.new_spots),
        choices.new_kinds,
    )


def packed(sheet: Sheet, salt: str) -> str:
    """Return a sheet signed and small, so that the form itself carries it."""
    return carried.packed(sheet, salt)


def unpacked(text: str, salt: str) -> Sheet | None:
    """Return the sheet of a form; None when it is a day old or was tampered with."""
    found = carried.unpacked(text, salt)
    return found[0] if found else None


def field_choices() -> list[tuple[str, Any]]:
    """Return what a column may be taken for."""
    return [
        ("", _now("left out")),
        *((field, label) for field, (label, _heads) in FIELDS.items()),
    ]
