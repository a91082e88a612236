"""What holds a piece of work up: frost, bloom, young roots, an open case."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date

from django.utils.formats import date_format
from django.utils.translation import gettext as _

from orchard.records.models import Orchard, StageNote, Task
from orchard.science import guide, windows
from orchard.science.figures import days
from orchard.science.guide import Sign, Value
from orchard.science.verdict import VerdictStep, steps_for, the_work
from orchard.science.words import JobRole, Verdict
from orchard.services.facts import frost_ahead, in_frost_season
from orchard.services.holds import Forbidden, TreeHold, holds_of
from orchard.services.weather import ahead


@dataclass(frozen=True, slots=True)
class Circumstances:
    """What an orchard's work may have to wait for today, read once for a page."""

    today: date
    frost: bool
    heat: bool
    season: str
    stages: dict[int | str, int]
    holds: Mapping[int, tuple[TreeHold, ...]]

    def stage_of(self, task: Task) -> int | None:
        """Return the newest growth stage noted for a task's tree or its group."""
        if task.tree is None:
            return None
        own = self.stages.get(task.tree.pk)
        return self.stages.get(task.tree.kind.group) if own is None else own

    def holds_on(self, task: Task, forbidden: Forbidden) -> list[str]:
        """Return why something is forbidden with a task's tree, in sentences."""
        if task.tree_id is None:
            return []
        holds = self.holds.get(task.tree_id, ())
        return [hold.reason for hold in holds if hold.forbids is forbidden]


def today_in(orchard: Orchard, *, today: date) -> Circumstances:
    """Read what holds work up in an orchard today, in a fixed number of queries."""
    notes = (
        StageNote.objects.current()
        .filter(orchard=orchard, seen_on__lte=today)
        .filter(seen_on__gte=today - days("stage_note_days"))
        .order_by("seen_on", "id")
        .values_list("tree_id", "group", "bbch")
    )
    weather = ahead(orchard, today)
    in_season = in_frost_season(orchard, today)
    return Circumstances(
        today=today,
        frost=frost_ahead(in_season, weather.frost_forecast) is True,
        heat=weather.heat_ahead is True,
        season=windows.season(today, float(orchard.latitude)).value,
        stages={tree_id or group: bbch for tree_id, group, bbch in notes},
        holds=holds_of(orchard, today=today),
    )


def steps_of(task: Task, now: Circumstances) -> tuple[VerdictStep, ...]:
    """List the steps of a task about a sign, each with what it waits for today."""
    sign = guide.load().signs.get(task.key)
    if task.kind not in (Task.Kind.ACT, Task.Kind.REPORT) or sign is None:
        return ()
    verdict = Verdict.REPORT if task.kind == Task.Kind.REPORT else Verdict.ACT
    return steps_for(sign, _facts(task, now), verdict, plan_of(task, sign))


def plan_of(task: Task, sign: Sign) -> int:
    """Return the plan of the rule that a task's finding matched."""
    verdict = Verdict.REPORT if task.kind == Task.Kind.REPORT else Verdict.ACT
    facts = task.finding.facts if task.finding is not None else {}
    return sign.plan_for(facts, verdict)


def why_it_waits(task: Task, now: Circumstances) -> tuple[str, ...]:
    """Say in sentences what holds a task up today; nothing when it may go ahead."""
    reasons = now.holds_on(task, Forbidden.LEAVING)
    if task.kind == Task.Kind.CARE:
        job = guide.load().jobs.get(task.key)
        stage = now.stage_of(task)
        if job is not None:
            reasons += windows.waits(
                job.not_while, frost=now.frost, heat=now.heat, bbch=stage
            )
            if JobRole.FEEDING in job.roles:
                reasons += _young(task, now)
            if JobRole.HARVEST in job.roles:
                reasons += now.holds_on(task, Forbidden.PICKING)
    elif task.kind == Task.Kind.ACT:
        # A report never waits, and of many steps one is what the task is about.
        step = the_work(steps_of(task, now))
        reasons += [step.waits] if step is not None and step.waits else []
    return tuple(dict.fromkeys(reasons))


def _young(task: Task, now: Circumstances) -> Iterable[str]:
    """Yield the sentence that keeps feed from roots that are not in yet."""
    planted_on = task.tree.planted_on if task.tree else None
    if planted_on is None:
        return
    wait = days("planting_settles_days")
    if now.today < planted_on + wait:
        yield _(
            "Planted less than %(count)d days ago: no feed before %(day)s, the roots "
            "are not in."
        ) % {"count": wait.days, "day": date_format(planted_on + wait, "j M Y")}


def _facts(task: Task, now: Circumstances) -> dict[str, Value]:
    facts: dict[str, Value] = {
        "frost_ahead": now.frost,
        "heat_ahead": now.heat,
        "season": now.season,
    }
    stage = now.stage_of(task)
    if stage is not None:
        facts["bbch"] = stage
    if task.tree is not None and task.tree.planted_on:
        facts["planted_d"] = (now.today - task.tree.planted_on).days
    return facts
