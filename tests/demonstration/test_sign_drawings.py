"""The drawings of the signs: small, described, to scale, and drawn by the code."""

from __future__ import annotations

import re
from io import StringIO
from xml.etree import ElementTree

import pytest
from django.core.management import call_command

from orchard.demonstration import sign_files
from orchard.science import guide
from orchard.web.management.commands import draw_signs

SVG = "{http://www.w3.org/2000/svg}"
FILES = sign_files()
LENGTH = re.compile(r"(?:\d+|0\.\d) (?:mm|cm|m)")


def test_every_sign_of_the_guide_has_a_drawing_and_no_other_has():
    assert sorted(FILES) == sorted(guide.load().signs)


def test_the_files_are_what_the_code_draws():
    kept = {file.stem: file.read_text() for file in draw_signs.FOLDER.glob("*.svg")}
    stale = sorted(key for key in {*kept, *FILES} if kept.get(key) != FILES.get(key))
    assert not stale, "Draw the signs anew: manage.py draw_signs"


def test_the_command_writes_every_drawing(tmp_path, monkeypatch):
    monkeypatch.setattr(draw_signs, "FOLDER", tmp_path)
    call_command("draw_signs", stdout=StringIO())
    assert {file.stem: file.read_text() for file in tmp_path.iterdir()} == FILES


@pytest.mark.parametrize("key", sorted(FILES))
def test_a_drawing_is_small_described_and_to_scale(key):
    text = FILES[key]
    assert len(text.encode()) <= 6000
    root = ElementTree.fromstring(text)  # noqa: S314
    assert root.get("viewBox") == "0 0 160 160"
    assert root.find(f"{SVG}title").text == guide.load().signs[key].name
    shows = root.find(f"{SVG}desc").text
    assert len(shows) > 30 and shows.endswith(".")
    # Paper lies under the ink, so that the drawing shows on a dark page.
    assert root.find(f"{SVG}rect").get("width") == "160"
    lengths = [text.text for text in root.iter(f"{SVG}text")]
    assert lengths and all(LENGTH.fullmatch(length) for length in lengths)


@pytest.mark.parametrize("key", sorted(FILES))
def test_a_drawing_asks_nothing_of_another_place(key):
    root = ElementTree.fromstring(FILES[key])  # noqa: S314
    names = [element.get("id") for element in root.iter() if element.get("id")]
    assert len(names) == len(set(names))
    for element in root.iter():
        assert element.tag != f"{SVG}script"
        for name, value in element.attrib.items():
            assert not name.startswith("on")
            for asked in re.findall(r"url\(#(\w+)\)", value):
                assert asked in names
            if name.endswith("href"):
                assert value.startswith("#") and value[1:] in names
            assert "http" not in value and "data:" not in value
