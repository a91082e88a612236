"""The drawings of signs and words: small, described, and drawn by the code."""

from __future__ import annotations

import re
from io import StringIO
from xml.etree import ElementTree

import pytest
from django.core.management import call_command

from orchard.demonstration import sign_files, word_files
from orchard.science import guide
from orchard.web.management.commands import draw_signs

SVG = "{http://www.w3.org/2000/svg}"
FILES = sign_files()
WORDS = word_files()
ALL = {
    **{f"signs/{key}.svg": text for key, text in FILES.items()},
    **{f"words/{key}.svg": text for key, text in WORDS.items()},
}
LENGTH = re.compile(r"(?:\d+|0\.\d) (?:mm|cm|m)")


def test_every_sign_of_the_guide_has_a_drawing_and_no_other_has():
    assert sorted(FILES) == sorted(guide.load().signs)


def test_every_picture_of_a_word_is_drawn_and_every_drawn_word_is_shown():
    shown = [term.picture for term in guide.load().terms.values() if term.picture]
    assert {f"{picture}.svg" for picture in shown} <= set(ALL)
    own = {picture for picture in shown if picture.startswith("words/")}
    assert own == {f"words/{key}" for key in WORDS}


def files_in(folder):
    return {
        f"{part}/{file.name}": file.read_text()
        for part in ("signs", "words")
        for file in (folder / part).glob("*.svg")
    }


def test_the_files_are_what_the_code_draws():
    kept = files_in(draw_signs.FOLDER)
    stale = sorted(name for name in {*kept, *ALL} if kept.get(name) != ALL.get(name))
    assert not stale, "Draw the signs anew: manage.py draw_signs"


def test_the_command_writes_every_drawing(tmp_path, monkeypatch):
    monkeypatch.setattr(draw_signs, "FOLDER", tmp_path)
    for part in ("signs", "words"):
        (tmp_path / part).mkdir()
    call_command("draw_signs", stdout=StringIO())
    assert files_in(tmp_path) == ALL


@pytest.mark.parametrize("key", sorted(WORDS))
def test_the_drawing_of_a_word_is_small_and_named(key):
    assert len(WORDS[key].encode()) <= 6000
    root = ElementTree.fromstring(WORDS[key])  # noqa: S314
    assert root.find(f"{SVG}title").text == guide.load().terms[key].name
    assert root.find(f"{SVG}rect").get("width") == "160"


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


@pytest.mark.parametrize("name", sorted(ALL))
def test_a_drawing_asks_nothing_of_another_place(name):
    root = ElementTree.fromstring(ALL[name])  # noqa: S314
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
