"""The trade's words: found whole, told once, and claimed by one word each."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from orchard.science import guide
from orchard.science.guide import Term, told_apart
from orchard.science.source import Verification


def term(key, *forms):
    return Term(key, key, forms, "It means that.", "", ("COMMON",), Verification.MEMORY)


TERMS = (
    term("graft_union", "graft line", "graft union"),
    term("sucker", "sucker", "suckers"),
    term("flush", "next flush", "new flush"),
)


def found(text, told=None):
    pieces = list(told_apart(text, TERMS, set() if told is None else told))
    assert "".join(piece.text for piece in pieces) == text
    return [(piece.text, piece.term.key) for piece in pieces if piece.term]


def test_the_first_of_each_word_is_told():
    text = "A sucker starts below the graft line. Suckers outgrow the graft line."
    assert found(text) == [("sucker", "sucker"), ("graft line", "graft_union")]


def test_what_a_text_before_told_is_not_told_again():
    told = {"sucker"}
    assert found("A sucker below the graft union", told) == [
        ("graft union", "graft_union")
    ]
    assert told == {"sucker", "graft_union"}


def test_capitals_do_not_hide_a_word():
    assert found("Suckers first.") == [("Suckers", "sucker")]


@pytest.mark.parametrize(
    "text",
    ["A sap-sucker above it", "sucker-free", "seersuckers", "Cut it flush", "a graft"],
)
def test_a_word_inside_another_is_none(text):
    assert found(text) == []


@given(
    st.lists(
        st.sampled_from(
            ["sucker", "suckers", "graft union", "the", "flush", "new flush", " ", "-"]
        )
    ).map(" ".join)
)
def test_the_pieces_are_the_text_and_no_word_comes_twice(text):
    keys = [key for _words, key in found(text)]
    assert len(keys) == len(set(keys))


def test_every_form_is_found_as_the_word_it_belongs_to():
    terms = guide.load().terms.values()
    for one in terms:
        for form in one.forms:
            [piece] = [p for p in told_apart(f"a {form}.", terms, set()) if p.term]
            assert (piece.text, piece.term) == (form, one)


def test_every_meaning_is_short_and_whole():
    for one in guide.load().terms.values():
        assert one.means.endswith("."), one.key
        assert len(one.means) <= 150, one.key


def test_what_was_not_read_names_no_source_that_was():
    sources = guide.load().sources
    for one in guide.load().terms.values():
        hows = {sources[key].how for key in one.sources}
        assert hows == {one.how}, one.key
