"""The timeline as a page tells it: its lines, its links, its filters."""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from datetime import date
from typing import Any
from urllib.parse import urlencode

from django.http import Http404
from django.urls import reverse
from django.utils.translation import gettext as _

from orchard.records.models import Membership, Orchard, Tree
from orchard.services import timeline
from orchard.services.errors import Refused
from orchard.services.permissions import Deed, may
from orchard.services.timeline import (
    Event,
    Lane,
    Mark,
    Past,
    Rank,
    Seen,
    Shot,
    Timeline,
)
from orchard.web import explain
from orchard.web.requests import OrchardRequest

MARKER = 909_090_909


@dataclass(frozen=True, slots=True)
class Link:
    """Somewhere to go."""

    label: str
    url: str
    current: bool = False
    part_url: str = ""


@dataclass(frozen=True, slots=True)
class ShotShown:
    """A photo with where it lies and where it leads."""

    shot: Shot
    src: str
    url: str


@dataclass(frozen=True, slots=True)
class SeenShown:
    """A finding with the way to its sign in the guide."""

    seen: Seen
    url: str


@dataclass(frozen=True, slots=True)
class TimelineLine:
    """One event of the timeline with all its ways; `new_year` heads a year."""

    event: Event
    url: str
    note_url: str
    mend_url: str
    old_url: str
    new_year: int | None
    condition: str
    seen: tuple[SeenShown, ...]
    shots: tuple[ShotShown, ...]


class Links:
    """The addresses of one orchard, made once and filled in as often as needed.

    A tree's page has hundreds of links; resolving each anew costs more than the
    queries do.
    """

    def __init__(self, orchard: Orchard) -> None:
        self.slug = orchard.slug
        self.patterns: dict[str, str] = {}

    def to(self, name: str, number: int | str) -> str:
        """Return the address of a numbered or named thing."""
        if isinstance(number, str):
            return reverse(name, args=[self.slug, number])
        if name not in self.patterns:
            self.patterns[name] = reverse(name, args=[self.slug, MARKER])
        return self.patterns[name].replace(str(MARKER), str(number))

    def photo(self, name: uuid.UUID, size: str = "") -> str:
        """Return the address of a photo's page, or of one of its sizes."""
        blank = uuid.UUID(int=0)
        key = f"photo {size}"
        if key not in self.patterns:
            args = [self.slug, blank, *filter(None, [size])]
            self.patterns[key] = reverse(
                "photo-file" if size else "photo-show", args=args
            )
        return self.patterns[key].replace(str(blank), str(name))


PAGES = {
    "inspection": "inspection-show",
    "task": "task-show",
    "case": "case-show",
    "tree": "tree-show",
}
MENDED_ON = {
    "event": "event-correction",
    "ripeness": "ripeness-test-correction",
    "stage": "stage-correction",
}


@dataclass(frozen=True, slots=True)
class Asked:
    """Which part of the life the address asks for."""

    lanes: tuple[Lane, ...]
    year: int | None
    undone: bool
    before: Mark | None

    @classmethod
    def read(cls, request: OrchardRequest) -> Asked:
        """Read it; what makes no sense is not there."""
        lanes = [lane for lane in request.GET.getlist("lane") if lane]
        year = request.GET.get("year", "")
        before = request.GET.get("before", "")
        try:
            return cls(
                lanes=tuple(Lane(lane) for lane in lanes),
                year=date(int(year), 1, 1).year if year else None,
                undone=request.GET.get("undone") == "1",
                before=Mark.read(before) if before else None,
            )
        except (ValueError, OverflowError, Refused):
            raise Http404 from None

    def query(self, **changes: Any) -> str:
        """Write it as the end of an address, with changes."""
        values: dict[str, Any] = {
            "lane": [lane.value for lane in self.lanes],
            "year": self.year or "",
            "undone": "1" if self.undone else "",
            # A mark holds only within the choice it was made in.
            "before": "",
        } | changes
        pairs = [(name, value) for name, value in values.items() if value]
        text = urlencode(pairs, doseq=True)
        return f"?{text}" if text else ""


def timeline_of(
    request: OrchardRequest, tree: Tree, past: Past, links: Links
) -> dict[str, Any]:
    """Return what the timeline of a page needs, for the part the address asks for."""
    asked = Asked.read(request)
    shown = timeline.timeline_of(
        tree,
        request.member,
        today=request.today,
        before=asked.before,
        lanes=asked.lanes,
        year=asked.year,
        undone=asked.undone,
        past=past,
    )
    page = links.to("tree-show", tree.code)
    part = links.to("tree-timeline", tree.code)

    def link(label: str, current: bool = False, **changes: Any) -> Link:
        query = asked.query(**changes)
        return Link(label, f"{page}{query}#timeline", current, f"{part}{query}")

    lanes = [link(_("Everything"), not asked.lanes, lane=[])]
    for lane, label in lane_words().items():
        lanes.append(link(label, lane in asked.lanes, lane=[lane.value]))
    years = [link(_("All years"), asked.year is None, year="")]
    years += [link(str(year), year == asked.year, year=year) for year in shown.years]
    return {
        "lines": _lines(shown, request.member, links),
        "lane_links": lanes,
        "year_links": years,
        "year": asked.year,
        "filtered": bool(asked.lanes or asked.year),
        "undone": asked.undone,
        "undone_link": link(
            _("Hide what was withdrawn or undone")
            if asked.undone
            else _("Show what was withdrawn or undone too"),
            undone="" if asked.undone else "1",
        ),
        "older": link("", before=str(shown.older)) if shown.older else None,
        "newest": link("") if asked.before else None,
        "everything": link("", lane=[], year=""),
    }


def lane_words() -> dict[Lane, str]:
    """Return the words for the lanes, in their order on the page."""
    return {
        Lane.LOOKS: _("Looks"),
        Lane.WORK: _("Work"),
        Lane.LIFE: _("Life"),
        Lane.WEATHER: _("Weather and stages"),
        Lane.PHOTOS: _("Photos"),
    }


def _lines(shown: Timeline, member: Membership, links: Links) -> list[TimelineLine]:
    lines = []
    year = None
    corrects_others = may(member, Deed.CORRECT_OTHERS)
    for event in shown.events:
        mine = corrects_others or event.by_id == member.user_id
        lines.append(
            TimelineLine(
                event=event,
                url=_url(event, links),
                note_url=links.to("tree-show", str(event.target[1]))
                if event.target and event.mark.rank is Rank.PLANTED
                else "",
                mend_url=_mend_url(event, links) if mine else "",
                old_url=links.to("inspection-show", event.old)
                if event.old and event.target and event.target[0] == "inspection"
                else "",
                new_year=event.on.year if event.on.year != year else None,
                condition=explain.condition_word(event.condition)
                if event.condition
                else "",
                seen=tuple(
                    SeenShown(row, links.to("guide-sign", row.sign) if row.sign else "")
                    for row in event.seen
                ),
                shots=tuple(_shown(shot, links) for shot in event.shots),
            )
        )
        year = event.on.year
    return lines


def _shown(shot: Shot, links: Links) -> ShotShown:
    return ShotShown(
        shot, src=links.photo(shot.name, "small"), url=links.photo(shot.name)
    )


def _url(event: Event, links: Links) -> str:
    """Return where an event's title leads; the tree before this one is in its note."""
    if event.target is None or event.mark.rank is Rank.PLANTED:
        return ""
    sort, number = event.target
    return links.to(PAGES[sort], number) if sort in PAGES else ""


def _mend_url(event: Event, links: Links) -> str:
    """Return where an event that has no page of its own is put right."""
    if event.target is None:
        return ""
    sort, number = event.target
    return links.to(MENDED_ON[sort], number) if sort in MENDED_ON else ""
