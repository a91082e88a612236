"""A window, what is on record about a job, and what of it is done."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from functools import lru_cache
from typing import NamedTuple

from orchard.science.windows.seasons import Span, season_year


class Window(NamedTuple):
    """When a job may be done, by when it should be, and how often it comes.

    `occurrence` names it for good: two windows of one job never share a name, and the
    same window has the same name whenever it is asked for.
    """

    opens: date
    due: date
    rhythm_days: int
    occurrence: str
    by_clock: str = ""


class Done(NamedTuple):
    """A day on which the job was done; `occurrence` when it is known for which."""

    on: date
    occurrence: str = ""


class History(NamedTuple):
    """What is on record about one job on one tree, block or orchard.

    `stages` are BBCH codes as logged; `flags` are standing facts of the orchard, such
    as fruit_fly_area.
    """

    done: tuple[Done, ...] = ()
    events: tuple[tuple[str, date], ...] = ()
    stages: tuple[tuple[int, date], ...] = ()
    planted_on: date | None = None
    flags: frozenset[str] = frozenset()

    @property
    def last_done(self) -> date | None:
        """Give the last day the job was done, None when it never was."""
        return max((done.on for done in self.done), default=None)

    def name_after(self, day: date) -> str:
        """Name a repeating window by the time it counts from, even if done twice."""
        times = sum(entry.on == day for entry in self.done)
        if times == 0:
            return "first"
        return f"after {day}" if times == 1 else f"after {day} #{times}"

    def days_of(self, event: str) -> list[date]:
        """List the days of an event; planting counts as one."""
        days = {day for name, day in self.events if name == event}
        if event == "planted" and self.planted_on is not None:
            days.add(self.planted_on)
        return sorted(days)


def overlaps(window: Window, start: date, end: date) -> bool:
    """Say whether a window opens by `end` and is due no earlier than `start`."""
    return window.opens <= end and window.due >= start


@lru_cache(maxsize=4096)
def spans_between(
    spans: tuple[Span, ...], start: date, end: date, latitude: float
) -> tuple[tuple[str, date, date, date], ...]:
    """Return name, first and last day, and first day a year later, of each span.

    Every tree of an orchard asks for the same ones, so they are reckoned once.
    """
    found = []
    years = range(season_year(start, latitude) - 1, season_year(end, latitude) + 2)
    for year in years:
        for number, span in enumerate(spans, start=1):
            first, last = span.dates(year, latitude)
            if first <= end and last >= start:
                name = f"{year}" if len(spans) == 1 else f"{year}/{number}"
                found.append((name, first, last, span.dates(year + 1, latitude)[0]))
    return tuple(found)


def is_closed(name: str, first: date, again: date, done: Iterable[Done]) -> bool:
    """Say whether a span's job is done: by name, or by a day before it comes again."""
    return any(
        entry.occurrence == name if entry.occurrence else first <= entry.on < again
        for entry in done
    )


def still_open(planned: list[Window], done: tuple[Done, ...]) -> list[Window]:
    """Strike out what is done: by name, else the latest window that had opened."""
    left = [
        window
        for window in planned
        if not any(entry.occurrence == window.occurrence for entry in done)
    ]
    for entry in sorted(done, key=lambda done: done.on):
        opened = [window for window in left if window.opens <= entry.on]
        if not entry.occurrence and opened:
            left.remove(opened[-1])
    return left
