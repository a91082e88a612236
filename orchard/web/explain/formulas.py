"""How it is computed: questions and formulas in words, with sources and checks.

The words stand in `formulas.toml`. Sources and checks stand in `formulas.json`, which
`manage.py write_formulas` writes, so that no server reads code or tests.
"""

from __future__ import annotations

import importlib
import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

from orchard.science.figures import Figure, all_figures
from orchard.science.guide_files import Fault, GuideError, Row, read_rows

SCIENCE = "orchard.science"
FORMULAS_FILE = Path(__file__).with_name("formulas.json")
WORDS_FILE = "formulas.toml"


@dataclass(frozen=True, slots=True)
class Check:
    """One test a formula passes: as a sentence, and what it is compared with."""

    sentence: str
    against: str = ""
    by_library: bool = False


@dataclass(frozen=True, slots=True)
class Formula:
    """What code and tests say of one function: its source and its checks."""

    source: str = ""
    checks: tuple[Check, ...] = ()


@dataclass(frozen=True, slots=True)
class FormulaInput:
    """One thing that goes into a formula, its unit, and where the app has it from."""

    name: str
    unit: str
    origin: str


@dataclass(frozen=True, slots=True)
class Explanation:
    """One question with its answer, its formula, what goes in, sources and checks."""

    key: str
    question: str
    answer: str
    formula: tuple[str, ...]
    inputs: tuple[FormulaInput, ...]
    sources: tuple[str, ...]
    checks: tuple[Check, ...]
    note: str
    in_use: bool

    @property
    def sourced_checks(self) -> tuple[Check, ...]:
        """Return the checks against something of another's making."""
        return tuple(
            check for check in self.checks if check.against or check.by_library
        )

    @property
    def other_checks(self) -> tuple[Check, ...]:
        """Return what always holds, whatever the numbers are."""
        return tuple(
            check for check in self.checks if not (check.against or check.by_library)
        )


@dataclass(frozen=True, slots=True)
class Chapter:
    """Explanations that belong together, and the figures they work with."""

    title: str
    explanations: tuple[Explanation, ...]
    figures: tuple[Figure, ...]


@dataclass(frozen=True, slots=True)
class Explained:
    """The whole page, and which question each function belongs to."""

    chapters: tuple[Chapter, ...]
    other_figures: tuple[Figure, ...]
    keys: Mapping[str, str]


def anchor_of(law: str) -> str:
    """Return where a formula is explained, by the name callers use."""
    room, _dot, name = law.rpartition(".")
    try:
        formula = getattr(importlib.import_module(f"{SCIENCE}.{room}"), name)
    except (ImportError, AttributeError):
        return ""
    return explained().keys.get(formula_name(formula.__module__, formula.__name__), "")


def formula_name(module: str, function: str) -> str:
    """Return the name of a function below the science floor."""
    return f"{module.removeprefix(f'{SCIENCE}.')}.{function}"


@lru_cache(maxsize=1)
def explained() -> Explained:
    """Read the page once for each process; GuideError lists all that is wrong."""
    formulas = json.loads(FORMULAS_FILE.read_text(encoding="utf-8"))
    return read_explained(
        Path(__file__).parent,
        {name: _formula(row) for name, row in formulas.items()},
    )


def _formula(row: dict[str, Any]) -> Formula:
    return Formula(
        source=row.get("source", ""),
        checks=tuple(Check(**check) for check in row.get("checks", ())),
    )


def read_explained(folder: Path, formulas: Mapping[str, Formula]) -> Explained:
    """Read the words of a folder; GuideError lists all their faults."""
    faults: list[Fault] = []
    rows = read_rows(folder, WORDS_FILE, ("chapter", "entry"), faults) or {}
    chapter_rows, entry_rows = rows.get("chapter", []), rows.get("entry", [])
    titles = _titles(chapter_rows)
    owners = _owners(entry_rows, formulas)
    found: dict[str, list[Explanation]] = {key: [] for key in titles}
    for row in entry_rows:
        own = [name for name, owner in owners.items() if owner == row.text("key")]
        chapter, explanation = _explanation(row, titles, formulas, own)
        found.setdefault(chapter, []).append(explanation)
        row.finish()
    figures, others = _figures(chapter_rows)
    for row in chapter_rows:
        row.finish()
    faults += [
        Fault("no entry explains it; name it in one.", WORDS_FILE, row=name)
        for name in formulas
        if name not in owners
    ]
    if faults:
        raise GuideError(faults)
    return Explained(
        chapters=tuple(
            Chapter(title, tuple(found[key]), figures[key])
            for key, title in titles.items()
        ),
        other_figures=others,
        keys=owners,
    )


def _titles(rows: Iterable[Row]) -> dict[str, str]:
    titles: dict[str, str] = {}
    for row in rows:
        key = row.text("key")
        if key in titles:
            row.note_fault("key", f"{key!r} stands here twice; give one another key.")
        titles[key] = row.text("title")
    return titles


def _owners(rows: Iterable[Row], formulas: Mapping[str, Formula]) -> dict[str, str]:
    """Return the entry of each function; a name of its own beats its whole module."""
    by_name: dict[str, str] = {}
    by_module: dict[str, str] = {}
    keys: set[str] = set()
    for row in rows:
        key = row.text("key")
        if key in keys:
            row.note_fault("key", f"{key!r} stands here twice; give one another key.")
        keys.add(key)
        for name in row.texts("explains"):
            below = [full for full in formulas if full.rpartition(".")[0] == name]
            place = by_name if name in formulas else by_module
            if name not in formulas and not below:
                row.note_fault("explains", f"{name!r} is no formula or module of them.")
            if name in place:
                row.note_fault(
                    "explains", f"{name!r} is explained twice; name it once."
                )
            place[name] = key
    modules = {
        name: by_module[name.rpartition(".")[0]]
        for name in formulas
        if name.rpartition(".")[0] in by_module
    }
    return modules | {name: key for name, key in by_name.items() if name in formulas}


def _explanation(
    row: Row,
    titles: Mapping[str, str],
    formulas: Mapping[str, Formula],
    own: Sequence[str],
) -> tuple[str, Explanation]:
    inputs = []
    for part in row.rows("input", "input"):
        inputs.append(
            FormulaInput(part.text("name"), part.text("unit", ""), part.text("from"))
        )
        part.finish()
    if not inputs:
        row.note_fault("input", "nothing goes in; name what does.")
    sources = []
    for name in row.texts("source_of"):
        source = formulas.get(name, Formula()).source
        if not source:
            row.note_fault("source_of", f"{name!r} has no source in its docstring.")
        sources.append(source)
    note = row.text("note", "")
    if not sources and not note:
        row.note_fault("source_of", "it is empty; say in `note` where sources are.")
    checks = {check for name in own for check in formulas[name].checks}
    explanation = Explanation(
        key=row.text("key"),
        question=row.text("question"),
        answer=row.text("answer"),
        formula=row.texts("formula"),
        inputs=tuple(inputs),
        sources=tuple(dict.fromkeys(sources)),
        checks=tuple(
            sorted(
                checks,
                key=lambda check: (not check.against, check.by_library, check.sentence),
            )
        ),
        note=note,
        in_use=row.truth("in_use", default=True),
    )
    return row.key("chapter", titles, WORDS_FILE), explanation


def _figures(
    rows: Iterable[Row],
) -> tuple[dict[str, tuple[Figure, ...]], tuple[Figure, ...]]:
    """Give each figure to the chapter that names the longest beginning of its key."""
    beginnings = {
        beginning: row.text("key") for row in rows for beginning in row.texts("figures")
    }
    found: dict[str, list[Figure]] = {row.text("key"): [] for row in rows}
    others: list[Figure] = []
    used: set[str] = set()
    for figure in all_figures():
        fits = [start for start in beginnings if figure.key.startswith(start)]
        if fits:
            best = max(fits, key=len)
            used.add(best)
            found[beginnings[best]].append(figure)
        else:
            others.append(figure)
    for row in rows:
        for beginning in row.texts("figures"):
            if beginning not in used:
                row.note_fault("figures", f"no figure begins with {beginning!r}.")
    return {key: tuple(figures) for key, figures in found.items()}, tuple(others)
