from __future__ import annotations

import pytest

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
        ("", ""),
    ],
)
def test_what_looks_the_same_is_one_code(written, plain):
    assert plain_code(written) == plain
    assert plain_code(plain) == plain


def test_big_and_small_letters_are_told_apart_as_ever():
    assert plain_code("\u0430-1") == "a-1"
    assert plain_code("\u0410-1") == "A-1"
