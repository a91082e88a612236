"""Measurements for the care plan: weather, soil and fruit as the book knows them."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from math import ceil
from zoneinfo import ZoneInfo

from django.utils.formats import date_format, number_format
from django.utils.translation import gettext as _

from orchard.records.models import GrowingTree, Orchard, Task, Tree, job_keys
from orchard.science import figures, frost, sun, units
from orchard.science.guide import CareJob
from orchard.science.windows import (
    AfterEvent,
    Done,
    History,
    Measured,
    Measurements,
    Trigger,
    Window,
    occurrences,
)
from orchard.science.words import JobRole
from orchard.services import water
from orchard.services.care_plan import phenology
from orchard.services.care_plan.context import Context, Subject, parts_of
from orchard.services.water import RootWater
from orchard.services.weather import (
    Day,
    Expected,
    Missing,
    Offset,
    doubted_minima,
    expected,
    frost_risk,
    night_name,
    span,
    unbroken,
)
from orchard.services.weather import offsets as weather_offsets

A_DAY = timedelta(days=1)
# Measured for each tree by itself.
OWN_WATER = {"soil_moisture", "water_balance", "soil_level"}
# So begins the name of a watering that a balance asked for.
DRY_SINCE = "dry since"


@dataclass(frozen=True, slots=True)
class Weather:
    """An orchard's weather and soil around a day, read once for all its jobs."""

    orchard: Orchard
    today: date
    coming: Mapping[date, Expected]
    # Nights whose forecast nobody was asked about and nobody would believe.
    doubted: frozenset[date]
    # What the nights that are forecast are colder or warmer by; none without any.
    offsets: Mapping[int | None, Offset]
    days: tuple[Day | Missing, ...]
    ground: RootWater
    dry: Mapping[int, date]
    shoulders: Mapping[int, tuple[date, float]]
    cover_by: str


def needs(jobs: Iterable[CareJob], kind: str = "") -> bool:
    """Tell whether any of the jobs waits for a measurement (of one kind)."""
    return any(
        isinstance(part, Measured) and kind in ("", part.kind)
        for job in jobs
        for part in parts_of(job.trigger)
    )


def counts_rain(job: CareJob) -> bool:
    """Tell whether a job waters every few days, so that rain can take its turn."""
    return JobRole.WATERING in job.roles and isinstance(job.trigger, AfterEvent)


def with_rain(history: History, weather: Weather, trigger: Trigger) -> History:
    """Add the days on which rain met what the tree had used since the last turn."""
    rained = [Done(on) for on in rained_on(history, weather, trigger)]
    return history._replace(done=(*history.done, *rained))


def rained_on(history: History, weather: Weather, trigger: Trigger) -> list[date]:
    """Return the days on which rain met what the tree had used since the last turn.

    More than was used runs past a small root ball and is not carried on. Where a gap
    hides what was used after the last turn, the days of a whole interval are needed.
    """
    starts = [*(done.on for done in history.done), *history.days_of("planted")]
    since = max(starts, default=date.min)
    interval = _longest_interval(trigger)
    days = [day for day in weather.ground.zone_days if day.on > since]
    is_known = bool(days) and days[0].on - since == A_DAY
    used = soaked = 0.0
    watered = []
    for place, day in enumerate(days, start=1):
        used += day.need
        soaked = min(soaked + day.soaked, used)
        is_known = is_known or place >= interval
        if is_known and 0.0 < used == soaked:
            watered.append(day.on)
            used = soaked = 0.0
    return watered


def _longest_interval(trigger: Trigger) -> int:
    if not isinstance(trigger, AfterEvent):
        return 0
    return max(trigger.every or 0, trigger.then_every or 0)


def read_measurements(
    context: Context, jobs: Iterable[CareJob], *, now: datetime
) -> Weather:
    """Read what the jobs have to know, in a fixed number of queries."""
    orchard, today = context.orchard, context.today
    jobs = list(jobs)
    back = figures.days(
        "heat_sum_back_days" if needs(jobs, "heat_units") else "water_balance_days"
    )
    days = span(orchard, today - back, today)
    dry, shoulders = water.soil_lately_seen(orchard, today)
    coming = expected(orchard, today, today + figures.days("forecast_days"), as_of=now)
    return Weather(
        orchard=orchard,
        today=today,
        coming=coming,
        doubted=doubted_minima(
            orchard,
            {
                on: row.tmin
                for on, row in coming.items()
                if row.tmin is not None and "tmin" in row.from_file
            },
        ),
        offsets=(
            weather_offsets(orchard)
            if any(row.tmin is not None for row in coming.values())
            else {}
        ),
        days=days,
        ground=water.read_root_water(orchard, days, today=today, crowns=context.crowns),
        dry=dry,
        shoulders=shoulders,
        cover_by=_cover_by(orchard, today),
    )


def measurements_of(
    weather: Weather, context: Context, job: CareJob, subject: Subject, history: History
) -> Measurements:
    """Return what is measured for one subject of a job: no more than the job asks."""
    trees = (subject.tree,) if subject.tree else context.trees_of(subject)
    trees = context.free_of(trees, job)
    tree = subject.tree
    asked = context.needs_of(job).measured
    found = Measurements(today=weather.today, cover_by=weather.cover_by)
    if "forecast_min" in asked:
        offset = _offset(weather, tree)
        trees = tuple(
            row for row in trees if job.applies_to(context.facts_of(row)) is not False
        )
        found = found._replace(
            minima=tuple(
                (on, row.tmin + offset)
                for on, row in weather.coming.items()
                if row.tmin is not None
            ),
            cover_at_c=max((cover_at(row, context) for row in trees), default=None),
        )
    if asked & {"forecast_max", "soil_moisture"}:
        found = found._replace(maxima=_maxima(weather))
    if "heat_units" in asked:
        found = found._replace(days=_run_up_to_today(weather, history))
    if asked & {"soil_moisture", "water_balance"}:
        found = found._replace(
            soil_dry=_dry(weather, tree),
            depleted=_driest(weather, job, context, subject),
        )
    if "soil_level" in asked and tree is not None:
        found = found._replace(below_shoulder=weather.shoulders.get(tree.pk))
    if "maturity" in asked:
        # Work that waits for fruit found ready does not ask for its usual season.
        tests = any(
            isinstance(part, Measured) and not phenology.waits_for_ripe(part)
            for part in parts_of(job.trigger)
        )
        found = found._replace(
            ripe=tuple(phenology.ripe_seasons(trees, context)) if tests else (),
            ready=tuple(phenology.ready(trees, context)),
            retest_on=phenology.retest_on(trees, context),
            holds_clear=bool(trees),
        )
    return found


def likeness(
    weather: Weather | None, context: Context, job: CareJob
) -> Callable[[Subject], Hashable]:
    """Return what gives the same for subjects of a job whose windows are the same."""
    needs, done = context.needs_of(job), context.done
    by_water = weather is not None and not needs.measured.isdisjoint(OWN_WATER)
    offsets = weather.offsets if weather is not None else {}
    works = (job.key, *needs.events)
    worked_on = context.worked_on(works)

    def alike(subject: Subject) -> Hashable:
        target, tree = subject.target, subject.tree
        if tree is None or by_water:
            return target
        offset = offsets.get(tree.spot_id)
        if target in worked_on:
            turns = tuple(done.get((target, work)) for work in works)
            return context.sort_of(tree), offset, turns
        return context.sort_of(tree), offset

    return alike


def asked_now(
    weather: Weather, context: Context, job: CareJob, subject: Subject, history: History
) -> list[Window]:
    """Return the windows that a job's measurements open today."""
    measured = measurements_of(weather, context, job, subject, history)
    today = weather.today
    return occurrences(job.trigger, history, today, today, context.latitude, measured)


def is_forecast(weather: Weather, job: CareJob) -> bool:
    """Tell whether the days a job looks ahead to are forecast, and can be believed."""
    trigger = job.trigger
    if not isinstance(trigger, Measured):
        return False
    name = "tmin" if trigger.kind == "forecast_min" else "tmax"
    days = range(1, _days_ahead(trigger) + 1)
    ahead = [weather.today + timedelta(days=step) for step in days]
    return all(
        day in weather.coming
        and getattr(weather.coming[day], name) is not None
        and not (name == "tmin" and day in weather.doubted)
        for day in ahead
    )


def _days_ahead(trigger: Measured) -> int:
    return ceil(float(trigger.setting("ahead_h")) / 24)


def measured_words(
    trigger: Trigger, window: Window, measured: Measurements, orchard: Orchard
) -> str:
    """Say in a sentence which number asked for a piece of work."""
    if not isinstance(trigger, Measured):
        return ""

    def degrees(celsius: float) -> str:
        value, unit = units.shown(celsius, "°C", orchard.units)
        # Limits lie whole degrees apart; a tenth decides which side a night falls on.
        return (
            f"{number_format(round(value, 1), decimal_pos=1)}\N{NO-BREAK SPACE}{unit}"
        )

    match trigger.kind:
        case "forecast_min":
            until = measured.today + timedelta(days=_days_ahead(trigger))
            nights = [
                (low, on) for on, low in measured.minima if measured.today < on <= until
            ]
            if not nights or measured.cover_at_c is None:
                return ""
            low, dawn_on = min(nights)
            return _(
                "Expected in %(night)s: lowest %(low)s. Cover limit: %(limit)s."
            ) % {
                "night": night_name(dawn_on),
                "low": degrees(low),
                "limit": degrees(measured.cover_at_c),
            }
        case "forecast_max":
            highs = [high for _on, high in measured.maxima]
            return _("Expected: up to %(high)s.") % {"high": degrees(max(highs))}
        case "water_balance" | "soil_moisture" if (
            measured.depleted is not None and window.occurrence.startswith(DRY_SINCE)
        ):
            since, share = measured.depleted
            return _(
                "%(share)d %% of the readily available water is used since %(day)s."
            ) % {"share": round(share * 100), "day": date_format(since, "j M Y")}
        case "maturity" if dict(trigger.settings).get("ready"):
            found = max((day for _name, day, _last in measured.ready), default=None)
            if found is None:
                return ""
            return _("Found ready on %(day)s.") % {"day": date_format(found, "j M Y")}
        case _:
            return ""


def _offset(weather: Weather, tree: GrowingTree | None) -> float:
    """Return a spot's own offset, or the orchard's; 0 while none is learnt."""
    found = weather.offsets.get(tree.spot_id) if tree else None
    found = found or weather.offsets.get(None)
    return found.celsius if found else 0.0


def _maxima(weather: Weather) -> tuple[tuple[date, float], ...]:
    """Give the highs expected, and today's as measured where it was hotter."""
    highs = {on: row.tmax for on, row in weather.coming.items() if row.tmax is not None}
    for day in weather.days[-1:]:
        high = day.value("tmax")
        if high is not None:
            highs[day.on] = max(high, highs.get(day.on, high))
    return tuple(sorted(highs.items()))


def cover_at(tree: GrowingTree, context: Context) -> float:
    """Return the temperature at which a tree is covered: class, age, stage, fruit."""
    return tree_risk(tree, 0.0, context).cover_at_c


def frost_traits(tree: GrowingTree, context: Context) -> tuple[int, bool]:
    """Return what decides a tree's harm in a cold: its facts' place, soft growth."""
    return context.alike.sort_of[tree.pk], phenology.in_soft_growth(tree, context)


def tree_risk(
    tree: GrowingTree,
    minimum: float,
    context: Context,
    *,
    hours_check: float | None = None,
    hours_hold: float | None = None,
) -> frost.Risk:
    """Weigh a minimum (°C) against one tree, with its growth and fruit as noted."""
    traits = frost_traits(tree, context)
    key = (traits, minimum, hours_check, hours_hold)
    if key not in context.risks:
        context.risks[key] = frost_risk(
            tree,
            minimum,
            context.today,
            soft_growth=traits[1],
            fruit_hanging=context.facts_of(tree).get("fruit_hanging") is True,
            hours_check=hours_check,
            hours_hold=hours_hold,
        )
    return context.risks[key]


def sort_by_loss(tasks: list[Task], weather: Weather, context: Context) -> None:
    """Bring the tasks of covering into the order of what the night would cost.

    All others stay before them in the order they had.
    """
    dawn_on = weather.today + timedelta(days=1)
    night = weather.coming.get(dawn_on)
    low = night.tmin if night else None
    if low is None:
        return
    cover_on = job_keys(JobRole.COVER_ON)

    def loss(task: Task) -> tuple[int, int, float]:
        tree = context.growing(task.tree_id)
        if tree is None or task.key not in cover_on:
            return 0, 0, 0.0
        risk = tree_risk(tree, low + _offset(weather, tree), context)
        return 1, -list(frost.Harm).index(risk.harm), risk.spare_c

    tasks.sort(key=loss)


def _potted(tree: GrowingTree) -> bool:
    return tree.setting == Tree.Setting.CONTAINER


def _run_up_to_today(
    weather: Weather, history: History
) -> tuple[tuple[date, float, float], ...]:
    """Return the unbroken days since the earliest noted stage that is remembered."""
    noted = [day for _code, day in history.stages if day >= weather.days[0].on]
    start = min(noted, default=weather.days[0].on)
    return unbroken([day for day in weather.days if day.on >= start])


def _driest(
    weather: Weather, job: CareJob, context: Context, subject: Subject
) -> tuple[date, float] | None:
    """Return what is used up by a tree, or by the driest of those a valve waters."""
    if subject.tree is not None:
        return _used_up(weather, subject.tree)
    used = [
        found
        for tree in context.trees_of(subject)
        if job.applies_to(context.facts_of(tree))
        if (found := _used_up(weather, tree)) is not None
    ]
    return max(used, key=lambda found: found[1], default=None)


def _used_up(weather: Weather, tree: GrowingTree | None) -> tuple[date, float] | None:
    """Return what a tree has used up of the water in its ground or its pot."""
    if tree is None:
        return None
    if _potted(tree):
        return water.container_depletion(weather.ground, tree)
    return water.root_zone_depletion(weather.ground, tree)


def _dry(weather: Weather, tree: GrowingTree | None) -> tuple[date, float] | None:
    on = weather.dry.get(tree.pk) if tree else None
    return (on, figures.figure("finger_depth_cm").value) if on else None


def _cover_by(orchard: Orchard, today: date) -> str:
    """Return the orchard's clock an hour before sunset; nothing without a sunset."""
    light = sun.rise_and_set(today, float(orchard.latitude), float(orchard.longitude))
    if light is None:
        return ""
    by = light.sets_at - figures.hours("cover_before_sunset_h")
    return by.astimezone(ZoneInfo(orchard.time_zone)).strftime("%H:%M")
