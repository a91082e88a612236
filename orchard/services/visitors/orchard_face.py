"""The orchard's own page for visitors: what is worth seeing, and what grows where."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum

from orchard.records.days import day_in
from orchard.records.models import Orchard, Tree
from orchard.science.figures import stages
from orchard.science.words import HoldKind
from orchard.services import care_plan, ripeness
from orchard.services.care_plan import Context
from orchard.services.errors import NotThere
from orchard.services.holds import holds_of


class Sight(StrEnum):
    """Why a cultivar is worth seeing now."""

    IN_FLOWER = "in_flower"
    RIPE = "ripe"
    COLOURING = "colouring"


@dataclass(frozen=True, slots=True)
class WorthSeeing:
    """A cultivar that is worth a walk this week, and the blocks where it grows."""

    sight: Sight
    kind: str
    places: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class KindHere:
    """A cultivar on show: how many trees, in which blocks, and its story."""

    name: str
    group: str
    trees: int
    places: tuple[str, ...]
    story: str


@dataclass(frozen=True, slots=True)
class OrchardFace:
    """An orchard as its visitors read of it; no people, no tasks, no suspicion."""

    name: str
    place: str
    words: str
    worth_seeing: tuple[WorthSeeing, ...]
    # Blocks in which trees may not be gone near after a treatment.
    closed: tuple[str, ...]
    kinds: tuple[KindHere, ...]


def public_orchard(slug: str) -> Orchard:
    """Return an orchard that has a page for visitors.

    Raises:
        NotThere: there is no such orchard, or its coordinator wants no such page.
    """
    orchard = Orchard.objects.filter(slug=slug, public_page=True).first()
    if orchard is None:
        raise NotThere()
    return orchard


def orchard_face(orchard: Orchard, *, now: datetime) -> OrchardFace:
    """Return what anybody may know of an orchard."""
    today = day_in(now, orchard.time_zone)
    # Without holds: what a case forbids changes nothing here.
    context = care_plan.gather_context(orchard, today=today, holds={})
    return OrchardFace(
        name=orchard.name,
        place=orchard.place,
        words=orchard.visiting_words,
        worth_seeing=_worth_seeing(context),
        closed=_closed(orchard, today, now),
        kinds=_kinds(orchard),
    )


def _worth_seeing(context: Context) -> tuple[WorthSeeing, ...]:
    """List what flowers, is ripe or colours, each cultivar once under each."""
    found: dict[tuple[Sight, str], dict[str, None]] = defaultdict(dict)
    for row in ripeness.ripeness_of_kinds(
        context.orchard, today=context.today, context=context
    ):
        in_time = row.season is not None and row.season[0] <= context.today
        on_show = any(tree.on_display for tree in row.trees)
        if on_show and not row.picked and (row.is_ready or in_time):
            found[Sight.RIPE, row.kind.name][row.block.name] = None
    for tree in context.trees:
        if not tree.on_display:
            continue
        stage = care_plan.stage_now(tree, context)
        if stage is None:
            continue
        if stage in stages("bloom"):
            found[Sight.IN_FLOWER, tree.kind.name][tree.block.name] = None
        elif stage in stages("colouring") and (Sight.RIPE, tree.kind.name) not in found:
            found[Sight.COLOURING, tree.kind.name][tree.block.name] = None
    order = list(Sight)
    rows = sorted(found.items(), key=lambda row: (order.index(row[0][0]), row[0][1]))
    return tuple(WorthSeeing(*key, tuple(places)) for key, places in rows)


def _closed(orchard: Orchard, today: date, now: datetime) -> tuple[str, ...]:
    """Name the blocks with trees that nobody goes near after a treatment."""
    under_hold = holds_of(orchard, today=today, now=now)
    trees = [
        pk
        for pk, holds in under_hold.items()
        if any(hold.kind is HoldKind.ENTRY for hold in holds)
    ]
    names = Tree.objects.filter(pk__in=trees).in_walking_order()
    return tuple(dict.fromkeys(names.values_list("spot__block__name", flat=True)))


def _kinds(orchard: Orchard) -> tuple[KindHere, ...]:
    rows = (
        Tree.objects.in_orchard(orchard)
        .looked_after()
        .filter(on_display=True)
        .in_walking_order()
        .values_list("kind__name", "kind__group", "kind__story", "spot__block__name")
    )
    found: dict[tuple[str, str, str], list[str]] = defaultdict(list)
    for name, group, story, place in rows:
        found[name, group, story].append(place)
    return tuple(
        KindHere(name, group, len(places), _once(places), story)
        for (name, group, story), places in sorted(found.items())
    )


def _once(places: Iterable[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(places))
