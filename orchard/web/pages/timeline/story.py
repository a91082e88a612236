"""The timeline as a page tells it: its lines, its links, its filters."""

from __future__ import annotations

import uuid
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date
from itertools import groupby
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
# The page of a tree begins with its newest events, at most so many and as many as fit
# in some rows of text; what is asked for comes in full.
NEWEST, NEWEST_ROWS, ASKED_FOR = 8, 16, 50
# How many rows stand for a finding with its reason, and for a strip of photos.
ROWS_OF_FINDING, ROWS_OF_PHOTOS = 2, 3


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
    """One event of the timeline with all its ways."""

    event: Event
    url: str
    note_url: str
    mend_url: str
    old_url: str
    condition: str
    seen: tuple[SeenShown, ...]
    shots: tuple[ShotShown, ...]


@dataclass(frozen=True, slots=True)
class TimelineDay:
    """The events of one day; `new_year` heads a year.

    Of a day that stands for its year no more than the year is known.
    """

    on: date
    year_only: bool
    new_year: int | None
    lines: tuple[TimelineLine, ...]

    @property
    def weighs(self) -> bool:
        """Whether something was found on this day."""
        return any(line.event.seen or line.event.private for line in self.lines)


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
    "treatment": "treatment-show",
    "leaves": "leaf-test-show",
    "harvest": "harvest-show",
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

    @property
    def is_narrowed(self) -> bool:
        """Whether it asks for more than the newest events."""
        return bool(self.lanes or self.year or self.undone or self.before)

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
        size=ASKED_FOR if asked.is_narrowed else NEWEST,
        past=past,
    )
    if not asked.is_narrowed:
        shown = _fitting(shown)
    page = links.to("tree-show", tree.code)
    part = links.to("tree-timeline", tree.code)

    def link(label: str, current: bool = False, **changes: Any) -> Link:
        query = asked.query(**changes)
        return Link(label, f"{page}{query}#timeline", current, f"{part}{query}")

    words = lane_words()
    lanes = [link(_("Everything"), not asked.lanes, lane=[])]
    for lane, label in words.items():
        lanes.append(link(label, lane in asked.lanes, lane=[lane.value]))
    years = [link(_("All years"), asked.year is None, year="")]
    years += [link(str(year), year == asked.year, year=year) for year in shown.years]
    return {
        "days": _days(_lines(shown, request.member, links)),
        "lane_links": lanes,
        "year_links": years,
        "lanes": ", ".join(words[lane] for lane in asked.lanes),
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
        "continued": asked.before is not None,
        "newest": link("", year="") if asked.before or asked.year else None,
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


def _fitting(shown: Timeline) -> Timeline:
    """Keep the newest events that fit, the first in any case; the rest is older."""
    rows = 0
    day = None
    for place, event in enumerate(shown.events):
        rows += 1 + (event.on != day) + bool(event.note) + bool(event.condition)
        rows += ROWS_OF_FINDING * len(event.seen)
        rows += ROWS_OF_PHOTOS * bool(event.shots)
        day = event.on
        if place and rows > NEWEST_ROWS:
            # A page begins below its mark: this event is the first of the next.
            older = replace(event.mark, id=event.mark.id + 1)
            return replace(shown, events=shown.events[:place], older=older)
    return shown


def _days(lines: Iterable[TimelineLine]) -> list[TimelineDay]:
    """Put the events of each day together; they come with the newest first."""
    days = []
    year = None
    for (on, year_only), of_day in groupby(
        lines, key=lambda line: (line.event.on, line.event.year_only)
    ):
        new_year = on.year if on.year != year else None
        days.append(TimelineDay(on, year_only, new_year, tuple(of_day)))
        year = on.year
    return days


def _lines(shown: Timeline, member: Membership, links: Links) -> list[TimelineLine]:
    lines = []
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
                condition=explain.condition_word(event.condition)
                if event.condition
                else "",
                seen=tuple(
                    SeenShown(row, links.to("guide-sign", row.sign) if row.sign else "")
                    for row in event.seen
                ),
                shots=tuple(shot_shown(shot, links) for shot in event.shots),
            )
        )
    return lines


def shot_shown(shot: Shot, links: Links) -> ShotShown:
    """Return a photo with its addresses."""
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
