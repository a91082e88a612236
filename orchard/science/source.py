"""Where a figure comes from, and how far it was checked."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Verification(StrEnum):
    """Whether a source was read for this project or is quoted from memory."""

    READ = "read"
    MEMORY = "memory"


@dataclass(frozen=True, slots=True)
class Source:
    """A published source; `place` is the publisher, journal or series."""

    key: str
    author: str
    title: str
    place: str
    year: int | None = None
    how: Verification = Verification.MEMORY
    note: str = ""


def cite(source: Source) -> str:
    """Write a source as one line a reader can look up.

    A source quoted from memory says so, because nobody has checked it.
    """
    year = f" ({source.year})" if source.year else ""
    line = f"{source.author}{year}: {source.title}."
    if source.place:
        line = f"{line} {source.place}."
    return line if source.how is Verification.READ else f"{line} [from memory]"
