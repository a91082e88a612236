"""Every answer a form can give, judged before anybody answers.

A form that is rendered in advance, and read with no signal, must show the right
verdict for each amount. So the answers are divided into the few that the rules tell
apart, and each combination is judged beforehand.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import product
from math import prod

from orchard.science.guide import (
    Band,
    Condition,
    Fact,
    Guide,
    Option,
    Sign,
    Value,
    bands,
    load,
    options,
    read_band,
    sample,
)
from orchard.science.verdict.facts import (
    SignFacts,
    gather,
    own_fact,
    question_about,
)
from orchard.science.verdict.judging import (
    Judgement,
    RuleSet,
    first_rule,
    judge,
    ruling,
)
from orchard.science.verdict.words import amount_text

NOT_ANSWERED = "?"
MOST_COMBINATIONS = 500


@dataclass(frozen=True, slots=True)
class Choice:
    """One answer to a question; for a number a band, and whether its ends belong."""

    value: str
    label: str
    band: Band | None = None
    fact_value: Value | None = None

    def holds(self, given: Value) -> bool:
        """Say whether a concrete answer falls under this choice."""
        if self.band is None:
            return given == self.fact_value
        return not isinstance(given, str) and self.band.holds(given)


@dataclass(frozen=True, slots=True)
class OpenFact:
    """A question still open for a sign; its last choice is "not answered"."""

    key: str
    ask: str
    kind: str
    unit: str
    whole: bool
    choices: tuple[Choice, ...]

    def choice_for(self, given: Value | None) -> Choice:
        """Find the choice a concrete answer falls under; ValueError for none."""
        if given is None:
            return self.choices[-1]
        for choice in self.choices[:-1]:
            if choice.holds(given):
                return choice
        raise ValueError(f"{self.key} is {given!r}; no answer to {self.ask!r}.")


def open_facts(
    sign: str | Sign,
    known_facts: Mapping[str, object],
    house_rules: Iterable[RuleSet] = (),
    *,
    guide: Guide | None = None,
) -> list[OpenFact]:
    """List the questions that may still change a verdict, in their order.

    The sign's own question is always there unless `known_facts` answers it; before it
    comes only what decides danger to people. What a visitor cannot see is never asked.
    Where all combinations of answers would be more
    than 500, the last questions are left out, which is safe: they count as not
    answered.
    Errors as `decide`.
    """
    guide = guide or load()
    sign, _ = ruling(guide, sign, house_rules)
    gathered = gather(guide, sign, known_facts)
    found: list[OpenFact] = []
    for name in _open_names(guide, gathered):
        found.append(_open_fact(guide, gathered, name))
        if prod(len(fact.choices) for fact in found) > MOST_COMBINATIONS:
            found.pop()
    return found


def _open_names(guide: Guide, gathered: SignFacts) -> list[str]:
    """Name the unknown facts of every rule that is still undecided, in rule order.

    What decides danger to people comes first.
    """
    sign = gathered.sign
    over = first_rule(sign, gathered)
    names = [own_fact(guide, sign)]
    for rule in (over, *sign.rules) if over else sign.rules:
        truth = rule.truth(gathered.facts, gathered.never_asked)
        if truth is True:
            break
        if truth is None:
            names += [condition.fact for condition in rule.conditions]
    asked = [
        name
        for name in dict.fromkeys(names)
        if name not in gathered.facts and name not in gathered.never_asked
    ]
    return sorted(asked, key=lambda name: not guide.facts[name].asked_first)


def _open_fact(guide: Guide, gathered: SignFacts, name: str) -> OpenFact:
    fact = guide.facts[name]
    return OpenFact(
        key=name,
        ask=question_about(guide, gathered.sign, name),
        kind=fact.kind,
        unit=fact.unit,
        whole=fact.whole,
        choices=(
            *_choices(guide, gathered, fact),
            Choice(NOT_ANSWERED, "Not answered"),
        ),
    )


def _choices(guide: Guide, gathered: SignFacts, fact: Fact) -> list[Choice]:
    conditions = conditions_of(gathered)
    if fact.kind == "number":
        return [
            Choice(band.code, band_label(band, fact), band)
            for band in bands(fact, [cut for cut in conditions if cut.fact == fact.key])
        ]
    return [_plain(option, fact) for option in options(fact, conditions)]


def _plain(option: Option, fact: Fact) -> Choice:
    if isinstance(option, bool):
        return Choice(
            "yes" if option else "no", "Yes" if option else "No", None, option
        )
    word = str(option)
    label = "Another" if word == "other" and not fact.choices else word.capitalize()
    return Choice(word, label, None, word)


def conditions_of(gathered: SignFacts) -> list[Condition]:
    """List what the rules that bear on a sign ask of its facts."""
    over = first_rule(gathered.sign, gathered)
    rules = (over, *gathered.sign.rules) if over else gathered.sign.rules
    return [condition for rule in rules for condition in rule.conditions]


def band_label(band: Band, fact: Fact) -> str:
    """Say a band of numbers as people do, with its unit."""
    low, high = amount_text(band.low, fact), amount_text(band.high, fact)
    bottom = band.low <= fact.low and band.low_in
    top = band.high >= fact.high and band.high_in
    if bottom and top:
        return "Any"
    if band.low == band.high:
        return low
    if top:
        return f"{low} or more" if band.low_in else f"more than {low}"
    if fact.whole:
        return f"{band.low:g} to {high}"
    end = f"up to {high}" if band.high_in else f"under {high}"
    if bottom:
        return end
    start = f"{band.low:g}"
    return f"{start} to {end}" if band.low_in else f"more than {start}, {end}"


def outcomes(
    sign: str | Sign,
    known_facts: Mapping[str, object],
    house_rules: Iterable[RuleSet] = (),
    *,
    guide: Guide | None = None,
) -> dict[str, Judgement]:
    """Judge every answer a form can give, keyed as `answer_key` writes it.

    Errors as `decide`.
    """
    guide = guide or load()
    ruled, house = ruling(guide, sign, house_rules)
    asked = open_facts(ruled, known_facts, guide=guide)
    return {
        _key(asked, chosen): judge(
            guide, ruled, house, {**known_facts, **values(asked, chosen)}
        )
        for chosen in product(*(fact.choices for fact in asked))
    }


def _key(asked: Sequence[OpenFact], chosen: Sequence[Choice]) -> str:
    return "&".join(
        f"{fact.key}={choice.value}" for fact, choice in zip(asked, chosen, strict=True)
    )


def values(
    asked: Sequence[OpenFact], chosen: Sequence[Choice]
) -> dict[str, Value | None]:
    """Give the facts that a choice to each question stands for, None for no answer."""
    return {
        fact.key: _value(fact, choice)
        for fact, choice in zip(asked, chosen, strict=True)
    }


def _value(fact: OpenFact, choice: Choice) -> Value | None:
    return sample(choice.band, fact.whole) if choice.band else choice.fact_value


def answer_key(asked: Sequence[OpenFact], answers: Mapping[str, Value | None]) -> str:
    """Write the key of concrete answers, such as "pct=25..50&ants=yes".

    Facts stand in the order of `asked`, which `open_facts` gave; a number becomes its
    band (25..50 is 25 or more and under 50, a leading > leaves the low end out, ..=
    takes the high end in), a missing answer becomes "?". Answers to other questions
    are passed over. ValueError for an answer outside the bands or choices.
    """
    chosen = [fact.choice_for(answers.get(fact.key)) for fact in asked]
    return _key(asked, chosen)


def facts_for(key: str, *, guide: Guide | None = None) -> dict[str, Value]:
    """Give facts that stand for an answer key, leaving out what is not answered.

    ValueError for a key that is none.
    """
    guide = guide or load()
    found: dict[str, Value] = {}
    for part in key.split("&") if key else ():
        name, _, value = part.partition("=")
        if name not in guide.facts or not value:
            raise ValueError(f"{part!r} in answer key {key!r} names no fact.")
        if value == NOT_ANSWERED:
            continue
        fact = guide.facts[name]
        if fact.kind == "number":
            found[name] = sample(read_band(value), fact.whole)
        elif fact.kind == "yes_no":
            found[name] = {"yes": True, "no": False}[value]
        else:
            found[name] = value
    return found
