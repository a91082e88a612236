"""How it is computed: each formula as its own docstring and its own tests tell it."""

from __future__ import annotations

import ast
import importlib
import inspect
import re
from collections import defaultdict
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

from django.conf import settings
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

ROOM = "orchard.science"
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
    """One test a formula passes: as a sentence, and what it is held against."""

    sentence: str
    against: str
    by_library: bool


@dataclass(frozen=True, slots=True)
class Formula:
    """One formula: what it answers, its arguments, its source, its checks."""

    name: str
    anchor: str
    summary: str
    parts: tuple[tuple[str, str], ...]
    source: str
    checks: tuple[Check, ...]


@dataclass(frozen=True, slots=True)
class Chapter:
    """Formulas that belong together."""

    title: Promise | str
    formulas: tuple[Formula, ...]


def anchor_of(law: str) -> str:
    """Return where a formula stands on the page, by the name callers know it by."""
    room, _dot, name = law.rpartition(".")
    try:
        found = getattr(importlib.import_module(f"{ROOM}.{room}"), name)
    except (ImportError, AttributeError):
        return ""
    return f"{found.__module__.rpartition('.')[2]}-{found.__name__}"


@lru_cache(maxsize=1)
def chapters() -> tuple[Chapter, ...]:
    """Read all formulas and their checks, once for each process."""
    checks = checks_by_formula()
    found = []
    for title, rooms in CHAPTERS:
        formulas = [
            _formula(room, function, checks)
            for room in rooms
            for function in functions_of(room)
        ]
        found.append(Chapter(title, tuple(formulas)))
    return tuple(found)


def functions_of(room: str) -> list[Callable[..., Any]]:
    """List the public formulas of a module, in the order in which they stand."""
    try:
        module = importlib.import_module(f"{ROOM}.{room}")
    except ImportError:
        return []
    found = [
        function
        for name, function in inspect.getmembers(module, inspect.isfunction)
        if not name.startswith("_") and function.__module__ == module.__name__
    ]
    return sorted(found, key=lambda function: function.__code__.co_firstlineno)


def _formula(
    room: str,
    function: Callable[..., Any],
    checks: dict[tuple[str, str], list[Check]],
) -> Formula:
    room = room.rpartition(".")[2]
    summary, sections = sections_of(inspect.getdoc(function) or "")
    source = sections.pop("References", "")
    parts = tuple((title, text) for title, text in sections.items() if text)
    return Formula(
        name=f"{room}.{function.__name__}{_signature(function)}",
        anchor=f"{room}-{function.__name__}",
        summary=summary,
        parts=parts,
        source=source,
        checks=tuple(checks.get((room, function.__name__), ())),
    )


def _signature(function: Callable[..., Any]) -> str:
    """Write the arguments as they stand in the code, without quotes around types."""
    return str(inspect.signature(function)).replace("'", "")


def sections_of(text: str) -> tuple[str, dict[str, str]]:
    """Take a docstring apart: its first sentence, and its sections by their heads.

    In a short docstring without sections the rest is the source and the limits.
    """
    summary, _blank, rest = text.partition("\n\n")
    heads = list(re.finditer(r"^(\w+)\n-{3,}$", rest, re.MULTILINE))
    sections: dict[str, str] = {}
    free = rest[: heads[0].start()] if heads else rest
    ends = [*(head.start() for head in heads[1:]), len(rest)]
    for head, end in zip(heads, ends, strict=False):
        sections[head.group(1)] = rest[head.end() : end].strip()
    if free.strip() and not heads:
        sections["References"] = free.strip()
    elif free.strip():
        sections = {"Notes": free.strip(), **sections}
    first, _stop, more = " ".join(summary.split()).partition(". ")
    if more and not sections.get("References"):
        sections["References"] = more
        return f"{first}.", sections
    return " ".join(summary.split()), sections


def checks_by_formula() -> dict[tuple[str, str], list[Check]]:
    """Read the tests and return, formula by formula, those that call it.

    Nothing is run here: the tests run before a change is taken in.
    """
    found: dict[tuple[str, str], list[Check]] = defaultdict(list)
    folder = Path(settings.BASE_DIR) / "tests"
    for part in ("science", "oracle"):
        for path in sorted((folder / part).rglob("test_*.py")):
            text = path.read_text(encoding="utf-8")
            for names, check in _checks_of(text, by_library=part == "oracle"):
                for name in names:
                    found[name].append(check)
    return found


def _checks_of(
    text: str, *, by_library: bool
) -> Iterator[tuple[set[tuple[str, str]], Check]]:
    tree = ast.parse(text)
    lines = text.splitlines()
    rooms = _imported(tree)
    functions = {
        node.name: node for node in tree.body if isinstance(node, ast.FunctionDef)
    }
    called = {name: _called(node, rooms) for name, node in functions.items()}
    for name, node in functions.items():
        if not name.startswith("test_"):
            continue
        names = set(called[name])
        for inner in ast.walk(node):
            if isinstance(inner, ast.Name) and inner.id in functions:
                names |= called[inner.id]
        first = min([node.lineno, *(one.lineno for one in node.decorator_list)])
        yield (
            names,
            Check(
                sentence=name.removeprefix("test_").replace("_", " "),
                against=_comments(lines[first - 1 : node.end_lineno]),
                by_library=by_library,
            ),
        )


def _imported(tree: ast.Module) -> dict[str, Any]:
    """Return what a test file calls each thing of the science floor."""
    found: dict[str, Any] = {}
    for node in tree.body:
        if not isinstance(node, ast.ImportFrom) or not node.module:
            continue
        if node.module == ROOM:
            for alias in node.names:
                name = alias.asname or alias.name
                found[name] = importlib.import_module(f"{ROOM}.{alias.name}")
        elif node.module.startswith(f"{ROOM}."):
            module = importlib.import_module(node.module)
            for alias in node.names:
                found[alias.asname or alias.name] = getattr(module, alias.name, None)
    return found


def _called(node: ast.AST, known: dict[str, Any]) -> set[tuple[str, str]]:
    found = set()
    for inner in ast.walk(node):
        thing = None
        if isinstance(inner, ast.Attribute) and isinstance(inner.value, ast.Name):
            thing = getattr(known.get(inner.value.id), inner.attr, None)
        elif isinstance(inner, ast.Name):
            thing = known.get(inner.id)
        if inspect.isfunction(thing):
            found.add((thing.__module__.rpartition(".")[2], thing.__name__))
    return found


def _comments(lines: list[str]) -> str:
    """Return the comments of a test: they name the table or example it holds to."""
    said = [line.strip()[1:].strip() for line in lines if line.strip().startswith("#")]
    return " ".join(said)
