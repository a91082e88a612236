"""Lines of values in TOML files, against what the standard library reads in them."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator

import pytest

from orchard.science.guide_files import GUIDE_FOLDER, GuideError
from orchard.science.guide_files.faults import Fault
from orchard.science.guide_files.lines import find_lines

FILES = sorted(path.relative_to(GUIDE_FOLDER) for path in GUIDE_FOLDER.rglob("*.toml"))


def walk(value: object, path: tuple[str | int, ...]) -> Iterator[tuple[str | int, ...]]:
    if path:
        yield path
    if isinstance(value, dict):
        for key, entry in value.items():
            yield from walk(entry, (*path, key))
    if isinstance(value, list):
        for place, entry in enumerate(value):
            yield from walk(entry, (*path, place))


@pytest.mark.parametrize("file", FILES, ids=str)
def test_every_value_of_the_guide_has_the_line_on_which_it_stands(file) -> None:
    text = (GUIDE_FOLDER / file).read_text("utf-8")
    lines, written = find_lines(text), text.splitlines()
    for path in walk(tomllib.loads(text), ()):
        if isinstance(path[-1], int) and path not in lines:
            pytest.fail(f"{path} has no line")
        if isinstance(path[-1], str) and path in lines:
            assert path[-1] in written[lines[path] - 1]
        if path not in lines:
            # A list of tables stands where its first table does.
            assert (*path, 0) in lines


def test_texts_over_lines_comments_and_dotted_keys_do_not_mislead_the_count() -> None:
    text = (
        """# [[sign]]
title = "a # b [c]"

[[sign]]  # = {
look = '''
[[sign]]
key = "no"
'''
why = """
        + '"""'
        + """
due = 3 \\" ""
"""
        + '"""'
        + """
steps = [
    { do = "a, b", kind = "look" },  # first
    { do = "c", kind = "move" },
]

[[sign.rule]]
if = { "pct>=" = 2.5, a.b = [1,
  2] }
[sign.extra]
day = 2024-02-28
[[sign]]
due = 7
[[sign.rule]]
if = {}
"""
    )
    found = find_lines(text)
    for path in walk(tomllib.loads(text), ()):
        assert path in found or (*path, 0) in found or path[-1] == "a", path
    assert found["title",] == 2
    assert found["sign", 0] == 4
    assert found["sign", 0, "why"] == 9
    assert found["sign", 0, "steps", 1, "kind"] == 14
    assert found["sign", 0, "rule", 0, "if", "a", "b", 1] == 19
    assert found["sign", 0, "extra", "day"] == 21
    assert found["sign", 1, "due"] == 23
    assert found["sign", 1, "rule", 0, "if"] == 25


def test_a_fault_names_only_what_is_known_of_its_place() -> None:
    whole = Fault("it is empty; write a text.", "pests.toml", 3, "pest A", "taxon")
    assert str(whole) == (
        "pests.toml, line 3, pest A, taxon: it is empty; write a text."
    )
    assert str(Fault("no.", row="rule 1")) == "rule 1: no."
    assert str(GuideError([whole, whole])).count("\n") == 1
