"""The facts of one finding: checked, completed where one follows from another."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from orchard.science.guide import ANYTHING_ELSE, Condition, Guide, Sign, Value
from orchard.science.windows import season_of_month
from orchard.science.words import LocalStatus, TreeState

UNKNOWN = "unknown"


class UnlistedSpecies(ValueError):
    """A species was answered that a sign cannot be of."""


class NotJudged(ValueError):
    """A dead, removed or rootstock-only tree takes closing records, no verdicts."""


@dataclass(frozen=True, slots=True)
class SignFacts:
    """One sign with its facts, and how its pests stand here.

    `assumed` are the codes for which nobody has said, so the usual standing is taken;
    `never_asked` are the facts whose answer no visitor can see.
    """

    sign: Sign
    facts: Mapping[str, Value]
    statuses: Mapping[str, LocalStatus]
    assumed: frozenset[str]
    never_asked: frozenset[str]

    @property
    def to_report(self) -> tuple[str, ...]:
        """List the codes that must be reported here, if this sign is seen.

        A named species speaks for itself; of several not told apart none must be while
        one of them is common.
        """
        status = self.facts.get("local_status")
        if status is None or not LocalStatus(str(status)).must_be_reported:
            return ()
        named = self.facts.get("species")
        codes = (str(named),) if named in self.statuses else tuple(self.statuses)
        return tuple(code for code in codes if self.statuses[code].must_be_reported)


def own_fact(guide: Guide, sign: Sign) -> str:
    """Name the fact that the sign's own question answers."""
    used = [condition.fact for condition in sign.positive]
    used += [condition.fact for rule in sign.rules for condition in rule.conditions]
    if sign.asks_fact in used:
        return sign.asks_fact
    answered = [name for name in used if guide.facts[name].given_by == "answer"]
    return answered[0] if answered else sign.asks_fact


def question_about(guide: Guide, sign: Sign, name: str) -> str:
    """Return the question for a fact of a sign, "" where nobody can see the answer."""
    if name == own_fact(guide, sign):
        return sign.ask
    return sign.asks.get(name, guide.facts[name].ask)


def codes_of(sign: Sign) -> tuple[str, ...]:
    """List the codes of a sign's pests, those that only its rules name last.

    A pest without EPPO code that may be absent goes by the key of its sign.
    """
    codes = list(sign.eppo)
    facts = {part.fact for rule in sign.rules for part in rule.conditions}
    if not codes and "local_status" in facts:
        codes = [sign.key]
    for rule in sign.rules:
        for condition in rule.conditions:
            if condition.fact == "species":
                named = [str(code) for code in _values(condition)]
                codes += [code for code in named if code not in codes]
    return tuple(codes)


def _codes_on(sign: Sign, host: Value | None) -> tuple[str, ...]:
    """List the codes of a sign's pests that matter on a host, as `codes_of` does."""
    here = sign.eppo_on.get(str(host))
    if here is None:
        return codes_of(sign)
    return tuple(
        code for code in codes_of(sign) if code in here or code not in sign.eppo
    )


def _values(condition: Condition) -> tuple[Value, ...]:
    value = condition.value
    return value if isinstance(value, tuple) else (value,)


def species_choices(sign: Sign, statuses: Mapping[str, LocalStatus]) -> tuple[str, ...]:
    """List what may be answered to "which species": codes, and `other` for the rest.

    Up to three codes stand each for itself. Of more, those to be reported and those
    only a rule names stand apart, and `other` is any of the harmless rest.
    """
    codes = tuple(statuses)
    own = [code for code in codes if code in sign.eppo]
    rest = [code for code in own if not statuses[code].must_be_reported]
    if len(codes) <= 3 or len(rest) < 2:
        return codes
    return (*(code for code in codes if code not in rest), ANYTHING_ELSE)


def gather(guide: Guide, sign: Sign, facts: Mapping[str, object]) -> SignFacts:
    """Check the facts of a finding and add those that follow.

    None and "unknown" mean no answer. The season follows from the season month.
    `local_status` follows from the species and `pest_status` (code to status), else
    from a given `local_status`, else from how the pest usually stands; of several
    species not told apart it is common where one is, else regulated where one is.
    ValueError with a sentence for an unknown fact, an impossible value, or a season
    that is not the season month's; UnlistedSpecies where it is the species. NotJudged
    for a tree that takes no verdicts.
    """
    answered = {
        name: value
        for name, value in facts.items()
        if value is not None and value != UNKNOWN
    }
    by_code = answered.pop("pest_status", {})
    checked = {name: _checked(guide, name, value) for name, value in answered.items()}
    _refuse_lost_trees(checked)
    _complete_season(checked)
    given = _given_statuses(sign, by_code, checked.get("local_status"))
    statuses = {
        code: given.get(code, guide.pests[code].usual_status)
        for code in _codes_on(sign, checked.get("host"))
    }
    gathered = SignFacts(
        sign,
        MappingProxyType(checked),
        MappingProxyType(statuses),
        frozenset(set(statuses) - set(given)),
        frozenset(name for name, fact in guide.facts.items() if not fact.ask)
        - {own_fact(guide, sign), *sign.asks},
    )
    species = checked.get("species")
    choices = dict.fromkeys((*statuses, *species_choices(sign, statuses)))
    if species is not None and species not in choices:
        allowed = ", ".join(choices) or "no species"
        raise UnlistedSpecies(f"species is {species!r}; {sign.name} takes {allowed}.")
    if statuses:
        checked["local_status"] = _local_status(gathered).value
    return gathered


def _checked(guide: Guide, name: str, value: object) -> Value:
    fact = guide.facts.get(name)
    if fact is None:
        raise ValueError(f"{name!r} is no fact the guide knows.")
    problem = fact.problem_with(value)
    if problem:
        raise ValueError(problem)
    if isinstance(value, bool | int | float | str):
        return str(value) if isinstance(value, str) else value
    raise ValueError(f"{name} is {value!r}; no fact looks like that.")


def _refuse_lost_trees(facts: Mapping[str, Value]) -> None:
    state = TreeState(str(facts.get("tree_state", TreeState.ALIVE)))
    if state is not TreeState.ALIVE:
        raise NotJudged(
            f"This tree is {state.value.replace('_', ' ')}, so signs on it are not "
            "judged. Close its record, or start one for the tree that replaces it."
        )


def _complete_season(facts: dict[str, Value]) -> None:
    month = facts.get("sm")
    if month is None:
        return
    season = season_of_month(int(month)).value
    if facts.setdefault("season", season) != season:
        raise ValueError(
            f"season is {facts['season']!r}, but season month {month} is in {season}."
        )


def _given_statuses(
    sign: Sign, by_code: object, local: Value | None
) -> dict[str, LocalStatus]:
    """Find how each pest of a sign was said to stand here.

    `local_status` speaks for the sign's own codes, not for others its rules name.
    """
    if not isinstance(by_code, Mapping):
        raise ValueError("pest_status must map EPPO codes to how they stand here.")
    found = {}
    own_codes = sign.eppo or (sign.key,)
    for code in codes_of(sign):
        given = by_code.get(code, local if code in own_codes else None)
        if given is None:
            continue
        try:
            found[code] = LocalStatus(given)
        except ValueError:
            raise ValueError(
                f"pest_status of {code} is {given!r}; it can only be one of "
                f"{', '.join(LocalStatus)}."
            ) from None
    return found


def _local_status(gathered: SignFacts) -> LocalStatus:
    species = gathered.facts.get("species")
    if species == ANYTHING_ELSE:
        return LocalStatus.COMMON
    if species is not None:
        return gathered.statuses[str(species)]
    statuses = set(gathered.statuses.values())
    milder = (LocalStatus.COMMON, LocalStatus.REGULATED, LocalStatus.ABSENT)
    return next(status for status in milder if status in statuses)
