"""Rules told in words."""

from __future__ import annotations

from orchard.science.guide import Condition, Fact, Guide, Rule, Sign, Value
from orchard.science.words import Measure

_SHARES = {
    Measure.PCT_LEAVES: "share of leaves",
    Measure.PCT_SHOOTS: "share of shoots",
    Measure.PCT_FRUIT: "share of fruit",
    Measure.PCT_FLOWERS: "share of flowers",
    Measure.PCT_CANOPY: "share of the canopy",
}
_COMPARED = {
    ">=": "{} or more",
    ">": "more than {}",
    "<=": "{} or less",
    "<": "under {}",
    "=": "exactly {}",
}


def days(number: int) -> str:
    """Say a number of days as people do."""
    return {0: "today", 1: "within 1 day"}.get(number, f"within {number} days")


def after_last_frost(number: int) -> str:
    """Say a number of days that is counted from the last frost."""
    return f"within {number} day{'' if number == 1 else 's'} after the last frost"


def with_unit(number: float, fact: Fact) -> str:
    """Write a number with the unit of its fact."""
    if fact.unit == "%":
        return f"{number:g} %"
    return f"{number:g} {fact.unit}".strip()


def name_of(fact: Fact, sign: Sign | None) -> str:
    """Name a fact; a share is a share of what the sign measures."""
    if fact.key != "pct" or sign is None:
        return fact.words
    return _SHARES.get(sign.measure, fact.words)


def tell(condition: Condition, guide: Guide, sign: Sign | None = None) -> str:
    """Tell one condition in words."""
    fact = guide.facts[condition.fact]
    if fact.kind == "yes_no":
        return fact.words if condition.value is True else fact.no_words
    values = condition.value if isinstance(condition.value, tuple) else None
    if fact.kind == "choice" or values:
        several = values or (condition.value,)
        names = " or ".join(_name(value, guide) for value in several)
        return f"{fact.words}: {names}"
    amount = with_unit(_number(condition.value), fact)
    return f"{name_of(fact, sign)} {_COMPARED[condition.op].format(amount)}"


def _name(value: object, guide: Guide) -> str:
    pest = guide.pests.get(str(value))
    return pest.taxon if pest else f"{value}"


def _number(value: Value | tuple[Value, ...]) -> float:
    if isinstance(value, tuple | str):
        raise TypeError(f"{value!r} is no number.")
    return float(value)


def tell_rule(rule: Rule, guide: Guide, sign: Sign) -> str:
    """Tell what a rule asks for and what it concludes, as one sentence."""
    conclusion = rule.verdict.label
    if rule.due is not None:
        conclusion = f"{conclusion} {days(rule.due)}"
    if rule.is_unconditional:
        return f"No other rule applies: {conclusion}."
    conditions = "; ".join(
        tell(condition, guide, sign) for condition in rule.conditions
    )
    return f"{conditions[0].upper()}{conditions[1:]}: {conclusion}."
