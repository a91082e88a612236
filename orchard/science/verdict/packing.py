"""All outcomes of a sign as small data that a page can carry to where no signal is.

A round of sixty trees asks for the same few cases over and over, so each is judged
once and remembered by what the rules tell apart.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import lru_cache
from itertools import product

from orchard.science.guide import Guide, Sign, bands, load
from orchard.science.verdict.answers import (
    Choice,
    OpenFact,
    conditions_of,
    open_facts,
    values,
)
from orchard.science.verdict.facts import SignFacts, gather
from orchard.science.verdict.judging import Judgement, RuleSet, judge, ruling
from orchard.science.verdict.steps import waits_for_frost

# From so many worse looks in a row on, more of them change nothing.
WORSE_LOOKS = 2
# What decides when work that waits for the last frost is due.
FROST_FACTS = {"season", "sm", "frost_ahead", "frost_ends_d"}


def compact(
    sign: str | Sign,
    known_facts: Mapping[str, object],
    house_rules: Iterable[RuleSet] = (),
    *,
    guide: Guide | None = None,
) -> dict[str, object]:
    """Give all outcomes as small JSON data that a page can carry.

    `asks` lists the open questions in order, each with `fact`, `kind` (number, yes_no
    or choice), `label`, `unit`, `whole` and `options`. An option has `value` and
    `label`; a number's option is a band with `low`, `high`, `low_in` and `high_in`
    (whether each end belongs to it). The last option of every question is "?", not
    answered, without bounds. `verdicts` lists the different outcomes, each with
    `verdict`, `due`, `recheck`, `because` (sentences), `asks` (a fact or null),
    `rule` and `plan`, the place among the plans of the sign. `table` holds one
    place in `verdicts` for each combination.

    To look up an answer: for each question in order find the number i, from 0, of the
    option chosen (for a number typed in, the one option whose band holds it; "?" when
    nothing is typed). Start with index = 0 and for each question do
    index = index * options.length + i. The outcome is verdicts[table[index]]. With no
    questions the table has one entry. Errors as `decide`.
    """
    guide = guide or load()
    ruled, house = ruling(guide, sign, house_rules)
    gathered = gather(guide, ruled, known_facts)
    if house is None and guide is load():
        return dict(_remembered(ruled.key, _what_matters(guide, gathered)))
    return _packed(guide, ruled, house, known_facts)


@lru_cache(maxsize=8192)
def _remembered(key: str, items: tuple[tuple[str, object], ...]) -> dict[str, object]:
    guide = load()
    facts = {
        name: dict(value) if isinstance(value, tuple) else value
        for name, value in items
    }
    return _packed(guide, guide.signs[key], None, facts)


def _what_matters(guide: Guide, gathered: SignFacts) -> tuple[tuple[str, object], ...]:
    """Reduce facts to what a sign's rules tell apart: two trees alike in it are one.

    A number becomes one number of its band between the rules' thresholds.
    """
    conditions = [*gathered.sign.positive, *conditions_of(gathered)]
    used = {condition.fact for condition in conditions}
    if gathered.sign.eppo_on:
        used |= {"host"}
    if waits_for_frost(gathered.sign, gathered.facts):
        used |= FROST_FACTS
    matter: dict[str, object] = {}
    for name, value in gathered.facts.items():
        if name == "local_status" and gathered.statuses:
            continue
        if name == "worse_in_row":
            matter[name] = min(int(value), WORSE_LOOKS)
        elif name == "species" or name in used:
            matter[name] = value
            fact = guide.facts[name]
            if name != "sm" and fact.kind == "number" and not isinstance(value, str):
                cuts = [cut for cut in conditions if cut.fact == name]
                band = next(band for band in bands(fact, cuts) if band.holds(value))
                matter[name] = band.sample(fact.whole)
    given_statuses = {
        code: status.value
        for code, status in gathered.statuses.items()
        if code not in gathered.assumed
    }
    if given_statuses:
        matter["pest_status"] = tuple(sorted(given_statuses.items()))
    return tuple(sorted(matter.items()))


def _packed(
    guide: Guide,
    ruled: Sign,
    house: RuleSet | None,
    known_facts: Mapping[str, object],
) -> dict[str, object]:
    asked = open_facts(ruled, known_facts, guide=guide)
    places: dict[tuple[object, ...], int] = {}
    table = []
    for chosen in product(*(fact.choices for fact in asked)):
        judged = judge(guide, ruled, house, {**known_facts, **values(asked, chosen)})
        table.append(places.setdefault(_outcome(judged), len(places)))
    names = ("verdict", "due", "recheck", "because", "asks", "rule", "plan")
    return {
        "asks": [_question(fact) for fact in asked],
        "verdicts": [dict(zip(names, outcome, strict=True)) for outcome in places],
        "table": table,
    }


def _outcome(judged: Judgement) -> tuple[object, ...]:
    return (
        judged.verdict.value,
        judged.due_days,
        judged.recheck_days,
        judged.because,
        judged.asks,
        judged.rule_id,
        judged.plan,
    )


def _question(fact: OpenFact) -> dict[str, object]:
    question: dict[str, object] = {
        "fact": fact.key,
        "kind": fact.kind,
        "label": fact.ask,
        "options": [_option(choice) for choice in fact.choices],
    }
    if fact.kind == "number":
        question.update(unit=fact.unit, whole=fact.whole)
    return question


def _option(choice: Choice) -> dict[str, object]:
    option: dict[str, object] = {"value": choice.value, "label": choice.label}
    band = choice.band
    if band is not None:
        option.update(
            low=band.low, high=band.high, low_in=band.low_in, high_in=band.high_in
        )
    return option
