"""The columns of a register: what each holds and the headings it is known by."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

LEFT_OUT = ""

# What a column may hold, and the headings taken for it. Source: common practice.
FIELDS: dict[str, tuple[object, tuple[str, ...]]] = {
    "code": (
        gettext_lazy("code"),
        ("code", "tree code", "tree", "tree id", "id", "tag", "tree no", "tree number"),
    ),
    "kind": (
        gettext_lazy("cultivar"),
        ("cultivar", "variety", "kind", "cultivar name", "fruit", "scion"),
    ),
    "block": (gettext_lazy("block"), ("block", "row", "bed", "area", "part", "plot")),
    "spot": (
        gettext_lazy("spot"),
        ("spot", "place", "position", "spot number", "spot no", "location"),
    ),
    "rootstock": (gettext_lazy("rootstock"), ("rootstock", "stock", "root stock")),
    "planted_on": (
        gettext_lazy("planted on"),
        ("planted", "planted on", "date planted", "planting date", "plant date"),
    ),
    "born_on": (
        gettext_lazy("grafted or sown on"),
        ("grafted", "grafted on", "grafted or sown on", "sown", "sown on", "budded"),
    ),
    "container": (
        gettext_lazy("container, litres"),
        ("container", "container litres", "container, litres", "pot", "pot size",
         "container size", "litres", "container volume"),
    ),
    "label_name": (
        gettext_lazy("name on the label"),
        ("name on the label", "label", "label name", "sold as"),
    ),
    "believed": (
        gettext_lazy("cultivar only believed to be"),
        ("believed", "believed to be", "cultivar only believed to be", "uncertain"),
    ),
    "irrigated": (
        gettext_lazy("on drip irrigation"),
        ("irrigated", "drip", "on drip irrigation", "dripper"),
    ),
    "note": (gettext_lazy("note"), ("note", "notes", "remark", "remarks", "comment")),
}  # fmt: skip
REQUIRED = ("code", "kind", "spot")


@dataclass(frozen=True, slots=True)
class Column:
    """One column of the file: its heading, an example, and what it is taken for."""

    number: int
    heading: str
    example: str
    field: str


def columns_for(heads: Sequence[str]) -> tuple[str, ...]:
    """Return what each heading is taken for; a heading nobody knows is left out."""
    fields = {
        head: field for field, (_label, heads) in FIELDS.items() for head in heads
    }
    taken: list[str] = []
    for head in heads:
        plain = re.sub(r"[^\w,]+", " ", head.casefold()).strip()
        field = fields.get(plain, LEFT_OUT)
        taken.append(field if field not in taken else LEFT_OUT)
    return tuple(taken)


def problems_with(mapping: Sequence[str]) -> list[str]:
    """Say what is wrong with a choice of columns; nothing when it will do."""
    problems = []
    missing = [field for field in REQUIRED if field not in mapping]
    if missing:
        names = ", ".join(str(FIELDS[field][0]) for field in missing)
        problems.append(
            _(
                "No column is taken for: %(names)s. Say below which column holds it, "
                "or add it to the file."
            )
            % {"names": names}
        )
    for field in FIELDS:
        if list(mapping).count(field) > 1:
            problems.append(
                _("Two columns are taken for “%(name)s”. Leave one of them out.")
                % {"name": FIELDS[field][0]}
            )
    return problems
