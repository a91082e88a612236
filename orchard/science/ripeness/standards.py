"""Is fruit ready: sugar, acid and juice against published minimum standards."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from orchard.science import arguments, figures
from orchard.science.ripeness.juice import (
    acid_percent,
    brima,
    correct_brix,
    juice_percent,
    ratio,
    sourness,
    sugar,
)

# The names callers use; what is measured in juice has a room of its own.
__all__ = [
    "Requirement",
    "Ripeness",
    "acid_percent",
    "brima",
    "correct_brix",
    "fruit_kind",
    "juice_percent",
    "meets",
    "ratio",
    "standard_names",
    "standards_for",
]

_FILE = "ripeness.toml"


@dataclass(frozen=True, slots=True)
class Requirement:
    """One requirement of a standard, held against what was measured.

    `met` is None when it could not be judged because something was not measured.
    `at_most` tells that the required figure is an upper bound.
    """

    measure: str
    measured: float | None
    required: float | None
    at_most: bool
    unit: str
    met: bool | None
    source: str
    how: str


@dataclass(frozen=True, slots=True)
class Ripeness:
    """Whether fruit meets a standard; None when something was not measured."""

    kind: str
    standard: str
    standard_name: str
    meets: bool | None
    requirements: tuple[Requirement, ...]

    @property
    def decisive(self) -> Requirement | None:
        """Return the requirement that decided: the first missed, or not measured."""
        for met in (False, None):
            for requirement in self.requirements:
                if requirement.met is met:
                    return requirement
        return None


def standards_for(kind: str) -> tuple[str, ...]:
    """Return the keys of the standards that have requirements for a kind of fruit."""
    return tuple(
        key
        for key in standard_names()
        if any(row["kind"] == kind for row in _requirements(key))
    )


def fruit_kind(cultivar: str, maturity: str, standard: str) -> str | None:
    """Return the kind under which a standard judges a cultivar, None when it does not.

    cultivar is its name in the guide, maturity the kind given there, standard a key of
    `standards_for`. The narrowest kind the standard knows is taken: a navel counts as
    a navel where navels have a minimum of their own, else as an orange.
    """
    _name_of(standard)
    chains = {row["key"]: row["kinds"] for row in figures.rows("fruit", _FILE)}
    kinds = {row["kind"] for row in _requirements(standard)}
    for kind in chains.get(cultivar, [maturity]):
        if kind in kinds:
            return str(kind)
    return None


def meets(
    kind: str,
    brix: float | None,
    acid: float | None,
    juice_percent: float | None = None,
    standard: str = "unece_ffv14",
    *,
    juice_gallons_per_box: float | None = None,
) -> Ripeness:
    """Hold fruit against a published minimum standard, requirement by requirement.

    Parameters
    ----------
    kind : "orange", "navel", "mandarin" and so on, as the standard tells them apart
    brix : soluble solids at 20 °C, °Brix; None when not measured
    acid : anhydrous citric acid, %; None when not measured
    juice_percent : juice as percent of fruit mass; None when not measured
    standard : key of a standard in the guide
    juice_gallons_per_box : US gallons per box of 1 3/5 bushels, for the US grades

    Returns
    -------
    Ripeness: `meets` is False when any requirement is missed, None when none is missed
    but something was not measured, True when all are met.

    Raises
    ------
    ValueError
        When the standard is unknown or says nothing of that kind, or a figure is out of
        range.

    Notes
    -----
    Tables that go by tenths of a degree are read at the tenth reached, which is the
    stricter reading. A figure at its bound meets it.

    References
    ----------
    Each requirement carries its own source and whether that was read.
    """
    name = _name_of(standard)
    rows = [row for row in _requirements(standard) if row["kind"] == kind]
    if not rows:
        kinds = sorted({str(row["kind"]) for row in _requirements(standard)})
        raise ValueError(
            f"kind is {kind!r}, of which {standard} says nothing; "
            f"allowed is {', '.join(kinds)}."
        )
    sweet = None if brix is None else sugar(brix)
    sour = None if acid is None else sourness(acid)
    juice = _within("juice_percent", juice_percent, 100.0)
    gallons = _within("juice_gallons_per_box", juice_gallons_per_box, 20.0)
    judged = tuple(_judge(row, sweet, sour, juice, gallons) for row in rows)
    answers = [requirement.met for requirement in judged]
    result = False if False in answers else None if None in answers else True
    return Ripeness(
        kind=kind,
        standard=standard,
        standard_name=name,
        meets=result,
        requirements=judged,
    )


def _judge(
    row: dict[str, Any],
    brix: float | None,
    acid: float | None,
    juice: float | None,
    gallons: float | None,
) -> Requirement:
    measure = row["measure"]
    at_most = measure == "acid_at_most"
    required = row.get("at_least")
    if "table" in row:
        required = None if brix is None else _from_table(row["table"], brix)
    measured = {
        "brix": brix,
        "acid": acid,
        "acid_at_most": acid,
        "juice": juice,
        "juice_gallons": gallons,
    }.get(measure)
    if measure in ("ratio", "brima") and brix is not None and acid is not None:
        if measure == "ratio":
            # Juice without acid is past any least ratio.
            measured = ratio(brix, acid) if acid > 0 else math.inf
        else:
            form = figures.rows("brima", _FILE)[0]
            measured = brima(brix, acid, k=form["k"], scale=form["scale"])
    met: bool | None = None
    if measured is not None and required is not None:
        # 9.5 / 1.0 of a printed ratio must not fail by a rounding in the last place.
        edge = 1e-9 * max(abs(required), 1.0)
        met = measured <= required + edge if at_most else measured >= required - edge
    return Requirement(
        measure=measure,
        measured=measured,
        required=required,
        at_most=at_most,
        unit=row["unit"],
        met=met,
        source=row["source"],
        how=row["how"],
    )


def _from_table(key: str, brix: float) -> float | None:
    row = next(found for found in figures.rows("table", _FILE) if found["key"] == key)
    tenth = math.floor(brix * 10 + 1e-9) - round(row["first"] * 10)
    values = row["values"]
    if tenth < 0:
        return None
    if tenth < len(values):
        return float(values[tenth])
    if "ratio_beyond" in row:
        return brix / float(row["ratio_beyond"])
    return float(values[-1])


@lru_cache(maxsize=1)
def standard_names() -> dict[str, str]:
    """Return the published standards of the guide: key and name."""
    return {row["key"]: row["name"] for row in figures.rows("standard", _FILE)}


def _name_of(standard: str) -> str:
    names = standard_names()
    if standard not in names:
        raise ValueError(f"standard is {standard!r}; allowed is {', '.join(names)}.")
    return names[standard]


@lru_cache(maxsize=16)
def _requirements(standard: str) -> tuple[dict[str, Any], ...]:
    """Return what a standard asks for, and of its base what it is silent about."""
    rows = figures.rows("requirement", _FILE)
    own = [row for row in rows if row["standard"] == standard]
    [base] = [
        row.get("based_on")
        for row in figures.rows("standard", _FILE)
        if row["key"] == standard
    ]
    spoken = {(row["kind"], row["measure"]) for row in own}
    taken = [
        row
        for row in (_requirements(base) if base else ())
        if (row["kind"], row["measure"]) not in spoken
    ]
    return (*own, *taken)


def _within(name: str, value: float | None, most: float) -> float | None:
    if value is None:
        return None
    return arguments.number(name, value, at_least=0.0, at_most=most)
