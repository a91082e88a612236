"""Reading rule lists, and refusing those that leave a gap or can never speak."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import cast

from orchard.science.guide.references import References
from orchard.science.guide.rules import (
    OPERATORS,
    Condition,
    Fact,
    Option,
    Rule,
    SignStep,
    Value,
    allowed,
    options,
)
from orchard.science.guide_files import Fault, GuideError, Row
from orchard.science.windows import season_of_month
from orchard.science.words import StepKind, Verdict

MOST_DAYS = 3660


def read_rules(
    rows: Iterable[Mapping[str, object]], facts: Mapping[str, Fact], place: str
) -> tuple[Rule, ...]:
    """Read a rule list as data into rules that are total and can all be reached.

    GuideError lists every fault, each with `place` and the rule, counted from 1.
    """
    faults: list[Fault] = []
    rule_rows = [
        Row(values, label=f"{place}, rule {number}", faults=faults)
        for number, values in enumerate(rows, start=1)
    ]
    rules = read_rule_rows(rule_rows, References(facts=facts))
    if not faults:
        faults += _find_faults(rules, facts, place)
    if faults:
        raise GuideError(faults)
    return rules


def check_rules(rules: Sequence[Rule], facts: Mapping[str, Fact], place: str) -> None:
    """Refuse a list that is not total or in which a rule can never win.

    GuideError lists every fault, each with `place` and the rule, counted from 1.
    """
    faults = _find_faults(rules, facts, place)
    if faults:
        raise GuideError(faults)


def write_rules(rules: Iterable[Rule]) -> list[dict[str, object]]:
    """Write rules as the data that `read_rules` reads."""
    rows: list[dict[str, object]] = []
    for rule in rules:
        row: dict[str, object] = {
            "if": {
                condition.left_side: list(condition.value)
                if isinstance(condition.value, tuple)
                else condition.value
                for condition in rule.conditions
            },
            "verdict": rule.verdict.value,
        }
        days = {"due": rule.due, "recheck": rule.recheck}
        row.update({name: count for name, count in days.items() if count is not None})
        row["because"] = rule.because
        if rule.title:
            row["title"] = rule.title
        if rule.opens:
            row["opens"] = rule.opens
        if rule.steps:
            row["steps"] = [
                {"do": step.do, "kind": step.kind.value} for step in rule.steps
            ]
        if rule.caution:
            row["caution"] = list(rule.caution)
        rows.append(row)
    return rows


def read_rule_rows(rows: Iterable[Row], references: References) -> tuple[Rule, ...]:
    """Read the rows of a rule list, noting what is wrong with each."""
    return tuple(_read_rule(row, references) for row in rows)


def _read_rule(row: Row, references: References) -> Rule:
    rule = Rule(
        conditions=read_conditions(row, "if", references),
        verdict=row.word("verdict", Verdict),
        due=row.optional_whole("due", 0, MOST_DAYS),
        recheck=row.optional_whole("recheck", 1, MOST_DAYS),
        because=row.text("because"),
        steps=read_steps(row) if row.has("steps") else (),
        caution=row.texts("caution") if row.has("caution") else (),
        title=row.text("title", ""),
        opens=row.text("opens", ""),
    )
    row.finish()
    if not row.is_sound("verdict"):
        return rule
    is_work = rule.verdict in (Verdict.ACT, Verdict.REPORT)
    if is_work and rule.due is None:
        row.note_fault(
            "due", f"{rule.verdict} needs due; add the days in which it is done."
        )
    if not is_work and rule.due is not None:
        row.note_fault("due", f"{rule.verdict} has nothing to do; take due out.")
    if rule.verdict is Verdict.WATCH and rule.recheck is None:
        row.note_fault(
            "recheck", "watch needs recheck; add the days until the next look."
        )
    return rule


def read_steps(row: Row) -> tuple[SignStep, ...]:
    """Read the steps of a sign or of a rule."""
    return tuple(_read_step(step) for step in row.rows("steps", "step"))


def _read_step(row: Row) -> SignStep:
    step = SignStep(row.text("do"), row.word("kind", StepKind))
    row.finish()
    return step


def read_conditions(
    row: Row, field: str, references: References
) -> tuple[Condition, ...]:
    """Read a table such as { "age_y<" = 4, setting = "ground" }."""
    conditions = (
        _read_condition(row, field, left_side, value, references)
        for left_side, value in row.table(field).items()
    )
    return tuple(condition for condition in conditions if condition is not None)


def _read_condition(
    row: Row, field: str, left_side: str, value: object, references: References
) -> Condition | None:
    name, operator = left_side, "="
    for ending in OPERATORS:
        if left_side.endswith(ending):
            name, operator = left_side.removesuffix(ending), ending
            break
    fact = references.facts.get(name)
    if fact is None:
        if name not in references.doubtful_facts:
            row.note_fault(
                field,
                f"{name!r} is no fact of facts.toml; add it there or mend its name.",
            )
        return None
    if fact.kind != "number" and operator not in ("=", " in"):
        row.note_fault(
            field, f"{name} is no number, so {operator} means nothing; use = or in."
        )
        return None
    if (operator == " in") is not isinstance(value, list) or value == []:
        row.note_fault(
            field,
            f"{left_side!r} takes a list after 'in', a single value otherwise.",
        )
        return None
    values = value if isinstance(value, list) else [value]
    problems = [fact.problem_with(entry) for entry in values]
    for problem in filter(None, problems):
        row.note_fault(field, problem)
    if any(problems):
        return None
    checked = cast("list[Value]", values)
    return Condition(
        name, operator, tuple(checked) if operator == " in" else checked[0]
    )


def rule_problems(
    rules: Sequence[Rule], facts: Mapping[str, Fact]
) -> list[tuple[int, str]]:
    """List the rules that are missing or can never win, by their place from 0.

    A rule never wins when no value meets its conditions, or when an earlier rule
    lets through everything it does. Rules that together cover a later one are no
    fault: the later one still speaks while a fact is unknown.
    """
    problems = []
    everything = _all_options(rules, facts)
    reach = [_reach(rule, everything, facts) for rule in rules]
    for place, allowed_here in enumerate(reach):
        if not all(allowed_here.values()):
            problem = "no value meets its conditions; widen them or take the rule out."
            problems.append((place, problem))
            continue
        for earlier, allowed_before in enumerate(reach[:place]):
            if all(allowed_here[fact] <= allowed_before[fact] for fact in allowed_here):
                problem = (
                    f"rule {earlier + 1} always wins before it; put the narrower of "
                    f"the two first."
                )
                problems.append((place, problem))
                break
    if not rules or not rules[-1].is_unconditional:
        problem = "the last rule must have an empty if, for all that is left; add one."
        problems.append((max(len(rules) - 1, 0), problem))
    return problems


def _find_faults(
    rules: Sequence[Rule], facts: Mapping[str, Fact], place: str
) -> list[Fault]:
    return [
        Fault(problem, row=f"{place}, rule {number + 1}", field="if")
        for number, problem in rule_problems(rules, facts)
    ]


def _all_options(
    rules: Iterable[Rule], facts: Mapping[str, Fact]
) -> dict[str, tuple[Option, ...]]:
    conditions = [condition for rule in rules for condition in rule.conditions]
    names = {condition.fact for condition in conditions}
    if names & {"season", "sm"}:
        names |= {"season", "sm"} & set(facts)
    found = {name: options(facts[name], conditions) for name in names}
    if "sm" in found:
        # Each month apart, so that months and seasons can be compared together.
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
        months = {month for month in reach["sm"] if belongs[month] in reach["season"]}
        reach["sm"] = frozenset(months)
        reach["season"] = frozenset(belongs[month] for month in months)
    return reach
