"""Make an orchard of a size that no teaching garden has, quickly."""

from __future__ import annotations

import random
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from itertools import islice

from django.db import connection, models
from django.db.models import F, Value
from django.db.models.functions import Mod
from django.db.models.lookups import Exact

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


@contextmanager
def trusted() -> Iterator[None]:
    """Spare PostgreSQL the checks of keys and guards: made rows are as they should be.

    They are three quarters of the filling there; SQLite takes them lightly.
    """
    if connection.vendor != "postgresql":
        yield
        return
    with connection.cursor() as cursor:
        cursor.execute("SET session_replication_role = replica")
        try:
            yield
        finally:
            cursor.execute("SET session_replication_role = DEFAULT")


def in_batches(model: type[models.Model], rows: Iterator, size: int = 5_000) -> int:
    """Insert rows as they come and return how many there were."""
    total = 0
    while batch := list(islice(rows, size)):
        model.objects.bulk_create(batch)
        total += len(batch)
    return total


@trusted()
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


@trusted()
def add_history(
    orchard: Orchard,
    by: User,
    *,
    looks: range,
    closed: range,
    tree: Tree | None = None,
) -> int:
    """Add looks and closed tasks to every tree, or to one; return how many looks."""
    trees = Tree.objects.in_orchard(orchard).order_by("id")
    if tree:
        trees = trees.filter(pk=tree.pk)
    first = Inspection.objects.aggregate(last=models.Max("id"))["last"] or 0
    count = 0
    for number in looks:
        seen = NOW - timedelta(days=3 * number + 1)
        score = Mod(F("id") * 7 + number, 4, output_field=models.IntegerField()) + 2
        count += insert_from(
            trees,
            Inspection,
            key=RandomKey(),
            orchard_id=orchard.pk,
            tree_id=F("id"),
            by_id=by.pk,
            seen_on=seen.date(),
            seen_at=seen,
            made_at=seen,
            received_at=seen,
            all_well=number % 10 != 0,
            condition=score if number % 4 == 0 else None,
        )
    insert_from(
        Inspection.objects.filter(all_well=False, id__gt=first).order_by("id"),
        Finding,
        inspection_id=F("id"),
        tree_id=F("tree_id"),
        sign=in_turn_of(F("id"), SIGNS),
        verdict=in_turn_of(F("id") + F("tree_id"), VERDICTS),
        because=["It was so in the rules."],
        rule="bench/1",
        edition="bench",
        answers={"yes": True},
    )
    last = Task.objects.aggregate(last=models.Max("id"))["last"] or 0
    for number in closed:
        done = NOW - timedelta(days=30 * number + 2)
        insert_from(
            trees,
            Task,
            orchard_id=orchard.pk,
            block_id=F("spot__block_id"),
            tree_id=F("id"),
            kind=Task.Kind.CARE.value,
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
    insert_from(
        Task.objects.filter(id__gt=last).order_by("id"),
        Closure,
        task_id=F("id"),
        how="done",
        by_id=by.pk,
        done_on=F("due_on"),
        closed_at=F("closed_at"),
        evidence="Before and after",
    )
    return count


def insert_from(
    source: models.QuerySet, model: type[models.Model], **columns: object
) -> int:
    """Insert a row for each of the source, all within the database; return how many.

    Columns are values or expressions over the source; the others keep their defaults.
    """
    fields = [field for field in model._meta.concrete_fields if not field.primary_key]
    assert columns.keys() <= {field.attname for field in fields}, columns.keys()
    values = []
    for field in fields:
        given = columns.get(field.attname, field.get_default())
        if not hasattr(given, "resolve_expression"):
            given = Value(given, output_field=field)
        values.append(given)
    select, chosen = source.values_list(*values).query.sql_with_params()
    names = ", ".join(connection.ops.quote_name(field.column) for field in fields)
    table = connection.ops.quote_name(model._meta.db_table)
    with connection.cursor() as cursor:
        cursor.execute(f"INSERT INTO {table} ({names}) {select}", chosen)
        return cursor.rowcount


def in_turn_of(number: models.Expression, words: tuple[str, ...]) -> models.Case:
    """Return one word after another, by a whole number of each row."""
    place = Mod(number, len(words), output_field=models.IntegerField())
    return models.Case(
        *(
            models.When(Exact(place, Value(turn)), then=Value(word))
            for turn, word in enumerate(words)
        )
    )


class RandomKey(models.Func):
    """A key like no other, made by the database."""

    function = "gen_random_uuid"
    arity = 0
    output_field = models.UUIDField()

    def as_sqlite(self, compiler, connection, **context):
        return self.as_sql(
            compiler, connection, template="lower(hex(randomblob(16)))", **context
        )
