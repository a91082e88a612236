"""How it is computed: the formulas of a release, read from one file made with it."""

from __future__ import annotations

import importlib
import json
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

SCIENCE = "orchard.science"
# Written by `manage.py write_formulas`, so that no server reads code or tests.
FORMULAS_FILE = Path(__file__).with_name("formulas.json")
# In the order in which an orchard meets them.
CHAPTERS: tuple[tuple[Promise | str, tuple[str, ...]], ...] = (
    (_("Frost night"), ("frost.harm", "frost.night", "weather.air")),
    (_("Heat units"), ("heat",)),
    (
        _("Water"),
        ("weather.evapotranspiration", "weather.radiation", "water.need",
         "water.root_zone", "water.containers"),
    ),
    (_("Sun"), ("sun.hours", "sun.ephemeris")),
    (
        _("Verdicts and due days"),
        (
            "verdict.judging",
            "windows.seasons",
            "windows.recurrence",
            "windows.measured",
            "windows.rhythm",
        ),
    ),
    (_("Looking and counting"), ("sampling", "progress", "trend", "agreement")),
    (_("Holds"), ("holds",)),
    (
        _("Ripeness and feeding"),
        ("ripeness.standards", "ripeness.readiness", "ripeness.juice", "feeding"),
    ),
    (_("Volumes and units"), ("volumes", "units")),
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Check:
    """One test a formula passes: as a sentence, and what it is compared with."""

    sentence: str
    against: str = ""
    by_library: bool = False


@dataclass(frozen=True, slots=True)
class Formula:
    """One formula: what it answers, its arguments, its source, its checks."""

    name: str
    anchor: str
    summary: str
    parts: tuple[tuple[str, str], ...] = ()
    source: str = ""
    checks: tuple[Check, ...] = ()


@dataclass(frozen=True, slots=True)
class Chapter:
    """Formulas that belong together."""

    title: Promise | str
    formulas: tuple[Formula, ...]


def anchor_of(law: str) -> str:
    """Return where a formula stands on the page, by the name callers use."""
    room, _dot, name = law.rpartition(".")
    try:
        formula = getattr(importlib.import_module(f"{SCIENCE}.{room}"), name)
    except (ImportError, AttributeError):
        return ""
    return formula_anchor(formula.__module__, formula.__name__)


def formula_anchor(module: str, function: str) -> str:
    """Return where a formula stands on the page, by its module and name."""
    return f"{module.rpartition('.')[2]}-{function}"


@lru_cache(maxsize=1)
def chapters() -> tuple[Chapter, ...]:
    """Read all formulas and their checks, once for each process."""
    modules = json.loads(FORMULAS_FILE.read_text(encoding="utf-8"))
    return tuple(
        Chapter(
            title,
            tuple(_formula(row) for name in names for row in modules[name]),
        )
        for title, names in CHAPTERS
    )


def _formula(row: dict[str, Any]) -> Formula:
    return Formula(
        name=row["name"],
        anchor=row["anchor"],
        summary=row["summary"],
        parts=tuple((title, text) for title, text in row.get("parts", ())),
        source=row.get("source", ""),
        checks=tuple(Check(**check) for check in row.get("checks", ())),
    )
