"""What to do about a sign today, and which of it has to wait."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Protocol, TypeVar

from orchard.science.figures import days, stages
from orchard.science.guide import Sign, Value
from orchard.science.words import Season, SoilMoisture, StepKind, Verdict

FROST_WAITS = (
    "Wait until the last frost is past and new growth shows: a cut now wakes buds "
    "into the cold."
)
HEAT_WAITS = "Wait until the heat is over: the tree can't spare the leaves or roots."
BEES_WAIT = "Not while the tree blooms: bees are at work."
YOUNG_WAITS = "Wait until {days} days after planting: its roots have not grown in yet."
HEAT_WATER = (
    "Look at the soil today and water early in the morning if it is dry at finger "
    "depth: heat is coming."
)
LAST_SEASON_MONTH = 12
WINTER_MONTHS = 3
MONTH_DAYS = 30
AUTHORITY_WAITS = "Wait for the plant-health authority: until then nothing is moved."
HARMLESS = frozenset(
    {StepKind.PHOTOGRAPH, StepKind.MARK, StepKind.PEOPLE, StepKind.RECORD}
)
# Steps that are no work of their own.
BY_THE_WAY = frozenset(
    {StepKind.LOOK, StepKind.PHOTOGRAPH, StepKind.RECORD, StepKind.MARK}
)
CUTS_OR_CARRIES = frozenset(
    {
        StepKind.PRUNE,
        StepKind.SPRAY,
        StepKind.OIL,
        StepKind.MOVE,
        StepKind.REPOT,
        StepKind.FEED,
    }
)


class HasKind(Protocol):
    """Anything that is one of the kinds of step."""

    @property
    def kind(self) -> StepKind: ...


Kinded = TypeVar("Kinded", bound=HasKind)


@dataclass(frozen=True, slots=True)
class VerdictStep:
    """One thing to do; `waits` says why it must wait, "" when it may be done now.

    `after_frost` says that it waits for the last frost.
    """

    do: str
    kind: StepKind
    waits: str = ""
    due_days: int | None = None
    after_frost: bool = False


REPORT_STEPS = (
    VerdictStep(
        "Photograph it where it is, with something for scale", StepKind.PHOTOGRAPH
    ),
    VerdictStep("Mark the place with tape, and pick nothing", StepKind.MARK),
    VerdictStep("Take nothing away from this tree", StepKind.PROTECT),
    VerdictStep(
        "Tell the coordinator, who rings the plant-health authority", StepKind.REPORT
    ),
    VerdictStep("Wash hands, hat and tools before the next tree", StepKind.CLEAN),
)


def steps_for(
    sign: Sign, facts: Mapping[str, Value], verdict: Verdict, plan: int | None = None
) -> tuple[VerdictStep, ...]:
    """List the steps of the rule that holds, or of a plan, with what holds them back.

    Frost or winter holds back pruning, unless the guide exempts the sign; heat ahead
    holds back pruning, moving, repotting and oil, and makes watering due today; bloom
    holds back sprays and oil; a tree planted lately takes no feed and no pruning beyond
    suckers, ties and broken wood. Until the authority has spoken a report holds back
    all that cuts or carries. Common practice, no source, except winter feed and late
    pruning: University of Arizona, Pima County (2016) on frost-damaged citrus.
    """
    heat = facts.get("heat_ahead") is True
    if plan is None:
        plan = sign.plan_for(facts, verdict)
    steps = [
        VerdictStep(
            step.do,
            step.kind,
            _waits(sign, step.kind, facts),
            0 if heat and step.kind is StepKind.WATER else None,
            _held_by_frost(sign, step.kind, facts),
        )
        for step in sign.plan(plan).steps
    ]
    watered = any(step.kind is StepKind.WATER for step in steps)
    if heat and verdict is Verdict.ACT and not watered and not _is_wet(facts):
        steps.append(VerdictStep(HEAT_WATER, StepKind.WATER, "", 0))
    return _reporting(steps) if verdict is Verdict.REPORT else tuple(steps)


def frost_ends_in(facts: Mapping[str, Value]) -> int:
    """Count the days to the last frost: by the site, else by the season's end.

    A frost that is only forecast is over with its forecast.
    """
    given, month = facts.get("frost_ends_d"), facts.get("sm")
    if given is not None:
        return int(given)
    if facts.get("season") != Season.WINTER:
        return days("forecast_days").days
    left = LAST_SEASON_MONTH + 1 - int(month) if month is not None else WINTER_MONTHS
    return left * MONTH_DAYS


def the_work(steps: Sequence[Kinded]) -> Kinded | None:
    """Return the step that is the work itself, None when all are by the way."""
    return next((step for step in steps if step.kind not in BY_THE_WAY), None)


def _reporting(steps: Sequence[VerdictStep]) -> tuple[VerdictStep, ...]:
    """Hold back whatever cuts or carries, and see that the steps lead to a report.

    A sign that is only sometimes a case for the authority has steps for the other
    times; they wait, all but those that touch nothing.
    """
    reports = any(step.kind is StepKind.REPORT for step in steps)
    waiting = [
        replace(step, waits=AUTHORITY_WAITS)
        if step.kind in CUTS_OR_CARRIES or not (reports or step.kind in HARMLESS)
        else step
        for step in steps
    ]
    return tuple(waiting) if reports else (*REPORT_STEPS, *waiting)


def _is_wet(facts: Mapping[str, Value]) -> bool:
    return facts.get("soil") == SoilMoisture.WET or facts.get("standing_water") is True


def waits_for_frost(sign: Sign, facts: Mapping[str, Value]) -> bool:
    """Say whether any work on a sign waits for the last frost."""
    return any(
        _held_by_frost(sign, step.kind, facts)
        for place in range(len(sign.rule_plans) + 1)
        for step in sign.plan(place).steps
    )


def _held_by_frost(sign: Sign, kind: StepKind, facts: Mapping[str, Value]) -> bool:
    cold = facts.get("frost_ahead") is True or facts.get("season") == Season.WINTER
    return kind is StepKind.PRUNE and cold and not sign.frost_exempt


def _waits(sign: Sign, kind: StepKind, facts: Mapping[str, Value]) -> str:
    """Join the reasons for which a step waits, in the order people meet them."""
    heat = facts.get("heat_ahead") is True
    stage = facts.get("bbch")
    bloom = isinstance(stage, int | float) and stage in stages("bloom")
    age = facts.get("planted_d")
    settles_in = days("planting_settles_days").days
    settling = isinstance(age, int | float) and age < settles_in
    sentences = []
    if _held_by_frost(sign, kind, facts):
        sentences.append(FROST_WAITS)
    waits_in_heat = (StepKind.PRUNE, StepKind.MOVE, StepKind.REPOT, StepKind.OIL)
    if heat and kind in waits_in_heat:
        sentences.append(HEAT_WAITS)
    if bloom and kind in (StepKind.SPRAY, StepKind.OIL):
        sentences.append(BEES_WAIT)
    if settling and (
        kind is StepKind.FEED or (kind is StepKind.PRUNE and not sign.young_exempt)
    ):
        sentences.append(YOUNG_WAITS.format(days=settles_in))
    return " ".join(sentences)
