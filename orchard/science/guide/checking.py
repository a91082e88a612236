"""Reading rule lists, and refusing those that leave a gap or can never speak."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import cast

from orchard.science.guide.rows import GuideError, Row
from orchard.science.guide.rules import (
    OPERATORS,
    Condition,
    Fact,
    Option,
    Rule,
    Value,
    allowed,
    options,
)
from orchard.science.windows.seasons import season_of_month
from orchard.science.words import Verdict

MOST_DAYS = 3660


def read_rules(
    rows: Iterable[Mapping[str, object]], facts: Mapping[str, Fact], place: str
) -> tuple[Rule, ...]:
    """Read a rule list as data into rules that are total and can all be reached.

    GuideError names `place` and the rule (counted from 1) for anything else.
    """
    rules = tuple(
        _read_rule(_numbered(place, number, values), facts)
        for number, values in enumerate(rows, start=1)
    )
    check_rules(rules, facts, place)
    return rules


def written(rules: Iterable[Rule]) -> list[dict[str, object]]:
    """Write rules as the data that `read_rules` reads."""
    rows: list[dict[str, object]] = []
    for rule in rules:
        row: dict[str, object] = {
            "if": {
                one.written: list(one.value)
                if isinstance(one.value, tuple)
                else one.value
                for one in rule.conditions
            },
            "verdict": rule.verdict.value,
        }
        days = {"due": rule.due, "recheck": rule.recheck}
        row.update({name: n for name, n in days.items() if n is not None})
        rows.append({**row, "because": rule.because})
    return rows


def _numbered(place: str, number: int, values: Mapping[str, object]) -> Row:
    row = Row("", "rule", values)
    row.place = f"{place}, rule {number}"
    return row


def _read_rule(row: Row, facts: Mapping[str, Fact]) -> Rule:
    verdict = row.word("verdict", Verdict)
    rule = Rule(
        conditions=read_conditions(row, "if", facts),
        verdict=verdict,
        due=row.maybe_whole("due", 0, MOST_DAYS),
        recheck=row.maybe_whole("recheck", 1, MOST_DAYS),
        because=row.text("because"),
    )
    row.finish()
    if verdict in (Verdict.ACT, Verdict.REPORT) and rule.due is None:
        raise row.error(f"{verdict.value} needs due, the days in which it is done.")
    if verdict in (Verdict.WATCH, Verdict.LEAVE) and rule.due is not None:
        raise row.error(f"{verdict.value} has nothing to do, so no due.")
    if verdict is Verdict.WATCH and rule.recheck is None:
        raise row.error("watch needs recheck, the days until the next look.")
    return rule


def read_conditions(
    row: Row, key: str, facts: Mapping[str, Fact]
) -> tuple[Condition, ...]:
    """Read a table such as { "age_y<" = 4, setting = "ground" }."""
    return tuple(
        _read_condition(row, left, value, facts)
        for left, value in row.table(key).items()
    )


def _read_condition(
    row: Row, left: str, value: object, facts: Mapping[str, Fact]
) -> Condition:
    name, op = left, "="
    for sign in OPERATORS:
        if left.endswith(sign):
            name, op = left.removesuffix(sign), sign
            break
    fact = facts.get(name)
    if fact is None:
        raise row.error(f"{name!r} is no fact of facts.toml.")
    if fact.kind != "number" and op not in ("=", " in"):
        raise row.error(f"{name} is no number, so {op} means nothing.")
    if (op == " in") is not isinstance(value, list) or value == []:
        raise row.error(f"{left!r} takes a list after 'in', a single value otherwise.")
    values = value if isinstance(value, list) else [value]
    for one in values:
        problem = fact.problem_with(one)
        if problem:
            raise row.error(problem)
    known = cast("list[Value]", values)
    return Condition(name, op, tuple(known) if op == " in" else known[0])


def check_rules(rules: Sequence[Rule], facts: Mapping[str, Fact], place: str) -> None:
    """Refuse a list that is not total or in which a rule can never win.

    A rule never wins when no value meets its conditions, or when an earlier rule
    lets through everything it does. Rules that together cover a later one are no
    fault: the later one still speaks while a fact is unknown.
    """
    if not rules or not rules[-1].is_unconditional:
        raise GuideError(f"{place}: the last rule must have an empty if.")
    everything = _all_options(rules, facts)
    reach = [_reach(rule, everything, facts) for rule in rules]
    for number, mine in enumerate(reach, start=1):
        if not all(mine.values()):
            raise GuideError(f"{place}, rule {number}: no value meets its conditions.")
        for earlier, theirs in enumerate(reach[: number - 1], start=1):
            if all(mine[fact] <= theirs[fact] for fact in mine):
                raise GuideError(
                    f"{place}, rule {number}: rule {earlier} always wins before it."
                )


def _all_options(
    rules: Iterable[Rule], facts: Mapping[str, Fact]
) -> dict[str, tuple[Option, ...]]:
    conditions = [condition for rule in rules for condition in rule.conditions]
    names = {condition.fact for condition in conditions}
    if names & {"season", "sm"}:
        names |= {"season", "sm"} & set(facts)
    found = {name: options(facts[name], conditions) for name in names}
    if "sm" in found:
        # Each month apart, so that months and seasons can be held together.
        months = [Condition("sm", " in", tuple(range(1, 13)))]
        found["sm"] = options(facts["sm"], months)
    return found


def _reach(
    rule: Rule, everything: Mapping[str, tuple[Option, ...]], facts: Mapping[str, Fact]
) -> dict[str, frozenset[int]]:
    reach = {
        name: allowed(facts[name], rule, choices)
        for name, choices in everything.items()
    }
    if "season" in reach and "sm" in reach:
        seasons = everything["season"]
        belongs = [seasons.index(season_of_month(month)) for month in range(1, 13)]
        months = {n for n in reach["sm"] if belongs[n] in reach["season"]}
        reach["sm"] = frozenset(months)
        reach["season"] = frozenset(belongs[n] for n in months)
    return reach
