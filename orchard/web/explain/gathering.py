"""Gather the formulas for a release: from their docstrings and the tests of a checkout.

No page asks this: `manage.py write_formulas` does, and the test that compares its file.
"""

from __future__ import annotations

import ast
import importlib
import inspect
import json
import re
from collections import defaultdict
from collections.abc import Callable, Iterator
from dataclasses import asdict
from pathlib import Path
from typing import Any

from django.conf import settings

from orchard.web.explain.formulas import (
    CHAPTERS,
    SCIENCE,
    Check,
    Formula,
    formula_anchor,
)

# A formula of the science floor: its module and its name.
Name = tuple[str, str]


def formulas_text() -> str:
    """Return the file of formulas as code and tests stand now.

    It is the same wherever a test stands in its file, and from one run to the next.
    """
    checks = checks_by_formula(Path(settings.BASE_DIR) / "tests")
    modules = {
        name: [_row(_formula(function, checks)) for function in functions_of(name)]
        for _title, names in CHAPTERS
        for name in names
    }
    text = json.dumps(modules, ensure_ascii=False, indent=1, sort_keys=True)
    return f"{text}\n"


def _row(formula: Formula) -> dict[str, Any]:
    """Return a formula as the file holds it: without what is empty."""

    def filled(fields: list[tuple[str, Any]]) -> dict[str, Any]:
        return {name: value for name, value in fields if value}

    return asdict(formula, dict_factory=filled)


def functions_of(room: str) -> list[Callable[..., Any]]:
    """List the public formulas of a module, in the order in which they stand."""
    module = importlib.import_module(f"{SCIENCE}.{room}")
    formulas = [
        function
        for name, function in inspect.getmembers(module, inspect.isfunction)
        if not name.startswith("_") and function.__module__ == module.__name__
    ]
    return sorted(formulas, key=lambda function: function.__code__.co_firstlineno)


def _formula(function: Callable[..., Any], checks: dict[Name, list[Check]]) -> Formula:
    module, name = function.__module__, function.__name__
    summary, sections = sections_of(inspect.getdoc(function) or "")
    source = sections.pop("References", "")
    return Formula(
        name=f"{module.rpartition('.')[2]}.{name}{_signature(function)}",
        anchor=formula_anchor(module, name),
        summary=summary,
        parts=tuple((title, text) for title, text in sections.items() if text),
        source=source,
        checks=tuple(checks.get((module, name), ())),
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


def checks_by_formula(tests: Path) -> dict[Name, list[Check]]:
    """Read a folder of tests and return, formula by formula, those that call it.

    Nothing is run here: the tests run before a change is taken in.
    """
    checks: dict[Name, set[Check]] = defaultdict(set)
    for part in ("science", "oracle"):
        for path in (tests / part).rglob("test_*.py"):
            text = path.read_text(encoding="utf-8")
            for names, check in _checks_in(text, by_library=part == "oracle"):
                for name in names:
                    checks[name].add(check)
    return {
        name: sorted(
            unordered,
            key=lambda check: (check.by_library, check.sentence, check.against),
        )
        for name, unordered in checks.items()
    }


def _checks_in(text: str, *, by_library: bool) -> Iterator[tuple[set[Name], Check]]:
    tree = ast.parse(text)
    lines = text.splitlines()
    imported = _imported(tree)
    functions = {
        node.name: node for node in tree.body if isinstance(node, ast.FunctionDef)
    }
    called = {name: _called(node, imported) for name, node in functions.items()}
    for name, node in functions.items():
        if not name.startswith("test_"):
            continue
        names = set(called[name])
        for inner in ast.walk(node):
            if isinstance(inner, ast.Name) and inner.id in functions:
                names |= called[inner.id]
        first = min(
            [node.lineno, *(decorator.lineno for decorator in node.decorator_list)]
        )
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
    things: dict[str, Any] = {}
    for node in tree.body:
        if not isinstance(node, ast.ImportFrom) or not node.module:
            continue
        if node.module == SCIENCE:
            for alias in node.names:
                name = alias.asname or alias.name
                things[name] = importlib.import_module(f"{SCIENCE}.{alias.name}")
        elif node.module.startswith(f"{SCIENCE}."):
            module = importlib.import_module(node.module)
            for alias in node.names:
                things[alias.asname or alias.name] = getattr(module, alias.name, None)
    return things


def _called(node: ast.AST, imported: dict[str, Any]) -> set[Name]:
    names = set()
    for inner in ast.walk(node):
        thing = None
        if isinstance(inner, ast.Attribute) and isinstance(inner.value, ast.Name):
            thing = getattr(imported.get(inner.value.id), inner.attr, None)
        elif isinstance(inner, ast.Name):
            thing = imported.get(inner.id)
        if inspect.isfunction(thing):
            names.add((thing.__module__, thing.__name__))
    return names


def _comments(lines: list[str]) -> str:
    """Return the comments of a test: they name the table or example it checks by."""
    stripped = [line.strip() for line in lines]
    return " ".join(line[1:].strip() for line in stripped if line.startswith("#"))
