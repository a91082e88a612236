"""Forms for a register: the file, and what the person says about it."""

from __future__ import annotations

from django import forms
from django.http import QueryDict
from django.utils.translation import gettext_lazy as _

from orchard.records.models import HOSTS
from orchard.services.imports.register import FIELDS, RegisterChoices
from orchard.services.imports.sheets import Sheet
from orchard.web.pages.imports.sheets import (
    day_first_in,
    left_out_in,
    mapping_in,
    sheet_field,
)


class RegisterUploadForm(forms.Form):
    file = sheet_field(
        _("The register: a CSV or XLSX file"), _("At most 2 MB and 5,000 rows.")
    )


def choices_in(sent: QueryDict, sheet: Sheet) -> RegisterChoices:
    """Return what the person chose and ticked; what makes no sense is not chosen."""
    names = sent.getlist("kind_name")
    hosts = sent.getlist("kind_host")
    ticked = set(sent.getlist("new_kind"))
    kinds = tuple(
        (name[:80], host if host in HOSTS else "citrus")
        for name, host in zip(names, hosts, strict=False)
        if name in ticked
    )
    return RegisterChoices(
        mapping=mapping_in(sent, sheet, FIELDS),
        day_first=day_first_in(sent),
        left_out=left_out_in(sent),
        # One tick is for several blocks.
        new_blocks=frozenset(" ".join(sent.getlist("new_block")).lower().split()),
        new_spots=frozenset(code.lower() for code in sent.getlist("new_spots")),
        new_kinds=kinds,
    )
