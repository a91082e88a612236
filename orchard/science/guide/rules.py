"""The rule language: facts, conditions, rules, and what they can tell apart."""

from __future__ import annotations

from collections.abc import Container, Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import ceil, floor, isfinite

from orchard.science.words import StepKind, Verdict

Value = bool | int | float | str
ANYTHING_ELSE = "other"
OPERATORS = (">=", "<=", ">", "<", " in")


@dataclass(frozen=True, slots=True)
class Fact:
    """Something a rule may ask about a tree, a day, a site or a finding.

    `kind` is number, yes_no or choice. A choice without choices takes any name.
    `given_by` says who normally supplies it: tree, date, site, weather or answer.
    Only what a visitor can see has an `ask`. A fact `about_tree` has one answer for
    all signs of a look; one that is `asked_first` decides danger to people.
    """

    key: str
    kind: str
    words: str
    given_by: str
    ask: str = ""
    no_words: str = ""
    unit: str = ""
    choices: tuple[str, ...] = ()
    low: float = 0.0
    high: float = 0.0
    whole: bool = False
    about_tree: bool = False
    asked_first: bool = False

    def problem_with(self, value: object) -> str:
        """Say in a sentence what is wrong with a value, or "" when it will do."""
        if self.kind == "yes_no":
            if isinstance(value, bool):
                return ""
            return f"{self.key} is {value!r}; it can only be true or false."
        if self.kind == "choice":
            if not isinstance(value, str) or not value:
                return f"{self.key} is {value!r}; it must be a word."
            if self.choices and value not in self.choices:
                allowed = ", ".join(self.choices)
                return f"{self.key} is {value!r}; it can only be one of {allowed}."
            return ""
        return self._problem_with_number(value)

    def _problem_with_number(self, value: object) -> str:
        if isinstance(value, bool) or not isinstance(value, int | float):
            return f"{self.key} is {value!r}; it must be a number."
        if not isfinite(value) or not self.low <= value <= self.high:
            span = f"{self.low:g} to {self.high:g}"
            return f"{self.key} is {value!r}; it must lie within {span}."
        if self.whole and value != int(value):
            return f"{self.key} is {value!r}; it must be a whole number."
        return ""


@dataclass(frozen=True, slots=True)
class Condition:
    """One comparison of one fact; several together must all hold."""

    fact: str
    op: str
    value: Value | tuple[Value, ...]

    def truth(self, facts: Mapping[str, Value | None]) -> bool | None:
        """Answer true, false, or None while the fact is unknown."""
        value = facts.get(self.fact)
        if value is None:
            return None
        if isinstance(self.value, tuple):
            return value in self.value
        if self.op == "=":
            return value == self.value
        if isinstance(value, str) or isinstance(self.value, str):
            raise TypeError(f"{self.fact} cannot be compared by {self.op}.")
        match self.op:
            case ">=":
                return value >= self.value
            case ">":
                return value > self.value
            case "<=":
                return value <= self.value
            case _:
                return value < self.value

    @property
    def values(self) -> tuple[Value, ...]:
        """List what the fact is compared with."""
        return self.value if isinstance(self.value, tuple) else (self.value,)

    @property
    def left_side(self) -> str:
        """Write the left side as a rule file has it."""
        return self.fact if self.op == "=" else f"{self.fact}{self.op}"


@dataclass(frozen=True, slots=True)
class SignStep:
    """One thing to do about a sign, and the sort of work it is."""

    do: str
    kind: StepKind


@dataclass(frozen=True, slots=True)
class Rule:
    """If all conditions hold, this verdict; days are whole calendar days.

    Steps, caution and title are the rule's own; empty ones are those of its sign.
    `opens` is another sign to look for when this rule wins, "" for none.
    """

    conditions: tuple[Condition, ...]
    verdict: Verdict
    due: int | None = None
    recheck: int | None = None
    because: str = ""
    steps: tuple[SignStep, ...] = ()
    caution: tuple[str, ...] = ()
    title: str = ""
    opens: str = ""

    def truth(
        self, facts: Mapping[str, Value | None], never_asked: Container[str] = ()
    ) -> bool | None:
        """Answer in three values: one false condition settles it, else unknowns do.

        A fact that is unknown and never asked counts as false.
        """
        return all_hold(self.conditions, facts, never_asked)

    @property
    def has_own_plan(self) -> bool:
        """Say whether something else is to be done than the sign says."""
        return bool(self.steps or self.caution or self.opens)

    @property
    def is_unconditional(self) -> bool:
        """Say whether this rule always applies."""
        return not self.conditions


def all_hold(
    conditions: Iterable[Condition],
    facts: Mapping[str, Value | None],
    never_asked: Container[str] = (),
) -> bool | None:
    """Join conditions by a three-valued "and"; what is never asked is false."""
    answer: bool | None = True
    for condition in conditions:
        truth = condition.truth(facts)
        if truth is False or (truth is None and condition.fact in never_asked):
            return False
        if truth is None:
            answer = None
    return answer


@dataclass(frozen=True, slots=True)
class Band:
    """A stretch of numbers that no rule tells apart; each end says if it belongs."""

    low: float
    high: float
    low_in: bool
    high_in: bool

    def holds(self, value: float) -> bool:
        """Say whether a number lies in this band."""
        above = value >= self.low if self.low_in else value > self.low
        below = value <= self.high if self.high_in else value < self.high
        return above and below

    def sample(self, whole: bool = False) -> float:
        """Give one number from inside the band."""
        if self.low_in:
            return self.low
        if whole:
            return floor(self.low) + 1
        return self.high if self.high_in else (self.low + self.high) / 2

    @property
    def code(self) -> str:
        """Write the band compactly: 25..50 means 25 or more and under 50.

        A leading > leaves the low end out, ..= takes the high end in.
        """
        if self.low == self.high:
            return f"{self.low:g}"
        start = f"{self.low:g}" if self.low_in else f">{self.low:g}"
        return f"{start}..{'=' if self.high_in else ''}{self.high:g}"


def read_band(code: str) -> Band:
    """Read what `Band.code` wrote; anything else is a ValueError."""
    if ".." not in code:
        point = float(code)
        return Band(point, point, True, True)
    left, right = code.split("..")
    return Band(
        low=float(left.lstrip(">")),
        high=float(right.lstrip("=")),
        low_in=not left.startswith(">"),
        high_in=right.startswith("="),
    )


Option = Band | bool | str


def options(fact: Fact, conditions: Iterable[Condition]) -> tuple[Option, ...]:
    """Divide all values of a fact into the fewest the conditions tell apart.

    Numbers fall into bands that together cover low to high without overlap; a fact
    without fixed choices gets the names mentioned, and `other` for every other name.
    """
    about_fact = [condition for condition in conditions if condition.fact == fact.key]
    if fact.kind == "yes_no":
        return (True, False)
    if fact.kind == "choice":
        if fact.choices:
            return fact.choices
        named = {str(value) for condition in about_fact for value in condition.values}
        return (*sorted(named - {ANYTHING_ELSE}), ANYTHING_ELSE)
    return bands(fact, about_fact)


def bands(fact: Fact, conditions: Iterable[Condition]) -> tuple[Band, ...]:
    """Cut the range of a number at every threshold, keeping >= apart from >."""
    start, end = (fact.low, 0), (fact.high, 1)
    cuts = {start, end}
    for condition in conditions:
        for value in condition.values:
            cuts |= {(float(value), side) for side in _sides(condition.op)}
    inside = sorted(cut for cut in cuts if start <= cut <= end)
    cut = [
        Band(low, high, low_side == 0, high_side == 1)
        for (low, low_side), (high, high_side) in zip(inside, inside[1:], strict=False)
    ]
    return tuple(_whole_numbers(cut)) if fact.whole else tuple(cut)


def _whole_numbers(cut: Iterable[Band]) -> Iterable[Band]:
    for band in cut:
        low = ceil(band.low) if band.low_in else floor(band.low) + 1
        high = floor(band.high) if band.high_in else ceil(band.high) - 1
        if low <= high:
            yield Band(low, high, True, True)


def _sides(op: str) -> tuple[int, ...]:
    return {">=": (0,), "<": (0,), ">": (1,), "<=": (1,)}.get(op, (0, 1))


def sample(option: Option, whole: bool = False) -> Value:
    """Give a value that stands for every value of an option."""
    return option.sample(whole) if isinstance(option, Band) else option


def allowed(fact: Fact, rule: Rule, everything: Sequence[Option]) -> frozenset[int]:
    """Number the options of a fact that a rule lets through."""
    about_fact = [
        condition for condition in rule.conditions if condition.fact == fact.key
    ]
    return frozenset(
        number
        for number, option in enumerate(everything)
        if all(
            condition.truth({fact.key: sample(option, fact.whole)})
            for condition in about_fact
        )
    )
