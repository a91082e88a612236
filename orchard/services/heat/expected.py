"""When an event of the season is to be expected, by own past years, with its range."""

from __future__ import annotations

import statistics
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from orchard.science import guide, heat
from orchard.science.figures import days, figure
from orchard.services.explained import Input, Number
from orchard.services.heat.seasons import HeatEvent, HeatSeason, run_with

# Sums of the same days differ in their last bits; a day must not hang on that.
A_HAIR = 1e-6
BBCH = "Agustí, M. et al. (1997), BBCH scale for citrus"


@dataclass(frozen=True, slots=True)
class FollowingJob:
    """A job of the care plan that goes with an event."""

    job: str
    name: str


@dataclass(frozen=True, slots=True)
class ExpectedEvent:
    """When an event is to be expected, from own past years, with an honest range."""

    key: str
    name: str
    came_on: date | None
    # The day on which this season's heat passed what it took in past years.
    passed_on: date | None
    target: Number
    expected_on: date | None
    earliest_on: date | None
    latest_on: date | None
    years: int
    weather_years: int
    why_not: str
    follows: tuple[FollowingJob, ...]

    @property
    def has_range(self) -> bool:
        return self.earliest_on is not None and self.earliest_on != self.latest_on


def event_name(key: str) -> str:
    """Name an event of the season."""
    return {
        "flush": _("next growth flush"),
        "petal_fall": _("petal fall"),
        "ripening": _("ripe fruit"),
    }[key]


def expect(
    event: HeatEvent,
    current: HeatSeason,
    past: Sequence[HeatSeason],
    runs: Sequence[heat.Sums],
    today: date,
    complete: bool,
) -> ExpectedEvent:
    """Return when an event will come, or has come, or why no day is told."""
    targets = _targets(event, past)
    came_on = current.events.get(event.key)
    dates: list[date] = []
    best: date | None = None
    passed_on = None
    if came_on is None and targets and current.sums:
        passed_on = heat.reached_on(current.sums, statistics.median(targets))
    why_not = ""
    years_used = 0
    if came_on is None and targets and passed_on is None:
        if not complete:
            why_not = _("Temperatures are missing since bloom, so no day is told.")
        else:
            so_far = current.sums[-1][1]
            dates, years_used = _analog_days(so_far, targets, runs, today)
            best = _usual_day(so_far, statistics.median(targets), runs, today)
            if best is None and not dates:
                why_not = _("Past weather does not reach far enough to tell a day.")
    elif came_on is None and not targets:
        why_not = _(
            "No own year yet in which bloom, this and all days between are on record."
        )
    if best is not None:
        dates.append(best)
    return ExpectedEvent(
        key=event.key,
        name=event_name(event.key),
        came_on=came_on,
        passed_on=passed_on,
        target=_target(event, targets),
        expected_on=best,
        earliest_on=min(dates, default=None),
        latest_on=max(dates, default=None),
        years=len(targets),
        weather_years=years_used,
        why_not=why_not,
        follows=tuple(_follows(event)),
    )


def _targets(event: HeatEvent, past: Iterable[HeatSeason]) -> list[float]:
    found = []
    for season in past:
        on = season.events.get(event.key)
        if on is None or not season.sums:
            continue
        place = (on - season.sums[0][0]).days
        if 0 <= place < len(season.sums):
            found.append(season.sums[place][1] - A_HAIR)
    return found


def _target(event: HeatEvent, targets: Sequence[float]) -> Number:
    what = _("Heat it took in past years")
    if not targets:
        return Number(
            what, None, "°C·day", law="heat.reached_on", missing=_("none yet")
        )
    years = ngettext("%(count)d own year", "%(count)d own years", len(targets))
    return Number(
        what,
        statistics.median(targets),
        "°C·day",
        law="heat.reached_on",
        method=_("Middle of %(years)s; sums from bloom to the day it was noted.")
        % {"years": years % {"count": len(targets)}},
        source=BBCH,
        inputs=tuple(
            Input(_("One year"), target, "°C·day") for target in sorted(targets)
        ),
        digits=0,
    )


def _analog_days(
    so_far: float, targets: Iterable[float], runs: Sequence[heat.Sums], today: date
) -> tuple[list[date], int]:
    """Return the day each target would come if the rest went as in each past year."""
    found: list[date] = []
    used = 0
    season = days("longest_season_days")
    for back in range(1, round(figure("heat_years_back").value) + 1):
        start = _years_earlier(today, back)
        run = run_with(runs, start)
        if run is None:
            continue
        end = min(run.last, start + season)
        sums = run.since(start, end)
        reached = []
        for target in targets:
            left = target - so_far
            on = heat.reached_on(sums, left) if left > 0 else start
            if on is not None:
                reached.append(today + (on - start))
        used += bool(reached)
        found += reached
    return found, used


def _usual_day(
    so_far: float, target: float, runs: Sequence[heat.Sums], today: date
) -> date | None:
    """Return the day by the orchard's usual warmth, a mean over its past years."""
    history = [row for run in runs for row in run.units]
    try:
        usual = heat.usual_days(history, today, days("longest_season_days").days)
    except ValueError:
        return None
    return heat.expected_date(so_far, target, usual)


def _years_earlier(day: date, years: int) -> date:
    day_of_month = 28 if (day.month, day.day) == (2, 29) else day.day
    return date(day.year - years, day.month, day_of_month)


def _follows(event: HeatEvent) -> Iterable[FollowingJob]:
    for job in guide.load().jobs_with(event.role):
        yield FollowingJob(job.key, job.name)
