"""Codes: one spelling for what looks the same on a label.

A code is read off a tag and typed by somebody else: in wide letters, as East Asian
keyboards write them, with the dash of a word processor, or in letters of another
script that look like ours. All of these are one code.
"""

from __future__ import annotations

import unicodedata

# Capitals of two scripts that look like Latin ones, and those they look like: after the
# list of confusable characters of the Unicode standard (UTS 39; from memory).
LOOK_ALIKES = (
    str.maketrans("АВЕКМНОРСТУХЅІЈ", "ABEKMHOPCTYXSIJ"),
    str.maketrans("ΑΒΕΖΗΙΚΜΝΟΡΤΥΧ", "ABEZHIKMNOPTYX"),
)
SCRIPTS = ("CYRILLIC", "GREEK")
MINUS = "\u2212"


def plain_code(text: str) -> str:
    """Return a code in the one spelling that it is kept and looked up in.

    Wide and narrow letters, figures of any script, dashes of any length and marks that
    nobody sees are made plain. A code whose Cyrillic or Greek letters all look like
    Latin ones is Latin; one that has others is written in its script throughout.
    """
    if text.isascii():
        return text.strip()
    seen = "".join(letter for letter in text if unicodedata.category(letter) != "Cf")
    letters = map(_plain_letter, unicodedata.normalize("NFKC", seen))
    code = "".join(letters).strip()
    # Twice: what one script makes Latin may belong to the other.
    for script, latin in 2 * [*zip(SCRIPTS, LOOK_ALIKES, strict=True)]:
        code = _in_one_script(code, script, latin)
    # An accent joins the letter of another script that it stands on now.
    return unicodedata.normalize("NFKC", code)


def _plain_letter(letter: str) -> str:
    if unicodedata.category(letter) == "Pd" or letter == MINUS:
        return "-"
    if unicodedata.category(letter) == "Nd":
        return str(unicodedata.decimal(letter))
    return letter


def _in_one_script(code: str, script: str, latin: dict[int, int]) -> str:
    own = {letter for letter in code if _is_of(letter, script)}
    if not own:
        return code
    if all(_is_like(letter, latin) for letter in own):
        return _translated(code, latin)
    foreign = {letter for letter in code if _is_of(letter, "LATIN")}
    back = {like: letter for letter, like in latin.items()}
    if all(_is_like(letter, back) for letter in foreign):
        return _translated(code, back)
    return code


def _is_of(letter: str, script: str) -> bool:
    return unicodedata.name(letter, "").startswith(f"{script} ")


def _is_like(letter: str, table: dict[int, int]) -> bool:
    """Say whether a table holds a letter; the capital of some is several letters."""
    capital = letter.upper()
    return len(capital) == 1 and ord(capital) in table


def _translated(code: str, table: dict[int, int]) -> str:
    """Translate capitals and small letters alike: in codes they are one."""
    return "".join(
        letter.upper().translate(table)
        if letter.isupper()
        else letter.upper().translate(table).lower()
        if _is_like(letter, table)
        else letter
        for letter in code
    )
