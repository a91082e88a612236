"""When an event of the season is to be expected, by own past years, with its range."""

from __future__ import annotations

import statistics
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from orchard.science import guide, heat
from orchard.science.figures import days, figure
from orchard.services.explained import Input, Number
from orchard.services.heat.seasons import HeatEvent, HeatSeason, Warmth

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
    # So many days sooner or later.
    margin_days: int
    # When it usually comes by the calendar, as far as the guide says.
    window: tuple[date, date] | None
    years: int
    weather_years: int
    why_not: str
    follows: tuple[FollowingJob, ...]


def event_name(key: str) -> str:
    """Name an event of the season."""
    return {
        "flush": _("next growth flush"),
        "petal_fall": _("petal fall"),
        "ripening": _("ripe fruit"),
    }[key]


@dataclass(frozen=True, slots=True)
class Prediction:
    """A day told from heat with its margin, the day it passed, or why neither is."""

    expected_on: date | None = None
    margin_days: int = 0
    passed_on: date | None = None
    weather_years: int = 0
    why_not: str = ""


def expect(
    event: HeatEvent,
    current: HeatSeason,
    past: Sequence[HeatSeason],
    warmth: Warmth,
    window: tuple[date, date] | None,
    today: date,
) -> ExpectedEvent:
    """Return when an event will come, or has come, or why no day is told.

    A day is never earlier than the calendar's window of the event.
    """
    targets = _targets(event, past)
    came_on = current.events.get(event.key)
    found = Prediction()
    if came_on is None:
        found = _predict(current, targets, warmth, today)
    first = window[0] if window else date.min
    expected_on, passed_on = found.expected_on, found.passed_on
    if passed_on is not None and max(passed_on, first) >= today:
        expected_on, passed_on = first, None
    return ExpectedEvent(
        key=event.key,
        name=event_name(event.key),
        came_on=came_on,
        passed_on=max(passed_on, first) if passed_on else None,
        target=_target(event, targets),
        expected_on=max(expected_on, first) if expected_on else None,
        margin_days=found.margin_days,
        window=window,
        years=len(targets),
        weather_years=found.weather_years,
        why_not=found.why_not,
        follows=tuple(_follows(event)),
    )


def _predict(
    current: HeatSeason, targets: Sequence[float], warmth: Warmth, today: date
) -> Prediction:
    why_not = _too_little_to_tell(current, targets, today)
    if why_not:
        return Prediction(why_not=why_not)
    least = round(figure("heat_least_margin_days").value)
    target, so_far = statistics.median(targets), current.sums[-1][1]
    passed_on = heat.reached_on(current.sums, target)
    if passed_on is not None:
        return Prediction(passed_on=passed_on, margin_days=least)
    best = None
    if warmth.usual is not None:
        best = heat.expected_date(so_far, target, warmth.usual)
    if best is None or warmth.usual is None:
        return Prediction(
            why_not=_("Past weather doesn't reach far enough to give a date.")
        )
    usual = dict(warmth.usual)
    if usual[best] < figure("heat_flat_units").value:
        return Prediction(
            why_not=_(
                "It would fall in winter, when there is too little heat to give a date."
            )
        )
    dates, years = _analog_days(so_far, targets, warmth, today)
    spread = max((abs((on - best).days) for on in dates), default=0)
    return Prediction(best, max(least, spread), weather_years=years)


def _too_little_to_tell(
    current: HeatSeason, targets: Sequence[float], today: date
) -> str:
    """Say what is wanting for a day to be told from heat, "" where nothing is."""
    fewest = round(figure("heat_fewest_seasons").value)
    if len(targets) < fewest:
        return ngettext(
            "It takes %(count)d own season with bloom, this and the days between on "
            "record.",
            "It takes %(count)d own seasons with bloom, this and the days between on "
            "record.",
            fewest,
        ) % {"count": fewest}
    if not current.sums or current.sums[-1][0] != today - timedelta(days=1):
        return _("Temperatures are missing since bloom, so no date can be given.")
    if not current.rests_on_measurements:
        return _("Too many temperatures since bloom are estimated to give a date.")
    least = figure("heat_least_share").value
    if current.sums[-1][1] < least * statistics.median(targets):
        return _("At least %(share)d %% of that heat has to come first.") % {
            "share": round(least * 100)
        }
    return ""


def _targets(event: HeatEvent, past: Iterable[HeatSeason]) -> list[float]:
    found = []
    for season in past:
        on = season.events.get(event.key)
        if on is None or not season.sums or not season.rests_on_measurements:
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
        method=_("Median of %(years)s, from bloom to the day it was recorded.")
        % {"years": years % {"count": len(targets)}},
        source=BBCH,
        inputs=tuple(
            Input(_("One year"), target, "°C·day") for target in sorted(targets)
        ),
        digits=0,
    )


def _analog_days(
    so_far: float, targets: Iterable[float], warmth: Warmth, today: date
) -> tuple[list[date], int]:
    """Return the day each target would come if the rest went as in each past year."""
    found: list[date] = []
    used = 0
    season = days("longest_season_days")
    for back in range(1, round(figure("heat_years_back").value) + 1):
        start = _years_earlier(today, back)
        run = warmth.run_with(start)
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


def _years_earlier(day: date, years: int) -> date:
    day_of_month = 28 if (day.month, day.day) == (2, 29) else day.day
    return date(day.year - years, day.month, day_of_month)


def _follows(event: HeatEvent) -> Iterable[FollowingJob]:
    for job in guide.load().jobs_with(event.role):
        yield FollowingJob(job.key, job.name)
