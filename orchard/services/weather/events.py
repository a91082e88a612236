"""Events that measured weather brings to each tree: a harmful frost, heavy rain."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date

from orchard.records.models import GrowingTree, Orchard, Tree
from orchard.science import frost
from orchard.science.events import EventKind
from orchard.science.figures import days, figure
from orchard.services.weather import facts

MOST_TENDER = "T1"


@dataclass(frozen=True, slots=True)
class NotedFrost:
    """A frost that somebody noted of a tree, or of the whole orchard."""

    tree_id: int | None
    kind: EventKind
    on: date


def add_weather_events(
    found: dict[int | None, list[tuple[str, date]]],
    noted: Iterable[NotedFrost],
    orchard: Orchard,
    trees: Iterable[GrowingTree],
    today: date,
) -> None:
    """Add heavy rain, and to each tree the nights that could hurt it.

    A measured night counts for the trees it was cold enough for. A noted one counts for
    the tree it is noted of, or for all; but where a thermometer confirms a frost of the
    whole orchard, what was measured decides tree by tree.
    """
    start = today - days("frost_followed_days")
    lately = facts.lately(orchard, start, today)
    rain = EventKind.HEAVY_RAIN.guide_name
    found[None] += [(rain, on) for on in lately.wet]
    measured = dict(lately.lows)
    frosts = [
        night
        for night in noted
        if night.on >= start and not _confirmed(night, measured)
    ]
    by_tree: dict[int | None, list[tuple[date, float]]] = defaultdict(list)
    for night in frosts:
        # As warm as it can have been.
        if night.kind.at_most_c is not None:
            by_tree[night.tree_id].append((night.on, night.kind.at_most_c))
    looks: dict[object, list[tuple[str, date]]] = {}
    for tree in trees:
        tenderness = tree.kind.tender_class or MOST_TENDER
        own = by_tree.get(tree.pk, ())
        key = (tenderness, *own)
        if key not in looks:
            harms = [row for row in lately.lows if _harms(row[1], tenderness)]
            nights = [*harms, *by_tree.get(None, ()), *own]
            name = EventKind.FROST_NIGHT.guide_name
            looks[key] = [(name, on) for on in worth_a_look(nights)]
        if looks[key]:
            found[tree.pk] += looks[key]


def _confirmed(night: NotedFrost, measured: Mapping[date, float]) -> bool:
    """Tell whether a frost of the whole orchard was measured as well."""
    low, limit = measured.get(night.on), night.kind.at_most_c
    return (
        night.tree_id is None and low is not None and limit is not None and low <= limit
    )


def worth_a_look(nights: Iterable[tuple[date, float]]) -> list[date]:
    """Return the nights after which somebody should look: not each of a cold spell.

    A night counts when it begins a spell, or when it was colder than the last that did.
    """
    spell, colder = days("frost_spell_days"), figure("frost_spell_colder_c").value
    kept: list[tuple[date, float]] = []
    for on, low in sorted(nights):
        if not kept or on - kept[-1][0] > spell or low <= kept[-1][1] - colder:
            kept.append((on, low))
    return [on for on, _low in kept]


def _harms(low: float, tenderness: str) -> bool:
    """Tell whether a night could hurt a tree of a class, or the shoots it may have."""
    risk = frost.risk(low, tenderness, tenderness, None, False, soft_growth=True)
    return risk.harm is not frost.Harm.NONE


def frost_risk(
    tree: Tree | GrowingTree,
    minimum: float,
    today: date,
    *,
    soft_growth: bool,
    fruit_hanging: bool,
    hours_check: float | None = None,
    hours_hold: float | None = None,
) -> frost.Risk:
    """Weigh a minimum (°C) against one tree, by what the book knows of it.

    A kind without a class is taken as very tender, so that nothing is left open.
    """
    return frost.risk(
        minimum,
        tree.kind.name,
        tree.kind.tender_class or MOST_TENDER,
        tree.dates.planted_years_on(today),
        tree.setting == Tree.Setting.CONTAINER,
        hours_below=hours_check,
        hours_below_hold=hours_hold,
        soft_growth=soft_growth,
        fruit_hanging=fruit_hanging,
    )
