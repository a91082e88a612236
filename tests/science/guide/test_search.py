"""Signs are found by what people say who do not know their names."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from orchard.science import guide

DESCRIPTIONS = json.loads(
    (Path(__file__).parent.parent / "data" / "descriptions.json").read_text()
)
SHOWN_FIRST = 4


def found(said: str) -> list[str]:
    return [sign.key for sign in guide.find_signs(said, guide.load().signs.values())]


@pytest.mark.parametrize(("said", "sign"), DESCRIPTIONS)
def test_everyday_words_find_their_sign_within_the_first_pictures(said, sign):
    assert sign in found(said)[:SHOWN_FIRST]


def test_every_sign_has_everyday_words_and_each_phrase_finds_it():
    for sign in guide.load().signs.values():
        assert len(sign.everyday) >= 2, sign.key
        for phrase in sign.everyday:
            assert sign.key in found(phrase)[:12], (sign.key, phrase)


@pytest.mark.parametrize("slip", ["leefminer", "leafminr", "leafmienr", "LEAFMINER"])
def test_a_slip_of_spelling_finds_it_all_the_same(slip):
    assert found(slip)[0] == "leafminer"


def test_what_fits_nothing_finds_nothing():
    for said in ("", "  ", "the tree", "xqzw", "\x00"):
        assert found(said) == []


def test_the_name_itself_comes_first():
    for key in ("sucker", "lichen", "codling", "water_sprout"):
        assert found(guide.load().signs[key].name)[0] == key
