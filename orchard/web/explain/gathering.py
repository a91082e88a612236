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

from orchard.web.explain.formulas import SCIENCE, Check, Formula, formula_name

# The modules whose public functions are explained.
MODULES = (
    "agreement",
    "feeding",
    "frost.harm",
    "frost.night",
    "heat",
    "holds",
    "practice",
    "progress",
    "ripeness.juice",
    "ripeness.readiness",
    "ripeness.standards",
    "sampling",
    "sun.ephemeris",
    "sun.hours",
    "trend",
    "units",
    "verdict.judging",
    "volumes",
    "water.containers",
    "water.need",
    "water.root_zone",
    "weather.air",
    "weather.evapotranspiration",
    "weather.neighbours",
    "weather.radiation",
    "windows.measured",
    "windows.recurrence",
    "windows.rhythm",
    "windows.seasons",
)

# A formula of the science floor: its module and its name.
Name = tuple[str, str]


def formulas_text() -> str:
    """Return the file of formulas as code and tests stand now.

    It is the same wherever a test stands in its file, and from one run to the next.
    """
    checks = checks_by_formula(Path(settings.BASE_DIR) / "tests")
    formulas = {
        formula_name(function.__module__, function.__name__): _row(
            Formula(
                source=source_in(inspect.getdoc(function) or ""),
                checks=tuple(checks.get((function.__module__, function.__name__), ())),
            )
        )
        for module in MODULES
        for function in functions_of(module)
    }
    text = json.dumps(formulas, ensure_ascii=False, indent=1, sort_keys=True)
    return f"{text}\n"


def _row(formula: Formula) -> dict[str, Any]:
    """Return a formula as the file holds it: without what is empty."""

    def filled(fields: list[tuple[str, Any]]) -> dict[str, Any]:
        return {name: value for name, value in fields if value}

    return asdict(formula, dict_factory=filled)


def functions_of(room: str) -> list[Callable[..., Any]]:
    """List the public formulas of a module, in the order in which they stand."""
    module = importlib.import_module(f"{SCIENCE}.{room}")
    # What remembers its answers is wrapped around its function.
    members = [
        (name, inspect.unwrap(member))
        for name, member in inspect.getmembers(module, inspect.isroutine)
    ]
    formulas = [
        function
        for name, function in members
        if not name.startswith("_")
        and inspect.isfunction(function)
        and function.__module__ == module.__name__
    ]
    return sorted(formulas, key=lambda function: function.__code__.co_firstlineno)


def source_in(text: str) -> str:
    """Return the source that a docstring names, "" where it names none.

    In a short docstring without sections all after the first sentence is the source.
    """
    _summary, _blank, rest = text.partition("\n\n")
    heads = list(re.finditer(r"^(\w+)\n-{3,}$", rest, re.MULTILINE))
    ends = [*(head.start() for head in heads[1:]), len(rest)]
    source = "" if heads else rest
    for head, end in zip(heads, ends, strict=False):
        if head.group(1) == "References":
            source = rest[head.end() : end]
    return " ".join(source.split()).removeprefix("Source: ")


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
                sentence=sentence_of(node),
                against=" ".join(
                    part
                    for part in (
                        basis_of(node),
                        _comments(lines[first - 1 : node.end_lineno]),
                    )
                    if part
                ),
                by_library=by_library,
            ),
        )


def sentence_of(test: ast.FunctionDef) -> str:
    """Return what a test says of a formula: its docstring's first line, else its name.

    The names of tests are sentences; what a name cannot say, such as a number or a
    word with a capital, stands in a docstring.
    """
    text = (ast.get_docstring(test) or "").partition("\n")[0]
    text = text or test.name.removeprefix("test_").replace("_", " ")
    text = text[0].upper() + text[1:]
    return text if text.endswith((".", "?")) else f"{text}."


def basis_of(test: ast.FunctionDef) -> str:
    """Return what a test's docstring says after its first line."""
    return " ".join((ast.get_docstring(test) or "").partition("\n")[2].split())


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
        thing = inspect.unwrap(thing) if inspect.isroutine(thing) else None
        if inspect.isfunction(thing):
            names.add((thing.__module__, thing.__name__))
    return names


def _comments(lines: list[str]) -> str:
    """Return the comments of a test: they name the table or example it checks by."""
    stripped = [line.strip() for line in lines]
    return " ".join(line[1:].strip() for line in stripped if line.startswith("#"))
