"""The page of the inspection form: everything it shows, as plain objects."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from django.http import QueryDict
from django.utils.translation import gettext as _

from orchard.records.days import day_in
from orchard.records.models import Inspection, Orchard, Task, Tree, job_keys
from orchard.science import guide, windows
from orchard.science.units import shown as shown_unit
from orchard.science.words import JobRole, Verdict
from orchard.services import facts, inspections, photos, trees
from orchard.services.inspections import Judged, Look
from orchard.services.tasks import is_forbidden, work_done_at
from orchard.web.pages.inspections import arrangement, packing, sign_blocks
from orchard.web.pages.inspections.forms import InspectionForm, units_of
from orchard.web.pages.inspections.sign_blocks import Option

# Stands where a tree's code does on the form for any tree.
ANY_TREE = "ANY-TREE"


@dataclass(frozen=True, slots=True)
class ConditionStep:
    """One step of the condition, in words."""

    value: str
    name: str
    meaning: str
    checked: bool


def condition_words() -> list[tuple[str, str]]:
    """Return name and meaning of each step from 1 to 5: common practice, no source."""
    return [
        (_("Dying"), _("Most of the canopy is bare or dead; little is left to save.")),
        (_("Poor"), _("Twigs die back, the canopy is thin, hardly any new growth.")),
        (_("Fair"), _("It lives and grows, but is plainly not well.")),
        (_("Good"), _("A full canopy with small faults; new growth in its time.")),
        (_("Thriving"), _("Dense, deep green, strong new growth, nothing wrong.")),
    ]


def page_of(
    tree: Tree,
    *,
    typed: QueryDict,
    form: InspectionForm,
    now: datetime,
    look: Look | None = None,
    seen_at: datetime | None = None,
    corrects: Inspection | None = None,
) -> dict[str, Any]:
    """Return what the form shows: signs in groups, their verdicts, the rest of a look.

    `look` is what was typed, judged: its verdicts then stand on the page, so that it
    can be read without a script.
    """
    zone = ZoneInfo(tree.orchard.time_zone)
    first = None
    if corrects is not None:
        seen_at = seen_at or corrects.seen_at
        first = corrects.findings.order_by("pk").values_list("pk", flat=True).first()
    on = (seen_at or now).astimezone(zone).date()
    ground = facts.gather(
        tree, on=on, before_pk=first, to_show=True, as_growing=corrects is not None
    )
    return {
        **_page(ground, (tree.kind.host,), typed, form, look),
        "tasks": [] if corrects else _tasks(ground, typed),
        "now_day": now.astimezone(zone).date(),
        "corrects": corrects,
        # One question a screen is for what is begun afresh; what was typed before
        # stands as a whole, so that every fault of it is seen.
        "steps": corrects is None
        and look is None
        and not form.faults
        and not typed.get("word", "").strip(),
    }


def blank_of(orchard: Orchard, *, now: datetime) -> dict[str, Any]:
    """Return what a form shows that serves any tree of an orchard.

    Its verdicts know what holds for every tree. The code of its tree stands in for the
    one that a script puts there.
    """
    on = day_in(now, orchard.time_zone)
    ground = facts.gather_for_any(orchard, on=on)
    ground.tree.code = ANY_TREE
    hosts = sorted(trees.hosts_grown(orchard) or {"citrus"})
    form = InspectionForm(tree=ground.tree, now=now)
    return {
        **_page(ground, tuple(hosts), QueryDict(), form, None),
        "tasks": [],
        "now_day": on,
        "corrects": None,
        "steps": True,
    }


def _page(
    ground: facts.Ground,
    hosts: tuple[str, ...],
    typed: QueryDict,
    form: InspectionForm,
    look: Look | None,
) -> dict[str, Any]:
    tree = ground.tree
    outcomes = sign_blocks.outcomes_of(ground, *hosts)
    word = typed.get("word", "").strip()
    return {
        "tree": tree,
        "holds": ground.holds,
        "typed": typed,
        "form": form,
        "key": typed.get("key") or str(uuid.uuid4()),
        "units": units_of(typed, tree.orchard),
        "word": word,
        "groups": _groups(ground, hosts, outcomes, typed, form, look),
        "noted_before": sign_blocks.noted_before(ground, outcomes),
        "outcomes": packing.packed(outcomes, tree.orchard.units),
        "condition": _condition(typed),
        "stages": _stages(typed),
        "read": look is not None,
        "reports": look is not None
        and any(
            judged.judgement.verdict is Verdict.REPORT
            for _seen, judged in look.findings
        ),
        "edition": guide.load().edition,
    }


def _groups(
    ground: facts.Ground,
    hosts: tuple[str, ...],
    outcomes: Mapping[str, Any],
    typed: QueryDict,
    form: InspectionForm,
    look: Look | None,
) -> list[sign_blocks.Group]:
    signs = guide.load().signs
    judged: dict[str, Judged] = {}
    if look is not None:
        judged = {shown.sign.key: shown for _seen, shown in look.findings}
    findings = {finding.sign.key: finding for finding in form.findings}
    touched = {*typed.getlist("sign"), *(name.partition(":")[0] for name in typed)}
    touched |= {*judged, *findings}
    wanted = [
        alike.sign
        for key in outcomes.keys() & touched
        for alike in signs[key].alike
        if alike.sign
    ]
    pictures = sign_blocks.pictures_of(
        ground.tree.orchard,
        photos.confirmed(ground.tree.orchard, {*wanted, *touched} & signs.keys()),
    )
    standings = arrangement.arranged(
        windows.season_month(ground.on, ground.latitude), *hosts
    )
    blocks = {
        key: sign_blocks.block_of(
            ground,
            signs[key],
            outcome,
            typed,
            pictures,
            standing=standings[key],
            judged=judged.get(key),
            form=findings.get(key),
        )
        if key in touched
        else sign_blocks.untouched(ground, signs[key], standings[key])
        for key, outcome in outcomes.items()
    }
    word = typed.get("word", "").strip()
    found = guide.find_signs(word, [signs[key] for key in blocks]) if word else []
    return sign_blocks.grouped(
        blocks,
        standings,
        again=set(ground.earlier),
        found=[sign.key for sign in found],
    )


def block_of(tree: Tree, key: str, *, now: datetime) -> sign_blocks.SignBlock:
    """Return one sign as the form shows it for a tree today.

    Raises:
        unknown_sign: the guide has none of that name for this sort of tree.
    """
    sign = inspections.sign_for(tree, key)
    on = day_in(now, tree.orchard.time_zone)
    # Of a tree that has come to its end it is asked for a look that is corrected.
    ground = facts.gather(tree, on=on, to_show=True, as_growing=True)
    shown = [key, *(alike.sign for alike in sign.alike if alike.sign)]
    pictures = sign_blocks.pictures_of(
        tree.orchard, photos.confirmed(tree.orchard, shown)
    )
    outcome = inspections.outcomes(ground, sign)
    return sign_blocks.block_of(ground, sign, outcome, QueryDict(), pictures)


def _condition(typed: QueryDict) -> list[ConditionStep]:
    chosen = typed.get("condition", "")
    return [
        ConditionStep(str(number), name, meaning, str(number) == chosen)
        for number, (name, meaning) in enumerate(condition_words(), start=1)
    ]


def _tasks(ground: facts.Ground, typed: QueryDict) -> list[tuple[Task, bool]]:
    ticked = set(typed.getlist("task"))
    tasks = ground.tree.tasks.open().not_private().begun(ground.on)
    tasks = tasks.select_related("finding", "request")
    tasks = tasks.order_by("rank", "due_on", "pk")
    # A cut test is more than a tick: it is closed with its numbers on its own page.
    cut_tests = job_keys(JobRole.CUT_TEST)
    tasks = tasks.exclude(kind__in=Task.OF_A_JOB, key__in=cut_tests)
    return [
        (task, str(task.pk) in ticked)
        for task in tasks[:30]
        if str(task.pk) in ticked or not is_forbidden(task, ground.holds)
    ]


def _stages(typed: QueryDict) -> list[Option]:
    chosen = typed.get("bbch", "")
    return [
        Option(str(code), f"{code:02} {stage.meaning}", str(code) == chosen)
        for code, stage in sorted(guide.load().stages.items())
    ]


def typed_of(inspection: Inspection) -> QueryDict:
    """Return an inspection as it would have been typed, to be corrected."""
    typed = QueryDict(mutable=True)
    units = inspection.orchard.units
    local = inspection.seen_at.astimezone(ZoneInfo(inspection.orchard.time_zone))
    typed["units"] = units
    typed["seen_day"] = local.date().isoformat()
    typed["seen_time"] = f"{local:%H:%M}"
    typed["note"] = inspection.note
    typed["condition"] = str(inspection.condition or "")
    typed["all_well"] = "1" if inspection.all_well else ""
    done = set(work_done_at(inspection).values_list("task__finding", flat=True))
    for finding in inspection.findings.order_by("pk"):
        key = finding.sign
        typed.appendlist("sign", key)
        typed[f"{key}:note"] = finding.note
        typed[f"{key}:part"] = finding.part
        typed[f"{key}:unsure"] = "" if finding.sure else "1"
        typed[f"{key}:done"] = "1" if finding.pk in done else ""
        for fact, value in finding.answers.items():
            typed[f"{key}:{fact}"] = _as_typed(fact, value, units)
    return typed


def _as_typed(key: str, value: Any, units: str) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        unit = guide.load().facts[key].unit
        return f"{round(shown_unit(value, unit, units)[0], 2):g}"
    return str(value)
