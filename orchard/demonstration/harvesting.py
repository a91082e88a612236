"""The harvest: crates of two seasons, where they went, and one that is called back."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from orchard.demonstration.scene import Scene
from orchard.demonstration.tellers import COORDINATOR, LEAD, OTHER_LEAD
from orchard.records.models import Harvest, Recall, Tree
from orchard.science.words import Picked
from orchard.services import harvests
from orchard.services.harvests import ASKED, Pick, TreePick

SINCE = timedelta(days=730)
# Of the Wednesdays on which its fruit is usually ripe, counted from the first.
NTH = 4
SEASON_GAP = timedelta(days=120)
# Between a pick and the report of the laboratory on the water it was rinsed with.
REPORT_AFTER = timedelta(days=5)
LIGHT, HEAVY = 0.85, 1.2
PANTRY = ("Solvarra food pantry (invented)", "+351 555 0144")
SCHOOL = ("Kitchen of the mill school (invented)", "+351 555 0151")


@dataclass(frozen=True, slots=True)
class Crate:
    """What is picked together each season: its trees, with kg and number of each."""

    trees: tuple[tuple[str, float, int], ...]
    receiver: tuple[str, str] = PANTRY


CRATES = (
    Crate((("A-01", 14.5, 62), ("A-02", 11.0, 48))),
    Crate((("B-02", 9.5, 74),), SCHOOL),
    Crate((("C-01", 7.5, 69), ("C-02", 8.0, 73))),
    Crate((("B-07", 16.0, 41),)),
    Crate((("A-07", 9.0, 41), ("A-08", 12.5, 55)), SCHOOL),
    Crate((("A-03", 6.5, 29),)),
)


@dataclass(frozen=True, slots=True)
class Picking:
    """One crate on its day; the last of them is called back."""

    on: date
    crate: Crate
    is_called_back: bool


def pickings(scene: Scene, mornings: Sequence[date]) -> list[Picking]:
    """List the crates of the last seasons, those of trees that grow here, by day."""
    found = [
        (day, crate)
        for crate in CRATES
        if crate.trees[0][0] in scene.trees
        for day in _days(scene, crate, mornings)
    ]
    found.sort(key=lambda row: (row[0], row[1].trees))
    safe = [row for row in found if row[0] + REPORT_AFTER < scene.ends_on]
    return [Picking(*row, is_called_back=row in safe[-1:]) for row in found]


def _days(scene: Scene, crate: Crate, mornings: Sequence[date]) -> Iterator[date]:
    """Yield a morning of each season in which the fruit of a crate is ripe."""
    tree = scene.trees[crate.trees[0][0]]
    ripe: list[date] = []
    for day in (*mornings, date.max):
        if ripe and day - ripe[-1] > SEASON_GAP:
            # A season that was on before is left out.
            if ripe[0] > scene.ends_on - SINCE:
                yield ripe[min(NTH, len(ripe) - 1)]
            ripe = []
        if day < date.max and scene.is_ripe(tree, day):
            ripe.append(day)


def pick(scene: Scene, picking: Picking, day: date) -> None:
    """Record a crate as far as its trees may be picked, and where its fruit went."""
    at = scene.at(day, 10, 40)
    figures = dict(_yields(picking))
    rows = Tree.objects.filter(
        orchard=scene.orchard, code__in=figures, state=Tree.State.GROWING
    ).select_related("kind", "spot__block", "orchard")
    trees = [tree for tree in rows.order_by("code") if scene.bears(tree, day)]
    found = harvests.holds_on(trees, Picked.FRUIT, scene.orchard, at=at)
    closed = {hold.tree.pk for hold in found}
    trees = [tree for tree in trees if tree.pk not in closed]
    if not trees:
        return
    brought = Pick(
        Picked.FRUIT,
        at,
        tuple(TreePick(tree, *figures[tree.code]) for tree in trees),
        how=Harvest.How.CLIPPED,
        checks=frozenset(asked[0].value for asked in ASKED),
    )
    lot = harvests.record(
        scene.orchard, brought, by=scene.people[OTHER_LEAD], now=at, today=day
    ).harvest
    _give_away(scene, lot, picking, brought.kg or 0.0, day)


def _yields(picking: Picking) -> Iterator[tuple[str, tuple[float, int]]]:
    """Yield what each tree gives that season: a heavy year follows a light one."""
    for code, kg, count in picking.crate.trees:
        share = HEAVY if (picking.on.year + len(picking.crate.trees)) % 2 else LIGHT
        share += (ord(code[-1]) - ord("5")) / 60
        yield code, (round(kg * share, 1), round(count * share))


def _give_away(
    scene: Scene, lot: Harvest, picking: Picking, kg: float, day: date
) -> None:
    for use, part, (receiver, contact) in (
        ("given_away", 0.7, picking.crate.receiver),
        ("volunteers", 0.2, ("Wednesday crew", "the shed")),
    ):
        harvests.share(
            lot,
            use=use,
            kg=round(kg * part, 1),
            given_on=day,
            by=scene.people[OTHER_LEAD],
            now=scene.at(day, 12),
            today=day,
            receiver=receiver,
            contact=contact,
        )


def call_back(scene: Scene, picked_on: date, day: date) -> None:
    """Call back the crates of a day, and hear from everybody who got some."""
    lot = (
        Harvest.objects.in_orchard(scene.orchard)
        .current()
        .filter(
            picked_at__gte=scene.at(picked_on, 0),
            picked_at__lt=scene.at(picked_on + timedelta(days=1), 0),
        )
        .order_by("id")
        .last()
    )
    if lot is None:
        return
    recall = harvests.open_recall(
        scene.orchard,
        harvest=lot,
        because="The water it was rinsed with failed its test: germs in the pipe.",
        by=scene.people[COORDINATOR],
        now=scene.at(day, 14),
        today=day,
    )
    _hear(scene, recall, day)


def _hear(scene: Scene, recall: Recall, day: date) -> None:
    for place, line in enumerate(harvests.call_list(recall)):
        harvests.note_call(
            recall,
            line.share,
            is_answered=True,
            words="Half was eaten, nobody is ill. The rest goes to compost."
            if line.share.use == "given_away"
            else "All told by message; everybody throws it away.",
            by=scene.people[LEAD],
            now=scene.at(day, 15, 10 * place),
        )
