"""Where somebody stands on the board: filters and the line opened, in the address."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from urllib.parse import urlencode

from django.http import QueryDict
from django.urls import reverse

from orchard.records.models import Task
from orchard.services.tasks import BoardFilters, GroupKey
from orchard.web import paging


@dataclass(frozen=True, slots=True)
class BoardPlace:
    """What of the board is shown; its query says all of it."""

    filters: BoardFilters
    opened: GroupKey | None = None
    after: str = ""
    with_later: bool = False
    # Of many lines, those after this one.
    lines_after: str = ""

    @classmethod
    def read(cls, asked: Mapping[str, str]) -> BoardPlace:
        """Read it from an address; what makes no sense is left out."""
        person, kind = asked.get("person", ""), asked.get("kind", "")
        is_person = person in ("mine", "nobody") or (
            person.isdecimal() and len(person) < 10
        )
        block = asked.get("block", "")[:12]
        return cls(
            filters=BoardFilters(
                block="" if "\0" in block else block,
                person=person if is_person else "",
                kind=kind if kind in Task.Kind.values else "",
                late=asked.get("late") == "on",
                soon=asked.get("soon") == "on",
            ),
            opened=GroupKey.read(asked.get("open", "")[:80]),
            after=asked.get(paging.AFTER, "")[:60],
            with_later=asked.get("later") == "on",
            lines_after=asked.get("lines", "")[:80],
        )

    @classmethod
    def read_query(cls, query: str) -> BoardPlace:
        """Read it from the query of an address."""
        return cls.read(QueryDict(query[:500]).dict())

    @property
    def query(self) -> str:
        filters = self.filters
        asked = {
            "block": filters.block,
            "person": filters.person,
            "kind": filters.kind,
            "late": "on" if filters.late else "",
            "soon": "on" if filters.soon else "",
            "later": "on" if self.with_later else "",
            "lines": self.lines_after,
            "open": str(self.opened or ""),
            paging.AFTER: self.after,
        }
        return urlencode({name: value for name, value in asked.items() if value})

    @property
    def back_query(self) -> str:
        """Return what the address of a task carries, to come back here."""
        return urlencode({"back": "board", "at": self.query})

    def url(self, slug: str) -> str:
        """Return its address, at the line that is open."""
        url = reverse("board", args=[slug])
        url = f"{url}?{self.query}" if self.query else url
        return f"{url}#group-{self.opened}" if self.opened else url

    def turned_to(self, lines_after: str) -> BoardPlace:
        """Return the same at another page of its lines, with none of them open."""
        return replace(self, opened=None, after="", lines_after=lines_after)

    def opening(self, opened: GroupKey | None, after: str = "") -> BoardPlace:
        """Return the same with another line open, or none."""
        return replace(self, opened=opened, after=after)


def line_url(slug: str, line: GroupKey) -> str:
    """Return the address of the board with one of its lines open."""
    return BoardPlace(BoardFilters(), opened=line).url(slug)
