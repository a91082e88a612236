"""The same fault in many rows, named once."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from django.utils.translation import gettext as _

# Fewer rows than this are named one by one.
MANY = 5
MOST_RUNS = 4
# What differs from row to row in one and the same sentence.
_DIFFERING = re.compile(r"“[^”]*”|[-+]?\d[\d.,:-]*")


@dataclass(frozen=True, slots=True)
class SharedFault:
    """A sentence that many rows share, as the first of them has it, and the rows."""

    sentence: str
    numbers: tuple[int, ...]
    is_refusal: bool

    @property
    def rows(self) -> str:
        """Write which rows: "5–2004, 2010 and 3 more"."""
        runs = runs_of(self.numbers)
        written = ", ".join(
            str(first) if first == last else f"{first}–{last}"
            for first, last in runs[:MOST_RUNS]
        )
        rest = sum(last - first + 1 for first, last in runs[MOST_RUNS:])
        if not rest:
            return written
        return _("%(rows)s and %(count)d more") % {"rows": written, "count": rest}

    @property
    def span(self) -> str:
        """Write the rows as a form sends them back."""
        return span_of(self.numbers)


def shared_faults(
    sentences: Iterable[tuple[int, Sequence[str]]], *, is_refusal: bool
) -> dict[str, SharedFault]:
    """Return the sentences that many rows share, by what they have in common."""
    found: dict[str, tuple[str, list[int]]] = {}
    for number, texts in sentences:
        for text in texts:
            _first, numbers = found.setdefault(common_part(text), (text, []))
            numbers.append(number)
    return {
        common: SharedFault(text, tuple(dict.fromkeys(numbers)), is_refusal)
        for common, (text, numbers) in found.items()
        if len(numbers) >= MANY
    }


def common_part(sentence: str) -> str:
    """Return a sentence without what is quoted and counted in it."""
    return _DIFFERING.sub("…", sentence)


def runs_of(numbers: Iterable[int]) -> list[tuple[int, int]]:
    """Return first and last of each run of numbers that follow each other."""
    ordered = sorted(set(numbers))
    breaks = [
        (earlier, later) for earlier, later in pairwise(ordered) if later - earlier > 1
    ]
    firsts = [*ordered[:1], *(later for _earlier, later in breaks)]
    lasts = [*(earlier for earlier, _later in breaks), *ordered[-1:]]
    return list(zip(firsts, lasts, strict=True))


def span_of(numbers: Iterable[int]) -> str:
    """Write numbers of rows shortly: "5-2004 2010"."""
    return " ".join(
        str(first) if first == last else f"{first}-{last}"
        for first, last in runs_of(numbers)
    )


def numbers_in(spans: str, *, most: int) -> frozenset[int]:
    """Return the numbers that `span_of` wrote; what makes no sense is left out."""
    found: set[int] = set()
    written = re.findall(r"\b(\d{1,6})(?:-(\d{1,6}))?\b", spans)
    following = 0
    # A span that comes again, as anybody may send it, is gone through once.
    for first, last in sorted((int(low), int(high or low)) for low, high in written):
        found.update(range(max(first, following), min(last, most) + 1))
        following = max(following, min(last, most) + 1)
    return frozenset(found)
