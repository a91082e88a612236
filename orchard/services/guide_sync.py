"""Upkeep: keep an orchard's rows in step with the guide."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext as _

from orchard.records.models import (
    CarePlan,
    Forecast,
    Kind,
    Orchard,
    PestStatus,
    WeatherDay,
)
from orchard.science import guide
from orchard.science.guide import CareJob
from orchard.science.windows import AllOf, AnyOf, Measured, Trigger
from orchard.science.words import JobRole
from orchard.services import audit
from orchard.services.audit import Verb

# What a person may find out by looking (dry soil, ripe fruit) needs no station.
BY_WEATHER = ("forecast_min", "forecast_max", "heat_units", "water_balance")


def bring_up_to_date(orchard: Orchard, now: datetime) -> dict[str, int]:
    """Add what the guide has gained since; safe to run any number of times.

    What a person has set stays as it is. Returns how many rows of each sort changed.
    """
    # Read before anybody is kept waiting: once in a process it takes a while.
    edition = guide.load().edition
    with transaction.atomic():
        gained = {
            "kinds": _add_kinds(orchard),
            "pest_statuses": _add_pest_statuses(orchard, now),
            "care_plan": _add_care_plan(orchard, now),
            "care_plan_switched": review_care_plan(orchard, now),
        }
        gained = {sort: count for sort, count in gained.items() if count}
        if gained:
            audit.write(
                Verb.BRING_UP_TO_DATE,
                orchard,
                by=None,
                now=now,
                orchard=orchard,
                after={**gained, "edition": edition},
            )
    return gained


def _add_kinds(orchard: Orchard) -> int:
    present = set(orchard.kinds.values_list("guide_key", flat=True))
    # A kind that the orchard added itself keeps its name.
    names = {name.lower() for name in orchard.kinds.values_list("name", flat=True)}
    rows = [
        Kind(
            orchard=orchard,
            name=cultivar.name,
            host=cultivar.host,
            group=cultivar.group,
            guide_key=cultivar.name,
            tender_class=cultivar.tenderness,
        )
        for cultivar in guide.load().cultivars.values()
        if cultivar.name not in present and cultivar.name.lower() not in names
    ]
    Kind.objects.bulk_create(rows)
    return len(rows)


def _add_pest_statuses(orchard: Orchard, now: datetime) -> int:
    present = set(orchard.pest_statuses.values_list("code", flat=True))
    rows = [
        PestStatus(
            orchard=orchard, code=pest.code, status=pest.usual_status.value, set_at=now
        )
        for pest in guide.load().pests.values()
        if pest.code not in present
    ]
    PestStatus.objects.bulk_create(rows)
    return len(rows)


def _add_care_plan(orchard: Orchard, now: datetime) -> int:
    present = set(orchard.care_plan.values_list("job", flat=True))
    keeps_weather = _keeps_weather(orchard)
    rows = []
    for job in guide.load().jobs.values():
        if job.key not in present:
            reason = _why_off(orchard, job, keeps_weather=keeps_weather)
            rows.append(
                CarePlan(
                    orchard=orchard,
                    job=job.key,
                    active=not reason,
                    reason=reason,
                    set_at=now,
                )
            )
    CarePlan.objects.bulk_create(rows)
    return len(rows)


def review_care_plan(orchard: Orchard, now: datetime) -> int:
    """Switch the jobs that nobody has set by hand to what the orchard now calls for."""
    keeps_weather = _keeps_weather(orchard)
    switched = []
    for row in orchard.care_plan.filter(set_by=None):
        job = guide.load().jobs.get(row.job)
        reason = row.reason
        if job:
            reason = _why_off(orchard, job, keeps_weather=keeps_weather)
        if job and (row.active, row.reason) != (not reason, reason):
            row.active, row.reason, row.set_at = not reason, reason, now
            switched.append(row)
    CarePlan.objects.bulk_update(switched, ["active", "reason", "set_at"])
    return len(switched)


def _why_off(orchard: Orchard, job: CareJob, *, keeps_weather: bool) -> str:
    """Say why a job makes no sense in an orchard unless somebody asks for it."""
    if job.opt_in:
        return job.opt_in
    if JobRole.FROST_SEASON in job.roles and not orchard.frost_from:
        return _("No frost season is set for this orchard.")
    if _waits_for_weather(job.trigger) and not keeps_weather:
        return _(
            "It starts by measured weather or a forecast, and none is recorded here "
            "yet."
        )
    return ""


def _waits_for_weather(trigger: Trigger) -> bool:
    match trigger:
        case AnyOf():
            return all(_waits_for_weather(part) for part in trigger.triggers)
        case AllOf():
            return any(_waits_for_weather(part) for part in trigger.triggers)
        case Measured():
            return trigger.kind in BY_WEATHER
        case _:
            return False


def _keeps_weather(orchard: Orchard) -> bool:
    if orchard.pk is None:
        return False
    forecast = Forecast.objects.in_orchard(orchard).exists()
    return forecast or WeatherDay.objects.in_orchard(orchard).exists()
