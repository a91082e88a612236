from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from orchard.science.codes import plain_code


@pytest.mark.parametrize(
    ("written", "plain"),
    [
        ("A-1", "A-1"),
        (" b-07 ", "b-07"),
        # Full-width forms (Unicode block "Halfwidth and Fullwidth Forms").
        ("\uff21\uff0d\uff11", "A-1"),
        # Cyrillic A, Greek Alpha, a small Cyrillic o.
        ("\u0410-1", "A-1"),
        ("\u0391-1", "A-1"),
        ("B\u043e-2", "Bo-2"),
        # The dashes of word processors, and the minus sign.
        *((f"A{dash}1", "A-1") for dash in "\u2010\u2011\u2012\u2013\u2014\u2212"),
        # Arabic-Indic and Devanagari figures.
        ("A-\u0661\u0662", "A-12"),
        ("A-\u0967", "A-1"),
        # Nothing to be seen: zero width space, soft hyphen, mark of direction.
        ("A\u200b-\u00ad1\u200f", "A-1"),
        # A word that no Latin letters could write stays in its script, throughout.
        ("\u0421\u041b\u0418\u0412\u0410-1", "\u0421\u041b\u0418\u0412\u0410-1"),
        ("\u0421\u041b\u0418\u0412A-1", "\u0421\u041b\u0418\u0412\u0410-1"),
        ("\u03a3\u03a5\u039a\u0391-3", "\u03a3\u03a5\u039a\u0391-3"),
        # Two scripts that cannot be one are left as they are.
        ("R\u041b-1", "R\u041b-1"),
        ("\u00c4-1", "\u00c4-1"),
        # Letters whose capital is written with several: Greek iota with two marks on
        # it, a sharp s beside Cyrillic.
        ("\u0390-1", "\u0390-1"),
        ("\u0416\u00df-1", "\u0416\u00df-1"),
        ("", ""),
    ],
)
def test_what_looks_the_same_is_one_code(written, plain):
    assert plain_code(written) == plain
    assert plain_code(plain) == plain


LETTERS = st.one_of(
    st.characters(),
    st.characters(min_codepoint=0x0370, max_codepoint=0x052F),
    st.sampled_from("A-1 \u00df\u0149\ufb01\u1fb3\u0390\uff21"),
)


@given(st.text(LETTERS, max_size=6))
def test_whatever_is_typed_has_one_plain_spelling(text):
    plain = plain_code(text)
    assert plain_code(plain) == plain


def test_big_and_small_letters_are_told_apart_as_ever():
    assert plain_code("\u0430-1") == "a-1"
    assert plain_code("\u0410-1") == "A-1"
