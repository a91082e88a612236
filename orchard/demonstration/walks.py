"""Walks: the rounds of the last weeks, and the one that is handed out for today."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, timedelta

from orchard.demonstration.scene import Scene
from orchard.records.models import Round, Tree, User
from orchard.services import rounds
from orchard.services.rounds import TreeChoice

# A walk of a morning; and for so many days back walks were written down as rounds.
STOPS = 14
SINCE = timedelta(days=20)


def are_handed_out(scene: Scene, day: date) -> bool:
    """Say whether the crews had begun to walk by rounds."""
    return day >= scene.ends_on - SINCE


def begin(
    scene: Scene, day: date, chosen: Iterable[Tree], *, lead: User, walker: User
) -> Round:
    """Hand out a morning's trees as a round."""
    codes = tuple(tree.code for tree in chosen)
    return rounds.make_round(
        scene.orchard,
        by=lead,
        now=scene.at(day, 8),
        today=day,
        name="Wednesday walk",
        walk_on=day,
        trees=rounds.choose_trees(scene.orchard, TreeChoice(codes=codes), on=day),
        to=walker,
    )


def end(scene: Scene, row: Round, day: date) -> None:
    """Close a round at noon, by who walked it."""
    if row.taken_by is not None:
        rounds.close_round(row, by=row.taken_by, now=scene.at(day, 12))


def hand_out(scene: Scene, day: date, *, lead: str, walker: str) -> None:
    """Leave a round for the next morning, and one that nobody has taken yet."""
    by = scene.people[lead]
    morning = day + timedelta(days=1)
    now = scene.at(day, 19, 30)
    due = rounds.choose_trees(
        scene.orchard, TreeChoice(due=True, unseen_days=21), on=morning
    )
    for name, trees, to in (
        ("Morning walk", due[:STOPS], scene.people[walker]),
        ("Second walk", due[STOPS : 2 * STOPS], None),
    ):
        if not trees:
            continue
        rounds.make_round(
            scene.orchard, by=by, now=now, today=day, name=name, walk_on=morning,
            trees=trees, to=to,
        )  # fmt: skip
