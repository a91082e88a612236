"""Where the trade's words stand in a text of the guide."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import lru_cache

from orchard.science.guide.shapes import Term


@dataclass(frozen=True, slots=True)
class Piece:
    """A part of a text; `term` is the word of the trade it is, None for the rest."""

    text: str
    term: Term | None = None


def told_apart(
    text: str, terms: Iterable[Term], explained: set[str]
) -> Iterator[Piece]:
    """Divide a text at the words that are to be explained, the first of each only.

    `explained` holds the keys of words that were explained before; those of this text
    join it. The pieces together are the text.
    """
    pattern, by_form = _pattern(tuple(terms))
    end = 0
    for found in pattern.finditer(text):
        term = by_form[found[0].casefold()]
        if term.key in explained:
            continue
        explained.add(term.key)
        yield Piece(text[end : found.start()])
        yield Piece(found[0], term)
        end = found.end()
    yield Piece(text[end:])


@lru_cache(maxsize=4)
def _pattern(terms: tuple[Term, ...]) -> tuple[re.Pattern[str], dict[str, Term]]:
    """Return what finds every form, the longest first, and whose each is."""
    by_form = {form.casefold(): term for term in terms for form in term.forms}
    longest_first = sorted(by_form, key=lambda form: (-len(form), form))
    forms = "|".join(re.escape(form) for form in longest_first) or "(?!)"
    # Not inside another word, nor a part of one with a hyphen.
    return re.compile(rf"(?<![\w-])(?:{forms})(?![\w-])", re.IGNORECASE), by_form
