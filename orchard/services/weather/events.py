"""Events that measured weather brings to each tree: a harmful frost, heavy rain."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from orchard.records.models import Orchard, Tree
from orchard.science import frost
from orchard.science.figures import days, figure
from orchard.services.weather import facts

MOST_TENDER = "T1"


def add_weather_events(
    found: dict[int | None, list[tuple[str, date]]],
    orchard: Orchard,
    trees: Iterable[Tree],
    today: date,
) -> None:
    """Add heavy rain, and to each tree the measured nights that could hurt it."""
    start = today - days("frost_followed_days")
    lately = facts.lately(orchard, start, today)
    found[None] += [("rain_25mm", on) for on in lately.wet]
    harms: dict[tuple[str, bool, bool], list[date]] = {}
    for tree in trees:
        age = age_on(tree, today)
        young = age is None or age < figure("frost_young_years").value
        potted = tree.setting == Tree.Setting.CONTAINER
        key = (tree.kind.tender_class or MOST_TENDER, young, potted)
        if key not in harms:
            harms[key] = worth_a_look(
                row for row in lately.lows if _harms(row[1], *key)
            )
        found[tree.pk] += [("frost_night", on) for on in harms[key]]


def worth_a_look(nights: Iterable[tuple[date, float]]) -> list[date]:
    """Return the nights after which somebody should look: not each of a cold spell.

    A night counts when it begins a spell, or when it was colder than the last that did.
    """
    spell, colder = days("frost_spell_days"), figure("frost_spell_colder_c").value
    kept: list[tuple[date, float]] = []
    for on, low in nights:
        if not kept or on - kept[-1][0] > spell or low <= kept[-1][1] - colder:
            kept.append((on, low))
    return [on for on, _low in kept]


def _harms(low: float, tenderness: str, young: bool, potted: bool) -> bool:
    age = None if young else figure("frost_young_years").value
    risk = frost.risk(low, tenderness, tenderness, age, potted)
    return risk.harm is not frost.Harm.NONE


def age_on(tree: Tree, today: date) -> float | None:
    """Return a tree's age in years, from when it was grafted or else planted."""
    start = tree.born_on or tree.planted_on
    return max(0.0, (today - start).days / 365.25) if start else None
