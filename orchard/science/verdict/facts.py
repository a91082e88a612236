"""The facts of one finding: checked, completed where one follows from another."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from orchard.science.guide import ANYTHING_ELSE, Condition, Guide, Sign, Value
from orchard.science.windows import season_of_month
from orchard.science.words import LocalStatus, TreeState

UNKNOWN = "unknown"


class NotJudged(ValueError):
    """A dead, removed or rootstock-only tree takes closing records, no verdicts."""


@dataclass(frozen=True, slots=True)
class SignFacts:
    """One sign with its facts, and how its pests stand here.

    `assumed` are the codes for which nobody has said, so the usual standing is taken.
    """

    sign: Sign
    facts: Mapping[str, Value]
    statuses: Mapping[str, LocalStatus]
    assumed: frozenset[str]

    @property
    def species_matter(self) -> bool:
        """Say whether the verdict may hang on telling the species apart."""
        return len({status.must_be_reported for status in self.statuses.values()}) > 1

    @property
    def needs_report(self) -> tuple[str, ...]:
        """List the codes of this sign that must be reported here."""
        return tuple(
            code for code, status in self.statuses.items() if status.must_be_reported
        )


def codes_of(sign: Sign) -> tuple[str, ...]:
    """List the EPPO codes of a sign, those that only its rules name last."""
    codes = list(sign.eppo)
    for rule in sign.rules:
        for condition in rule.conditions:
            if condition.fact == "species":
                named = [str(code) for code in _values(condition)]
                codes += [code for code in named if code not in codes]
    return tuple(codes)


def _values(condition: Condition) -> tuple[Value, ...]:
    value = condition.value
    return value if isinstance(value, tuple) else (value,)


def species_choices(sign: Sign, statuses: Mapping[str, LocalStatus]) -> tuple[str, ...]:
    """List what may be answered to "which species": codes, and `other` for the rest.

    Up to three codes stand each for itself. Of more, those to be reported and those
    only a rule names stand apart, and `other` is any of the harmless rest.
    """
    codes = tuple(statuses)
    rest = [code for code in sign.eppo if not statuses[code].must_be_reported]
    if len(codes) <= 3 or len(rest) < 2:
        return codes
    return (*(code for code in codes if code not in rest), ANYTHING_ELSE)


def gather(guide: Guide, sign: Sign, facts: Mapping[str, object]) -> SignFacts:
    """Check the facts of a finding and add those that follow.

    None and "unknown" mean no answer. The season follows from the season month.
    `local_status` follows from the species and `pest_status` (code to status), else
    from a given `local_status`, else from how the pest usually stands; it stays
    unknown while species of different standing have not been told apart. ValueError
    with a sentence for an unknown fact, an impossible value, or a season that is not
    the season month's. NotJudged for a tree that takes no verdicts.
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
        code: given.get(code, guide.pests[code].usual_status) for code in codes_of(sign)
    }
    gathered = SignFacts(
        sign,
        MappingProxyType(checked),
        MappingProxyType(statuses),
        frozenset(set(statuses) - set(given)),
    )
    species = checked.get("species")
    choices = dict.fromkeys((*statuses, *species_choices(sign, statuses)))
    if species is not None and species not in choices:
        allowed = ", ".join(choices) or "no species"
        raise ValueError(f"species is {species!r}; {sign.name} takes {allowed}.")
    if statuses:
        status = _local(gathered)
        checked.pop("local_status", None)
        if status is not None:
            checked["local_status"] = status.value
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
    for code in codes_of(sign):
        given = by_code.get(code, local if code in sign.eppo else None)
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


def _local(gathered: SignFacts) -> LocalStatus | None:
    species = gathered.facts.get("species")
    if species is not None and species != ANYTHING_ELSE:
        return gathered.statuses[str(species)]
    standing = set(gathered.statuses.values())
    if len(standing) == 1:
        return next(iter(standing))
    if species == ANYTHING_ELSE:
        return LocalStatus.COMMON
    return None
