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


def write_when(day: date, precision: str = Tree.Precision.DAY) -> str:
    """Write such a day as a sentence takes it: "on 3 Apr 2015", "in 2015"."""
    day_or_year = {"day": write_day(day, precision)}
    if precision == Tree.Precision.YEAR:
        return _("in %(day)s") % day_or_year
    return _("on %(day)s") % day_or_year


def when_planted(tree: Tree) -> str:
    """Write when a tree that has a planting day was planted."""
    if tree.planted_on is None:
        raise ValueError(f"tree {tree.code} has no planting day")
    return write_when(tree.planted_on, tree.planted_precision)
