"""Judging: from what the book knows of a tree and what was answered to a verdict."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _

from orchard.records.models import Tree
from orchard.science import guide, verdict
from orchard.science.guide import Fact, Sign
from orchard.science.verdict import HouseRule, Judgement
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
            _("The guide has no sign “%(sign)s”. Choose one of the list.")
            % {"sign": key},
            code="unknown_sign",
        )
    if not sign.fits(tree.kind.host):
        raise Refused(
            _("“%(sign)s” is not met on this sort of tree. Choose another sign.")
            % {"sign": sign.name},
            code="unknown_sign",
        )
    return sign


def askable(sign: Sign, rules: Iterable[HouseRule] = ()) -> dict[str, Fact]:
    """Return the facts that a person may answer for a sign."""
    lists = [sign.rules, *(rule.rules for rule in rules)]
    mentioned = {sign.measure.fact, sign.asks_fact, "species"}
    mentioned |= {one.fact for one in sign.positive}
    mentioned |= {
        one.fact for rules in lists for rule in rules for one in rule.conditions
    }
    facts = guide.load().facts
    return {
        key: facts[key]
        for key in sorted(mentioned)
        if key in facts and facts[key].given_by in ("answer", "weather")
    }


def check_answers(
    sign: Sign, answers: Mapping[str, Any], rules: Iterable[HouseRule] = ()
) -> None:
    """Refuse answers that cannot be.

    Raises:
        Refused (bad_answer): a question this sign does not ask, or a value out of
            range.
    """
    mine = askable(sign, rules)
    for key, value in answers.items():
        fact = mine.get(key)
        if fact is None:
            raise Refused(
                _("“%(sign)s” does not ask for %(fact)s.")
                % {"sign": sign.name, "fact": key},
                code="bad_answer",
            )
        if fact.problem_with(value):
            raise Refused(_in_words(sign, fact, value), code="bad_answer")


def _in_words(sign: Sign, fact: Fact, value: object) -> str:
    told = {"sign": sign.name, "value": value, "fact": fact.words}
    if fact.kind == "number":
        told |= {"low": f"{fact.low:g}", "high": f"{fact.high:g} {fact.unit}".strip()}
        if fact.whole:
            return (
                _(
                    "%(sign)s: %(value)s will not do for %(fact)s. Give a whole number "
                    "from %(low)s to %(high)s."
                )
                % told
            )
        return (
            _(
                "%(sign)s: %(value)s will not do for %(fact)s. Give a number from "
                "%(low)s to %(high)s."
            )
            % told
        )
    return _("%(sign)s: choose one of the answers for %(fact)s.") % told


def with_trend(ground: Ground, sign: Sign, answers: Mapping[str, Any]) -> Facts:
    """Return what the answers say beside what was seen the last time."""
    last = ground.last(sign)
    if last is None:
        return {}
    now, then = (said.get(sign.measure.fact) for said in (answers, last.answers))
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
    known: Mapping[str, Any] | None = None,
) -> Judged:
    """Give the verdict on a sign seen at a tree, with the facts it rests on.

    `known` are facts noted at the same look, such as the growth stage. What a person
    answers about the sign stands before what the book knew.

    Raises:
        Refused (unknown_sign), bad_answer: as their names say.
        NotJudged: the tree takes no verdicts.
    """
    sign = sign_for(ground.tree, key)
    rules = ground.house_rules(sign)
    check_answers(sign, answers, rules)
    facts = {
        **ground.facts(sign),
        **(known or {}),
        **answers,
        **with_trend(ground, sign, answers),
    }
    last = ground.last(sign)
    return Judged(
        sign=sign,
        facts=facts,
        judgement=verdict.decide(sign, facts, rules),
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
