"""Judging: from what the book knows of a tree and what was answered to a verdict."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _

from orchard.records.models import Tree
from orchard.science import guide, verdict
from orchard.science.guide import Fact, Sign
from orchard.science.units import scale_of
from orchard.science.verdict import Judgement, RuleSet
from orchard.science.words import Trend
from orchard.services.errors import Refused
from orchard.services.facts import Earlier, Facts, Ground


@dataclass(frozen=True, slots=True)
class Judged:
    """A verdict with everything it looked at."""

    sign: Sign
    facts: Facts
    judgement: Judgement
    continues: int | None


def _run_of_worse(found: Iterable[Earlier]) -> int:
    run = 0
    for look in found:
        if look.trend != Trend.WORSE:
            break
        run += 1
    return run


def sign_for(tree: Tree, key: str) -> Sign:
    """Return a sign of the guide that this tree can have.

    Raises:
        Refused (unknown_sign): there is none, or not on this sort of tree.
    """
    sign = guide.load().signs.get(key)
    if sign is None:
        raise Refused(
            _("The guide has no sign “%(sign)s”. Choose one from the list.")
            % {"sign": key},
            code="unknown_sign",
            field="sign",
        )
    if not sign.fits(tree.kind.host):
        raise Refused(
            _("“%(sign)s” doesn't occur on this sort of tree. Choose another sign.")
            % {"sign": sign.name},
            code="unknown_sign",
            field="sign",
        )
    return sign


def askable(sign: Sign, rules: Iterable[RuleSet] = ()) -> dict[str, Fact]:
    """Return the facts that a person may answer for a sign."""
    lists = [sign.rules, *(rule.rules for rule in rules)]
    mentioned = {sign.measure.fact, sign.asks_fact, "species"}
    mentioned |= {condition.fact for condition in sign.positive}
    mentioned |= {
        condition.fact
        for rules in lists
        for rule in rules
        for condition in rule.conditions
    }
    facts = guide.load().facts
    return {
        key: facts[key]
        for key in sorted(mentioned)
        if key in facts and facts[key].given_by in ("answer", "weather")
    }


def check_answers(
    sign: Sign,
    answers: Mapping[str, Any],
    rules: Iterable[RuleSet] = (),
    *,
    units: str = "metric",
) -> None:
    """Refuse answers that cannot be.

    Raises:
        Refused (bad_answer): a question this sign does not ask, or a value out of
            range.
    """
    asked = askable(sign, rules)
    for key, value in answers.items():
        fact = asked.get(key)
        problem = (
            problem_with(sign, fact, value, units=units)
            if fact is not None
            else _("“%(sign)s” does not ask for %(fact)s.")
            % {"sign": sign.name, "fact": key}
        )
        if problem:
            raise Refused(problem, code="bad_answer", field=f"{sign.key}:{key}")


def problem_with(
    sign: Sign, fact: Fact, value: object, *, units: str = "metric"
) -> str:
    """Say what is wrong with an answer, its limits told in the units it was written in.

    Return "" when it will do.
    """
    if not fact.problem_with(value):
        return ""
    words: dict[str, object] = {"sign": sign.name, "value": value, "fact": fact.words}
    if fact.kind != "number" or not isinstance(value, int | float):
        return _choose_one(sign, fact)
    scale = scale_of(fact.unit, units)
    low, high = (round(scale.shown(end), 2) for end in (fact.low, fact.high))
    words["value"] = f"{round(scale.shown(value), 4):g}"
    words |= {"low": f"{low:g}", "high": f"{high:g} {scale.unit}".strip()}
    if fact.whole and scale.step == 1:
        return (
            _(
                "%(sign)s: %(value)s isn't valid for %(fact)s. Enter a whole number "
                "from %(low)s to %(high)s."
            )
            % words
        )
    return (
        _(
            "%(sign)s: %(value)s isn't valid for %(fact)s. Enter a number from "
            "%(low)s to %(high)s."
        )
        % words
    )


def _choose_one(sign: Sign, fact: Fact) -> str:
    words = {"sign": sign.name, "fact": fact.words}
    return _("%(sign)s: choose one of the answers for %(fact)s.") % words


def about_tree(answers: Iterable[Mapping[str, Any]]) -> Facts:
    """Return the answers about the tree itself: one of a look serves all its signs."""
    facts = guide.load().facts
    return {
        key: value
        for given in answers
        for key, value in given.items()
        if key in facts and facts[key].about_tree
    }


def with_trend(ground: Ground, sign: Sign, answers: Mapping[str, Any]) -> Facts:
    """Return what the answers say beside what was seen the last time."""
    last = ground.last(sign)
    if last is None:
        return {}
    measured = sign.measure.fact
    now, then = answers.get(measured), last.answers.get(measured)
    trend = answers.get("trend", "")
    if _is_number(now) and _is_number(then):
        trend = _compared(now, then)
    if not trend:
        return {}
    run = _run_of_worse(ground.earlier[sign.key])
    return {
        "trend": str(trend),
        "worse_in_row": run + 1 if trend == Trend.WORSE else 0,
    }


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _compared(now: Any, then: Any) -> str:
    if now == then:
        return Trend.SAME.value
    return Trend.WORSE.value if now > then else Trend.BETTER.value


def judge(
    ground: Ground,
    key: str,
    answers: Mapping[str, Any],
    *,
    noted: Mapping[str, Any] | None = None,
) -> Judged:
    """Give the verdict on a sign seen at a tree, with the facts it rests on.

    `noted` are facts noted at the same look, such as the growth stage. What a person
    answers about the sign stands before what the book knew.

    Raises:
        Refused (unknown_sign), bad_answer: as their names say.
        NotJudged: the tree takes no verdicts.
    """
    sign = sign_for(ground.tree, key)
    rules = ground.house_rules(sign)
    check_answers(sign, answers, rules, units=ground.tree.orchard.units)
    facts = {
        **ground.facts(sign),
        **(noted or {}),
        **answers,
        **with_trend(ground, sign, answers),
    }
    last = ground.last(sign)
    try:
        judgement = verdict.decide(sign, facts, rules)
    except verdict.UnlistedSpecies:
        species = guide.load().facts["species"]
        raise Refused(
            _choose_one(sign, species), code="bad_answer", field=f"{key}:{species.key}"
        ) from None
    return Judged(
        sign=sign,
        # What followed from them, such as the status of the pest, belongs to them.
        facts={**facts, **dict(judgement.facts)},
        judgement=judgement,
        continues=last.pk if last else None,
    )


def outcomes(ground: Ground, sign: Sign) -> dict[str, Any]:
    """Return the verdict for every answer to a sign, small enough to send along.

    With a number on record the phone compares the next one with it (`before`); where
    a second worse look in a row would raise the verdict, that table comes along too.
    """
    rules = ground.house_rules(sign)
    facts = ground.facts(sign)
    table: dict[str, Any] = verdict.compact(sign, facts, rules)
    last = ground.last(sign)
    if last is None:
        return table
    number = last.answers.get(sign.measure.fact)
    if _is_number(number):
        table["before"] = number
    run = _run_of_worse(ground.earlier[sign.key]) + 1
    if run > 1:
        worse = {**facts, "worse_in_row": run}
        table["worse"] = verdict.compact(sign, worse, rules)
    return table
