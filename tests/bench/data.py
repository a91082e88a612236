"""Make an orchard of a size that no teaching garden has, quickly, row by row."""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from itertools import islice

from django.db import models

from orchard.records.models import (
    Block,
    Closure,
    Finding,
    Inspection,
    Kind,
    Membership,
    Orchard,
    Spot,
    Stay,
    Task,
    Tree,
    User,
)

TODAY = date(2026, 5, 12)
NOW = datetime(2026, 5, 12, 9, 0, tzinfo=UTC)
RHYTHMS = (1, 3, 7, 14, 30, 60, 90, 180, 365)
SIGNS = ("sucker", "aphids", "leafminer", "soft_scale", "winter_yellow")
VERDICTS = ("act", "watch", "leave")


@dataclass(frozen=True, slots=True)
class Sizes:
    trees: int
    open_tasks: int
    looks_each: int
    closed_each: int


FULL = Sizes(trees=10_000, open_tasks=200_000, looks_each=200, closed_each=20)
SMALL = Sizes(trees=300, open_tasks=3_000, looks_each=20, closed_each=4)


def in_batches(model: type[models.Model], rows: Iterator, size: int = 5_000) -> int:
    """Insert rows as they come and return how many there were."""
    total = 0
    while batch := list(islice(rows, size)):
        model.objects.bulk_create(batch)
        total += len(batch)
    return total


def make_place(sizes: Sizes) -> tuple[Orchard, User]:
    """Make the orchard, its people, blocks, trees and open tasks."""
    rng = random.Random(20260512)
    orchard = Orchard.objects.create(
        name="Bench",
        slug="bench",
        place="Nowhere",
        time_zone="UTC",
        latitude="38.5",
        longitude="-8.5",
        founded_at=NOW,
    )
    people = []
    for number in range(20):
        user = User.objects.create_user(
            f"person{number}@example.org", f"Person {number}", None
        )
        role = "coordinator" if number == 0 else "volunteer"
        Membership.objects.create(user=user, orchard=orchard, role=role, joined_at=NOW)
        people.append(user)
    kind = Kind.objects.create(
        orchard=orchard,
        name="Washington navel",
        guide_key="Washington navel",
        group="navel",
        tender_class="T3",
    )
    blocks = [
        Block.objects.create(
            orchard=orchard, code=f"B{number}", name=f"Block {number}", position=number
        )
        for number in range(20)
    ]
    in_batches(
        Spot,
        (
            Spot(block=blocks[number % 20], number=str(number), position=number)
            for number in range(sizes.trees)
        ),
    )
    in_batches(
        Tree,
        (
            Tree(
                orchard=orchard,
                spot=spot,
                code=f"T-{spot.number}",
                kind=kind,
                rootstock="Carrizo / Troyer citrange",
                planted_on=date(2012, 3, 1),
                born_on=date(2010, 3, 1),
                entered_at=NOW,
                last_seen_on=TODAY - timedelta(days=rng.randrange(90)),
                condition=rng.randint(2, 5),
            )
            for spot in Spot.objects.order_by("id").iterator()
        ),
    )
    trees = list(Tree.objects.order_by("id").select_related("spot"))
    in_batches(
        Stay,
        (Stay(tree=tree, spot=tree.spot, since_on=tree.planted_on) for tree in trees),
    )
    in_batches(Task, open_tasks(orchard, trees, people, sizes, rng))
    return orchard, people[0]


def open_tasks(orchard, trees, people, sizes, rng) -> Iterator[Task]:
    for number in range(sizes.open_tasks):
        tree = trees[number % len(trees)]
        turn = number // len(trees)
        kind = rng.choices(
            [Task.Kind.ACT, Task.Kind.CARE, Task.Kind.LOOK], [15, 60, 25]
        )[0]
        rhythm = rng.choice(RHYTHMS)
        # About a quarter late, a quarter begun, the rest still to open.
        due = TODAY + timedelta(days=rng.randint(-60, 180))
        yield Task(
            orchard=orchard,
            block_id=tree.spot.block_id,
            tree=tree,
            kind=kind,
            rank=Task.RANKS[kind],
            key=f"bench-{turn}",
            occurrence="open",
            title="Look after this tree",
            because="It is due again.",
            opens_on=due - timedelta(days=min(rhythm, 14)),
            due_on=due,
            rhythm_days=rhythm,
            taken_by=rng.choice(people) if rng.random() < 0.2 else None,
            made_at=NOW,
        )


def add_history(
    orchard: Orchard,
    by: User,
    *,
    looks: range,
    closed: range,
    tree: Tree | None = None,
) -> int:
    """Add looks and closed tasks to every tree, or to one; return how many looks."""
    rng = random.Random(looks.start + 1)
    rows = Tree.objects.in_orchard(orchard).order_by("id").select_related("spot")
    trees = [tree] if tree else list(rows)

    def inspections() -> Iterator[Inspection]:
        for number in looks:
            for tree in trees:
                seen = NOW - timedelta(days=3 * number + 1, minutes=tree.pk % 600)
                yield Inspection(
                    orchard=orchard,
                    tree=tree,
                    by=by,
                    seen_on=seen.date(),
                    seen_at=seen,
                    made_at=seen,
                    received_at=seen,
                    all_well=number % 10 != 0,
                    condition=rng.randint(2, 5) if number % 4 == 0 else None,
                )

    first = Inspection.objects.order_by("-id").values_list("id", flat=True).first() or 0
    count = in_batches(Inspection, inspections())
    noted = Inspection.objects.filter(all_well=False, id__gt=first).order_by("id")
    in_batches(
        Finding,
        (
            Finding(
                inspection_id=row["id"],
                tree_id=row["tree_id"],
                sign=rng.choice(SIGNS),
                verdict=rng.choice(VERDICTS),
                because=["It was so in the rules."],
                rule="bench/1",
                edition="bench",
                answers={"yes": True},
            )
            for row in noted.values("id", "tree_id").iterator()
        ),
    )

    def tasks() -> Iterator[Task]:
        for number in closed:
            for tree in trees:
                done = NOW - timedelta(days=30 * number + 2)
                yield Task(
                    orchard=orchard,
                    block_id=tree.spot.block_id,
                    tree=tree,
                    kind=Task.Kind.CARE,
                    rank=Task.RANKS[Task.Kind.CARE],
                    key="done",
                    occurrence=f"turn {number}",
                    title="Weed the ring by hand",
                    opens_on=done.date() - timedelta(days=10),
                    due_on=done.date(),
                    rhythm_days=30,
                    made_at=done,
                    closed_at=done,
                )

    last = Task.objects.order_by("-id").values_list("id", flat=True).first() or 0
    in_batches(Task, tasks())
    in_batches(
        Closure,
        (
            Closure(
                task_id=row["id"],
                how="done",
                by=by,
                done_on=row["due_on"],
                closed_at=row["closed_at"],
                evidence="Before and after",
            )
            for row in Task.objects.filter(id__gt=last)
            .values("id", "due_on", "closed_at")
            .iterator()
        ),
    )
    return count
