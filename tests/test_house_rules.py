"""What the import contracts cannot say: read from the code's own syntax trees."""

from __future__ import annotations

import ast
import functools
import re
import subprocess
import sys
from pathlib import Path

import pytest
from django.apps import apps

from orchard.science import guide
from orchard.science.windows.triggers import MEASURED_KINDS

ROOT = Path(__file__).resolve().parent.parent
HOUSE = ROOT / "orchard"
TEMPLATES = sorted((ROOT / "templates").rglob("*.html"))

WEB_PACKAGES = {
    "django.http",
    "django.shortcuts",
    "django.template",
    "django.urls",
    "django_htmx",
}
WRITES = {
    "save",
    "create",
    "update",
    "delete",
    "get_or_create",
    "update_or_create",
    "bulk_create",
    "bulk_update",
}
CLOCKS = {"now", "today", "utcnow", "localdate", "localtime"}


def modules(floor: str) -> list[Path]:
    return sorted(
        path for path in (HOUSE / floor).rglob("*.py") if "migrations" not in path.parts
    )


@functools.cache
def tree_of(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"))


def calls(path: Path):
    for node in ast.walk(tree_of(path)):
        if isinstance(node, ast.Call):
            yield node


def imports(path: Path):
    for node in ast.walk(tree_of(path)):
        if isinstance(node, ast.Import):
            yield from ((alias.name, node.lineno) for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module:
            yield node.module, node.lineno


def where(path: Path, line: int) -> str:
    return f"{path.relative_to(ROOT)}:{line}"


@pytest.mark.parametrize("floor", ["records", "services", "web"])
def test_code_asks_for_jobs_by_their_role_and_names_none(floor):
    # The kind of a trigger may be called like the job that has it, and so may a table.
    tables = {model._meta.model_name for model in apps.get_models()}
    keys = set(guide.load().jobs) - set(MEASURED_KINDS) - tables
    named = [
        where(path, node.lineno)
        for path in modules(floor)
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Constant) and node.value in keys
    ]
    assert named == []


def test_the_floors_hold():
    ran = subprocess.run(
        [str(Path(sys.executable).parent / "lint-imports"), "--no-cache"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert ran.returncode == 0, ran.stdout + ran.stderr


@pytest.mark.parametrize("floor", ["records", "services"])
def test_lower_floors_know_nothing_of_the_web(floor):
    found = [
        f"{where(path, line)} imports {name}"
        for path in modules(floor)
        for name, line in imports(path)
        if any(name == web or name.startswith(f"{web}.") for web in WEB_PACKAGES)
    ]
    assert not found


def test_the_web_writes_nothing_itself():
    found = [
        where(path, call.lineno)
        for path in modules("web")
        if path.name != "admin.py"
        for call in calls(path)
        if isinstance(call.func, ast.Attribute)
        and call.func.attr in WRITES
        and "objects" in ast.unparse(call.func.value)
        or (
            isinstance(call.func, ast.Attribute)
            and call.func.attr in {"save", "delete", "bulk_create", "bulk_update"}
        )
    ]
    assert not found


def test_only_the_ledger_writes_the_ledger():
    found = [
        where(path, call.lineno)
        for path in modules("services")
        if path.name != "ledger.py"
        for call in calls(path)
        if ast.unparse(call.func).startswith("Change.objects.")
        and ast.unparse(call.func).rsplit(".", 1)[-1] in WRITES
    ]
    assert not found


def test_a_locked_row_can_still_be_pointed_at():
    """A lock on a row and its number keeps waiting whoever writes a row that names it.

    Two who do both, each in an order of their own, wait for each other then.
    """
    found = [
        where(path, call.lineno)
        for floor in ("records", "services", "web")
        for path in modules(floor)
        for call in calls(path)
        if isinstance(call.func, ast.Attribute)
        and call.func.attr == "select_for_update"
        and "no_key=True" not in map(ast.unparse, call.keywords)
    ]
    assert not found


@pytest.mark.parametrize("floor", ["science", "services"])
def test_no_clock_below_the_web(floor):
    found = [
        where(path, call.lineno)
        for path in modules(floor)
        for call in calls(path)
        if isinstance(call.func, ast.Attribute)
        and (
            call.func.attr in CLOCKS
            or (call.func.attr == "time" and ast.unparse(call.func) == "time.time")
        )
    ]
    assert not found


@pytest.mark.parametrize("floor", ["science", "records", "services", "web"])
def test_nothing_prints_and_no_signals(floor):
    found = [
        where(path, call.lineno)
        for path in modules(floor)
        for call in calls(path)
        if isinstance(call.func, ast.Name) and call.func.id == "print"
    ]
    found += [
        where(path, line)
        for path in modules(floor)
        for name, line in imports(path)
        if name.startswith(("django.dispatch", "django.db.models.signals"))
    ]
    assert not found


BANNED = {
    "inline script": re.compile(
        r"<script(?![^>]*\bsrc=)(?![^>]*type=\"application/json\")", re.IGNORECASE
    ),
    "inline style": re.compile(r"<style|\sstyle\s*=", re.IGNORECASE),
    "event attribute": re.compile(r"\s(on[a-z]+|hx-on[:a-z-]*)\s*=", re.IGNORECASE),
}


@pytest.mark.parametrize("name", BANNED)
def test_templates_hold_no(name):
    found = [
        where(path, number)
        for path in TEMPLATES
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), 1)
        if BANNED[name].search(line)
    ]
    assert not found


def test_every_htmx_get_is_a_link_or_a_form_without_it_too():
    found = []
    for path in TEMPLATES:
        for tag in re.finditer(r"<(\w+)[^>]*\bhx-get=[^>]*>", path.read_text("utf-8")):
            whole = tag.group(0)
            if "href=" not in whole and "action=" not in whole:
                found.append(f"{path.relative_to(ROOT)}: {whole[:80]}")
    assert not found


SAID = re.compile(
    r"\{%\s*blocktrans(?:late)?\b.*?\{%\s*endblocktrans(?:late)?\s*%\}"
    r"|\{%\s*block kind\s*%\}\w+"
    r"|\{%\s*block person\s*%\}.*?\{%\s*endblock person\s*%\}"
    r"|\{%\s*comment\b.*?\{%\s*endcomment\s*%\}"
    r"|\{%.*?%\}|\{\{.*?\}\}|\{#.*?#\}|<!--.*?-->",
    re.DOTALL,
)
SPOKEN = re.compile(
    r"\b(?:alt|title|placeholder|aria-label)=\"([^\"]*[A-Za-z][^\"]*)\""
)
UNITS = {"km", "cm", "mm", "kg", "L", "C", "F", "BBCH", "EPPO", "QR", "CSV", "XLSX"}


def test_every_text_of_a_template_can_be_translated():
    found = []
    for path in TEMPLATES:
        if path.parent.name == "style_sheet":  # the pattern page is for developers only
            continue
        text = SAID.sub(" ", path.read_text(encoding="utf-8"))
        found += [
            f"{path.relative_to(ROOT)}: attribute {match.group(1)!r}"
            for match in SPOKEN.finditer(text)
        ]
        text = re.sub(r"<(script|svg)\b.*?</\1>", " ", text, flags=re.DOTALL)
        text = re.sub(r"<[^>]*>|&\w+;", " ", text, flags=re.DOTALL)
        words = set(re.findall(r"[A-Za-z][A-Za-z'’-]+", text)) - UNITS
        if words:
            found.append(f"{path.relative_to(ROOT)}: {sorted(words)[:8]}")
    assert not found


def test_no_page_depends_on_another_host():
    found = [
        where(path, number)
        for path in TEMPLATES
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), 1)
        if re.search(r"(src|href|action)=\"(https?:)?//", line)
    ]
    assert not found


def test_whatever_can_be_read_can_be_asked_about_without_its_body():
    """HEAD is GET without the body (RFC 9110, 9.3.2): no door opens to one alone."""
    found = []
    for path in sorted((ROOT / "orchard" / "web").rglob("*.py")):
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), 1):
            only_get = '"GET"' in line and '"HEAD"' not in line and "require_" in line
            if only_get or re.search(r"\brequire_GET\b", line):
                found.append(where(path, number))
    assert not found


# Pages that need no service: they show the guide, or put the rooms' own together.
WITHOUT_SERVICE = {
    "guide": "shows what science/guide holds",
    "health": "asks the database and nothing else",
    "offline": "works in the browser",
    "outlook": "links to the rooms of the outlook",
    "paper": "writes down for others what the rooms of looks, tasks and fruit keep",
    "style_sheet": "shows the patterns of the pages, to developers only",
}


def test_the_pages_of_a_noun_have_its_service():
    services = {path.stem for path in (HOUSE / "services").iterdir()}
    pages = {
        path.name
        for path in (HOUSE / "web" / "pages").iterdir()
        if (path / "__init__.py").exists()
    }
    assert pages - services == set(WITHOUT_SERVICE)


def public_classes() -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for path in modules("."):
        for node in tree_of(path).body:
            if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
                found.setdefault(node.name, []).append(where(path, node.lineno))
    # Django wants each command in a class of this name.
    del found["Command"]
    return found


def test_no_class_name_stands_twice():
    twice = {name: places for name, places in public_classes().items() if places[1:]}
    assert not twice


def test_the_web_asks_a_service_for_what_it_reads():
    found = [
        where(path, node.lineno)
        for path in modules("web")
        if path.name != "admin.py"
        for node in ast.walk(tree_of(path))
        if isinstance(node, ast.Attribute) and node.attr == "objects"
    ]
    assert not found


EMPTY_NAMES = {
    "said",
    "told",
    "known",
    "held",
    "one",
    "of",
    "keep",
    "mum",
    "hang",
    "meant",
}


def names_given(path: Path):
    for node in ast.walk(tree_of(path)):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef):
            yield node.name, node.lineno
        elif isinstance(node, ast.Name) and isinstance(node.ctx, ast.Store):
            yield node.id, node.lineno
        elif isinstance(node, ast.arg):
            yield node.arg, node.lineno


def test_names_say_what_they_name():
    found = [
        f"{where(path, line)} {name}"
        for path in modules(".")
        for name, line in names_given(path)
        if name.strip("_") in EMPTY_NAMES
    ]
    assert not found


# What a part writes once: the bar around the one button of a form, and the way back.
PARTS = {
    "parts/_submit.html": re.compile(
        r'<div class="deeds(?: at-hand)?">\s*'
        r'<button class="button[ \w]*">[^<]*</button>\s*</div>'
    ),
    "parts/_trail.html": re.compile(r'class="trail"'),
}
WRITTEN_OUT = {
    # In each row of a list, where a part would be included row by row.
    "parts/_submit.html": ["house_rules/_pest.html", "trees/block.html"],
    # Its link is led to the orchard of this phone by a script, by its mark.
    "parts/_trail.html": ["offline/outbox.html"],
}


@pytest.mark.parametrize("part", PARTS)
def test_what_a_part_writes_is_written_out_nowhere_else(part):
    found = []
    for path in TEMPLATES:
        if path.parent.name != "parts":
            written = PARTS[part].findall(path.read_text(encoding="utf-8"))
            found += [str(path.relative_to(ROOT / "templates"))] * len(written)
    assert found == WRITTEN_OUT[part]


def test_the_lines_of_templates_fit_the_screen():
    found = [
        where(path, number)
        for path in TEMPLATES
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), 1)
        if len(line) > 120
    ]
    assert not found
