"""A day of which only the year may be known, written as it is known."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

from django.utils.formats import date_format
from django.utils.translation import gettext as _

from orchard.records.models import Tree


def write_day(day: date, precision: str, day_format: str = "j M Y") -> str:
    """Write a day of a tree's beginning: only its year where no more is known."""
    if precision == Tree.Precision.YEAR:
        return str(day.year)
    return date_format(day, day_format)


def year_alone(values: Mapping[str, Any], name: str) -> str:
    """Return the year of a day noted in the ledger with its precision; "" for a day."""
    precision = values.get(f"{name.removesuffix('_on')}_precision")
    is_year = name.endswith("_on") and precision == Tree.Precision.YEAR
    return str(values.get(name) or "")[:4] if is_year else ""


def when_planted(tree: Tree) -> str:
    """Write when a tree that has a planting day was planted: "on 3 Apr 2015"."""
    if tree.planted_on is None:
        raise ValueError(f"tree {tree.code} has no planting day")
    if tree.planted_precision == Tree.Precision.YEAR:
        return _("in %(year)d") % {"year": tree.planted_on.year}
    return on_day(tree.planted_on)


def on_day(day: date) -> str:
    """Write a day as a sentence takes it."""
    return _("on %(day)s") % {"day": date_format(day, "j M Y")}
