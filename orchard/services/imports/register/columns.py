"""The columns of a register: what each holds and the headings it is known by."""

from __future__ import annotations

import re
from collections.abc import Sequence

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from orchard.services.imports.sheets import Field, fields_matched, taken_twice

# What a column may hold, and the headings taken for it. Source: common practice.
FIELDS: dict[str, Field] = {
    "code": Field(
        gettext_lazy("code"),
        ("code", "tree code", "tree", "tree id", "id", "tag", "tree no", "tree number"),
    ),
    "kind": Field(
        gettext_lazy("cultivar"),
        ("cultivar", "variety", "kind", "cultivar name", "fruit", "scion"),
    ),
    "block": Field(
        gettext_lazy("block"), ("block", "row", "bed", "area", "part", "plot"),
    ),
    "spot": Field(
        gettext_lazy("spot"),
        ("spot", "place", "position", "spot number", "spot no", "location"),
    ),
    "rootstock": Field(
        gettext_lazy("rootstock"), ("rootstock", "stock", "root stock"),
    ),
    "planted_on": Field(
        gettext_lazy("planted on"),
        ("planted", "planted on", "date planted", "planting date", "plant date"),
    ),
    "born_on": Field(
        gettext_lazy("grafted or sown on"),
        ("grafted", "grafted on", "grafted or sown on", "sown", "sown on", "budded"),
    ),
    "container": Field(
        gettext_lazy("container"),
        ("container", "container litres", "container, litres", "pot", "pot size",
         "container size", "litres", "container volume"),
    ),
    "label_name": Field(
        gettext_lazy("name on the label"),
        ("name on the label", "label", "label name", "sold as"),
    ),
    "believed": Field(
        gettext_lazy("cultivar only believed to be"),
        ("believed", "believed to be", "cultivar only believed to be", "uncertain"),
    ),
    "irrigated": Field(
        gettext_lazy("on drip irrigation"),
        ("irrigated", "drip", "on drip irrigation", "dripper"),
    ),
    "note": Field(
        gettext_lazy("note"), ("note", "notes", "remark", "remarks", "comment"),
    ),
}  # fmt: skip
REQUIRED = ("code", "kind", "spot")


def mapping_of(headings: Sequence[str]) -> tuple[str, ...]:
    """Return what each heading is taken for; a heading nobody knows is left out."""
    return fields_matched(headings, FIELDS, _spellings)


def count_recognised(cells: Sequence[str]) -> int:
    """Count the cells of a row that are headings of a register."""
    return sum(map(bool, mapping_of(cells)))


def _spellings(heading: str) -> tuple[str, ...]:
    return (re.sub(r"[^\w,]+", " ", heading.casefold()).strip(),)


def problems_with(mapping: Sequence[str]) -> list[str]:
    """Say what is wrong with a choice of columns; nothing when it will do."""
    problems = []
    missing = [field for field in REQUIRED if field not in mapping]
    if missing:
        names = ", ".join(str(FIELDS[field].label) for field in missing)
        problems.append(
            _(
                "No column found for: %(names)s. Choose below which column holds it, "
                "or add it to the file."
            )
            % {"names": names}
        )
    return [*problems, *taken_twice(mapping, FIELDS)]
