"""What treatments hold, in an orchard where 200,000 of them are on record."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterator
from datetime import timedelta

import django

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tests.settings")
django.setup()

from django.core.management import call_command  # noqa: E402
from django.db import connection  # noqa: E402
from django.test import Client  # noqa: E402
from django.test.utils import CaptureQueriesContext  # noqa: E402

from orchard.records.models import (  # noqa: E402
    Orchard,
    TreatedTree,
    Treatment,
    Tree,
    User,
)
from orchard.services import holds, rounds  # noqa: E402
from tests.bench import data, serving  # noqa: E402
from tests.bench.pages import (  # noqa: E402
    Line,
    analyse,
    at_most,
    fetch,
    main,
    medians,
    the_same,
)

HOLDS_MOST, WITH_HOLDS_MOST = 8.0, 1.1
TREES, USES, EACH_HOLDS = 2_000, 200_000, timedelta(days=7)
ON_A_ROUND = 60


def add_uses(orchard: Orchard, person: User, uses: int, trees: list[Tree]) -> None:
    """Add so many uses of one tree each, over ten years; those of this week hold."""
    apart = timedelta(days=3_650) / uses
    begun = [data.NOW - apart * number for number in range(uses)]
    data.in_batches(
        Treatment,
        (
            Treatment(
                orchard=orchard,
                kind="soap",
                started_at=at - timedelta(hours=1),
                ended_at=at,
                by=person,
                received_at=at,
            )
            for at in begun
        ),
    )
    data.in_batches(TreatedTree, reached(orchard, trees))


def reached(orchard: Orchard, trees: list[Tree]) -> Iterator[TreatedTree]:
    entered = set(TreatedTree.objects.values_list("treatment", flat=True))
    rows = Treatment.objects.order_by("id").values_list("id", "ended_at")
    for number, (treatment, ended_at) in enumerate(rows.iterator()):
        if treatment in entered:
            continue
        free = ended_at + EACH_HOLDS
        yield TreatedTree(
            orchard=orchard,
            treatment_id=treatment,
            tree=trees[number * 7 % len(trees)],
            reach="treated",
            entry_at=ended_at + timedelta(hours=12),
            fruit_at=free,
            leaf_at=free,
            flower_at=free,
            open_from=free,
            counts=True,
        )


def raw_holds(orchard: Orchard) -> Callable[[], None]:
    """Return hand-written SQL for what is held, and by what kind of treatment."""
    sql = """
        SELECT reached.tree_id, reached.entry_at, reached.fruit_at, reached.leaf_at,
            reached.flower_at, treatment.kind
        FROM records_treatedtree AS reached
        JOIN records_treatment AS treatment ON treatment.id = reached.treatment_id
        WHERE reached.id IN (
            SELECT id FROM records_treatedtree
            WHERE orchard_id = %s AND counts AND open_from IS NULL
            UNION ALL
            SELECT id FROM records_treatedtree
            WHERE orchard_id = %s AND counts AND open_from > %s
        )
        ORDER BY reached.tree_id, reached.id
    """
    at = data.NOW if connection.vendor == "postgresql" else f"{data.NOW:%Y-%m-%d %T}"
    return lambda: fetch((sql, [orchard.pk, orchard.pk, at]))


def measure(*, small: bool) -> list[Line]:
    part = 100 if small else 1
    call_command("migrate", verbosity=0)
    sizes = data.Sizes(TREES // part, 2 * TREES // part, looks_each=0, closed_each=0)
    orchard, person = data.make_place(sizes)
    trees = list(Tree.objects.in_orchard(orchard).order_by("id"))
    walk = rounds.make_round(
        orchard,
        by=person,
        now=data.NOW,
        today=data.TODAY,
        name="Round",
        walk_on=data.TODAY,
        trees=trees[:ON_A_ROUND],
        to=person,
    )
    client = Client()
    client.force_login(person)
    session = client.cookies["sessionid"].value
    board, round_page = "/bench/board/", f"/bench/rounds/{walk.pk}/"

    def treatment_holds() -> dict:
        return holds.after_treatments(orchard, None, data.NOW)

    def all_holds() -> dict:
        return holds.holds_of(orchard, today=data.TODAY, now=data.NOW)

    def queries() -> int:
        with CaptureQueriesContext(connection) as caught:
            all_holds()
        return len(caught)

    analyse()
    without = serving.copy()
    add_uses(orchard, person, USES // part // 100, trees)
    few = queries()
    add_uses(orchard, person, USES // part - USES // part // 100, trees)
    analyse()
    raw, one_source, every_source = medians(
        raw_holds(orchard), treatment_holds, all_holds
    )
    many, closed = queries(), len(treatment_holds())
    uses = TreatedTree.objects.count()
    connection.close()
    with (
        serving.Server(without, session) as before,
        serving.Server("", session) as now,
    ):
        board_before, board_now, round_before, round_now = medians(
            before.page(board),
            now.page(board),
            before.page(round_page),
            now.page(round_page),
        )
    on_postgres = connection.vendor == "postgresql"
    return [
        Line("trees, uses", f"{len(trees):,}, {uses:,}"),
        Line("trees under a hold", f"{closed:,}"),
        Line("holds, raw SQL", f"{raw:.2f} ms"),
        Line("holds, all causes", f"{every_source:.2f} ms"),
        at_most("holds / raw", one_source / raw, HOLDS_MOST, counts=on_postgres),
        the_same("queries for holds", few, many),
        Line("board, served", f"{board_before:.2f} then {board_now:.2f} ms"),
        at_most("board with holds", board_now / board_before, WITH_HOLDS_MOST),
        Line("round, served", f"{round_before:.2f} then {round_now:.2f} ms"),
        at_most("round with holds", round_now / round_before, WITH_HOLDS_MOST),
    ]


if __name__ == "__main__":
    sys.exit(main(measure))
