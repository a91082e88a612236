"""What holds a piece of work up: frost, bloom, young roots, an open case."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime

from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from orchard.records.models import Orchard, StageNote, Task, Tree
from orchard.science import guide, windows
from orchard.science.figures import days
from orchard.science.guide import Value
from orchard.science.verdict import VerdictStep, steps_for, the_work
from orchard.science.words import JobRole, Verdict, WorkKind
from orchard.services import holds as tree_holds
from orchard.services.facts import frost_ahead, in_frost_season
from orchard.services.holds import TreeHold
from orchard.services.tasks.plans import plan_place
from orchard.services.weather import Outside, ahead


@dataclass(frozen=True, slots=True)
class Circumstances:
    """What an orchard's work may have to wait for today, read once for a page."""

    today: date
    frost: bool
    heat: bool
    season: str
    stages: dict[int | str, int]
    holds: Mapping[int, tuple[TreeHold, ...]]
    # The growing trees of each block that has one under a hold, by their codes.
    blocks: Mapping[int, Mapping[str, tuple[TreeHold, ...]]]

    def stage_of(self, task: Task) -> int | None:
        """Return the newest growth stage noted for a task's tree or its group."""
        if task.tree is None:
            return None
        own = self.stages.get(task.tree.pk)
        return self.stages.get(task.tree.kind.group) if own is None else own

    def holds_on(self, task: Task) -> tuple[TreeHold, ...]:
        """Return the holds on a task's tree."""
        return () if task.tree_id is None else self.holds.get(task.tree_id, ())


def circumstances(
    orchard: Orchard,
    *,
    today: date,
    now: datetime | None = None,
    holds: Mapping[int, tuple[TreeHold, ...]] | None = None,
    outside: Outside | None = None,
) -> Circumstances:
    """Read what holds work up in an orchard today, in a fixed number of queries.

    What ends in the course of today has ended where a moment is given. `holds` are
    those on its trees and `outside` what is forecast, where they were read before.
    """
    if holds is None:
        holds = tree_holds.holds_of(orchard, today=today, now=now)
    weather = outside or ahead(orchard, today)
    return _circumstances(orchard, today, holds, _blocks(orchard, holds), weather)


def circumstances_of(tree: Tree, *, today: date, now: datetime) -> Circumstances:
    """Read what holds up work at one tree today, and nothing of its neighbours."""
    holds = tree_holds.holds_of(tree.orchard, [tree.pk], today=today, now=now)
    weather = ahead(tree.orchard, today)
    return _circumstances(tree.orchard, today, holds, {}, weather)


def _circumstances(
    orchard: Orchard,
    today: date,
    holds: Mapping[int, tuple[TreeHold, ...]],
    blocks: Mapping[int, Mapping[str, tuple[TreeHold, ...]]],
    weather: Outside,
) -> Circumstances:
    notes = (
        StageNote.objects.current()
        .filter(orchard=orchard, seen_on__lte=today)
        .filter(seen_on__gte=today - days("stage_note_days"))
        .order_by("seen_on", "id")
        .values_list("tree_id", "group", "bbch")
    )
    in_season = in_frost_season(orchard, today)
    return Circumstances(
        today=today,
        frost=frost_ahead(in_season, weather.frost_forecast) is True,
        heat=weather.heat_ahead is True,
        season=windows.season(today, float(orchard.latitude)).value,
        stages={tree_id or group: bbch for tree_id, group, bbch in notes},
        holds=holds,
        blocks=blocks,
    )


def steps_of(task: Task, now: Circumstances) -> tuple[VerdictStep, ...]:
    """List the steps of a task about a sign, each with what it waits for today."""
    sign = guide.load().signs.get(task.key)
    if task.kind not in (Task.Kind.ACT, Task.Kind.REPORT) or sign is None:
        return ()
    verdict = Verdict.REPORT if task.kind == Task.Kind.REPORT else Verdict.ACT
    plan = plan_place(task.kind, sign, task.finding)
    steps = steps_for(sign, _facts(task, now), verdict, plan)
    return tree_holds.with_holds(steps, now.holds_on(task))


def why_it_waits(task: Task, now: Circumstances) -> tuple[str, ...]:
    """Say in sentences what holds a task up today; nothing when it may go ahead."""
    reasons: list[str] = []
    if task.kind in Task.OF_A_JOB:
        job = guide.load().jobs.get(task.key)
        work = _work_of(task)
        reasons += _forbidden(task, work, now)
        if job is not None:
            reasons += windows.waits(
                job.not_while,
                frost=now.frost,
                heat=now.heat,
                bbch=now.stage_of(task),
            )
        feeds = JobRole.FEEDING in job.roles if job else WorkKind.FEEDING in work
        if feeds:
            reasons += _young(task, now)
    elif task.kind == Task.Kind.ACT:
        # A report never waits, and of many steps one is what the task is about.
        step = the_work(steps_of(task, now))
        reasons += [step.waits] if step is not None and step.waits else []
    return tuple(dict.fromkeys(reasons))


def left_out(task: Task, now: Circumstances) -> tuple[str, ...]:
    """Name the trees that a task of many passes by today, by their codes."""
    if task.tree_id is not None:
        return ()
    work = _work_of(task)
    return tuple(
        code
        for code, holds in _trees_of(task, now)
        if tree_holds.reasons_for(holds, work=work)
    )


def holds_to_mind(task: Task, now: Circumstances) -> tuple[str, ...]:
    """Say in sentences which holds stand where work of no known kind is asked for.

    Whether they forbid it nobody but the reader can tell, so it need not wait.
    """
    is_known = task.kind not in Task.OF_A_JOB or task.key in guide.load().jobs
    if is_known or _work_of(task):
        return ()
    if task.tree_id is not None:
        return tuple(dict.fromkeys(hold.reason for hold in now.holds_on(task)))
    codes = [code for code, holds in _trees_of(task, now) if holds]
    if not codes:
        return ()
    text = ngettext(
        "%(codes)s has a hold. Read its page first.",
        "%(codes)s have holds. Read their pages first.",
        len(codes),
    )
    return (text % {"codes": ", ".join(codes)},)


def is_forbidden(task: Task, holds: Iterable[TreeHold]) -> bool:
    """Say whether holds on a task's tree forbid what it asks for."""
    sign = guide.load().signs.get(task.key) if task.kind == Task.Kind.ACT else None
    step = None
    if sign is not None:
        step = the_work(sign.plan(plan_place(task.kind, sign, task.finding)).steps)
    return bool(
        tree_holds.reasons_for(
            holds, work=_work_of(task), step=step.kind if step is not None else None
        )
    )


def _trees_of(
    task: Task, now: Circumstances
) -> Iterable[tuple[str, tuple[TreeHold, ...]]]:
    """Yield the trees of a task of many by their codes, from each block with a hold."""
    for block_id, trees in now.blocks.items():
        if task.block_id in (None, block_id):
            yield from trees.items()


def _work_of(task: Task) -> tuple[WorkKind, ...]:
    if task.kind not in Task.OF_A_JOB:
        return ()
    job = guide.load().jobs.get(task.key)
    if job is not None:
        return job.work
    asked = task.request
    return (WorkKind(asked.work),) if asked is not None and asked.work else ()


def _forbidden(
    task: Task, work: tuple[WorkKind, ...], now: Circumstances
) -> Iterable[str]:
    """Return why work is forbidden on a task's tree, or on all trees of its block."""
    if task.tree_id is not None:
        return tree_holds.reasons_for(now.holds_on(task), work=work)
    trees = now.blocks.get(task.block_id or 0, {})
    found = [tree_holds.reasons_for(holds, work=work) for holds in trees.values()]
    return [reason for reasons in found for reason in reasons] if all(found) else []


def _blocks(
    orchard: Orchard, holds: Mapping[int, tuple[TreeHold, ...]]
) -> dict[int, dict[str, tuple[TreeHold, ...]]]:
    if not holds:
        return {}
    trees = Tree.objects.in_orchard(orchard).looked_after()
    rows = (
        trees.filter(
            spot__block__in=trees.filter(pk__in=holds).values("spot__block").distinct()
        )
        .in_walking_order()
        .values_list("pk", "code", "spot__block_id")
    )
    found: dict[int, dict[str, tuple[TreeHold, ...]]] = {}
    for tree_id, code, block_id in rows:
        found.setdefault(block_id, {})[code] = holds.get(tree_id, ())
    return found


def _young(task: Task, now: Circumstances) -> Iterable[str]:
    """Yield the sentence that keeps feed from roots that are not in yet."""
    planted_on = task.tree.dates.last_planted_on if task.tree else None
    if planted_on is None:
        return
    wait = days("planting_settles_days")
    if now.today < planted_on + wait:
        yield _(
            "Planted less than %(count)d days ago: no feed before %(day)s, because the "
            "roots have not grown in yet."
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
    planted_d = task.tree.dates.planted_days_on(now.today) if task.tree else None
    if planted_d is not None:
        facts["planted_d"] = planted_d
    return facts
