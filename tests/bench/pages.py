"""The measuring itself, on the database that DATABASE_URL names."""

from __future__ import annotations

import argparse
import gc
import itertools
import os
import statistics
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, timedelta
from unittest import mock

import django

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tests.settings")
django.setup()

from django.core.management import call_command  # noqa: E402
from django.db import connection, transaction  # noqa: E402
from django.test import Client  # noqa: E402
from django.test.utils import (  # noqa: E402
    CaptureQueriesContext,
    override_settings,
)

from orchard import demonstration  # noqa: E402
from orchard.records.models import Tree  # noqa: E402
from tests.bench import data, serving  # noqa: E402

# As commands and servers have it.
gc.set_threshold(50_000, 20, 20)

RUNS, FEW_RUNS = 50, 10
BOARD_MOST, MEMORY_MOST = 4.0, 150.0
# SQLite finds the rows of one tree in no time: there the page is all that takes any.
TREE_MOST = {"postgresql": 10.0, "sqlite": 30.0}
# Pages that gather from the whole orchard, none of which takes as long as to read it.
OTHERS_MOST = 10.0
OTHERS = {
    "first page of a coordinator": "",
    "closed tasks": "board/closed/",
    "trees": "trees/",
    "inspections": "inspections/",
    "details of a tree": "trees/T-7/details/",
    "ledger": "ledger/",
}
# No history makes a page quicker: what says so measured something else.
HISTORY_LEAST, HISTORY_MOST = 0.8, 1.2
# Who asks, and where: every page must know it.
ASKING = """
    SELECT person.*, member.*, orchard.* FROM records_user AS person
    JOIN records_membership AS member ON member.user_id = person.id
    JOIN records_orchard AS orchard ON orchard.id = member.orchard_id
    WHERE person.id = %(person)s AND orchard.id = %(orchard)s
"""


@dataclass(frozen=True, slots=True)
class Line:
    """One line of the table; without a limit it only informs."""

    what: str
    value: str
    limit: str = ""
    holds: bool = True
    fault: str = "TOO MUCH"


def raw_board(orchard_id: int, person_id: int) -> Callable[[], None]:
    """Return hand-written SQL for the board: counts by job, blocks and people."""
    counts = """
        SELECT rank, kind, key, block_id, count(*), count(tree_id),
            count(*) FILTER (WHERE due_on < %(today)s),
            count(*) FILTER (WHERE due_on <= %(week)s),
            count(taken_by_id), min(taken_by_id), max(taken_by_id),
            min(due_on), min(rhythm_days)
        FROM records_task
        WHERE orchard_id = %(orchard)s AND closed_at IS NULL
            AND opens_on <= %(today)s AND due_on <= %(ahead)s
        GROUP BY rank, kind, key, block_id
    """
    blocks = """
        SELECT id, code, name FROM records_block WHERE orchard_id = %(orchard)s
        ORDER BY position, id
    """
    people = """
        SELECT member.role, person.id, person.name FROM records_membership AS member
        JOIN records_user AS person ON person.id = member.user_id
        WHERE member.orchard_id = %(orchard)s AND member.left_at IS NULL
        ORDER BY person.name, member.id
    """
    values = {
        "orchard": orchard_id,
        "person": person_id,
        "today": data.TODAY.isoformat(),
        "week": (data.TODAY + timedelta(days=7)).isoformat(),
        "ahead": (data.TODAY + timedelta(days=14)).isoformat(),
    }
    every = [ASKING, counts, blocks, people]
    return lambda: fetch(*((sql, values) for sql in every))


def raw_tree(tree_id: int, orchard_id: int, person_id: int) -> Callable[[], None]:
    """Return hand-written SQL for what a tree's page tells."""
    tree = """
        SELECT tree.*, kind.name, spot.number, block.code FROM records_tree AS tree
        JOIN records_kind AS kind ON kind.id = tree.kind_id
        JOIN records_spot AS spot ON spot.id = tree.spot_id
        JOIN records_block AS block ON block.id = spot.block_id
        WHERE tree.id = %(tree)s
    """
    tasks = """
        SELECT * FROM records_task WHERE tree_id = %(tree)s AND closed_at IS NULL
        ORDER BY due_on, id
    """
    looks = """
        SELECT look.*, person.name FROM records_inspection AS look
        JOIN records_user AS person ON person.id = look.by_id
        WHERE look.tree_id = %(tree)s AND look.superseded_at IS NULL
        ORDER BY look.seen_at DESC, look.id DESC LIMIT 51
    """
    findings = """
        SELECT * FROM records_finding WHERE inspection_id IN (
            SELECT id FROM records_inspection WHERE tree_id = %(tree)s
            ORDER BY seen_at DESC, id DESC LIMIT 51
        )
    """
    closures = """
        SELECT task.*, closure.how, closure.evidence, closure.done_on, person.name
        FROM records_task AS task
        JOIN records_closure AS closure ON closure.task_id = task.id
        JOIN records_user AS person ON person.id = closure.by_id
        WHERE task.tree_id = %(tree)s AND task.closed_at IS NOT NULL
            AND closure.undone_at IS NULL
        ORDER BY task.closed_at DESC, task.id DESC LIMIT 51
    """
    scores = """
        SELECT seen_on, condition, id FROM records_inspection
        WHERE tree_id = %(tree)s AND condition IS NOT NULL
        ORDER BY seen_on DESC, id DESC LIMIT 120
    """
    treatments = """
        SELECT treatment.*, reached.* FROM records_treatedtree AS reached
        JOIN records_treatment AS treatment ON treatment.id = reached.treatment_id
        WHERE reached.tree_id = %(tree)s
        ORDER BY treatment.ended_at DESC, treatment.id DESC LIMIT 51
    """
    others = [
        f"SELECT * FROM {table} WHERE tree_id = %(tree)s LIMIT 51"  # noqa: S608
        for table in (
            "records_happening",
            "records_ripenesstest",
            "records_stagenote",
            "records_stay",
            "records_photolink",
            "records_case",
            "records_tag",
        )
    ]
    values = {"tree": tree_id, "orchard": orchard_id, "person": person_id}
    every = [
        ASKING,
        tree,
        tasks,
        looks,
        findings,
        closures,
        scores,
        treatments,
        *others,
    ]
    return lambda: fetch(*((sql, values) for sql in every))


def fetch(*queries) -> None:
    for sql, values in queries:
        with connection.cursor() as cursor:
            cursor.execute(sql, values)
            cursor.fetchall()


def milliseconds(deed: Callable[[], object]) -> float:
    begun = time.perf_counter()
    deed()
    return (time.perf_counter() - begun) * 1000


def in_turn(*deeds: Callable[[], object], runs: int = RUNS) -> list[list[float]]:
    """Time deeds in turn, so that a slow moment of the machine meets all of them.

    Every other turn goes backwards: what one leaves behind weighs on both neighbours.
    """
    times: list[list[float]] = [[] for _ in deeds]
    for deed in deeds:
        deed()
    order = list(zip(times, deeds, strict=True))
    for _ in range(runs):
        for kept, deed in order:
            kept.append(milliseconds(deed))
        order.reverse()
    return times


def medians(*deeds: Callable[[], object], runs: int = RUNS) -> list[float]:
    return [statistics.median(times) for times in in_turn(*deeds, runs=runs)]


def page(client: Client, address: str) -> Callable[[], None]:
    def get() -> None:
        answer = client.get(address)
        assert answer.status_code == 200, (address, answer.status_code)

    return get


def queries(client: Client, address: str) -> int:
    with CaptureQueriesContext(connection) as caught:
        assert client.get(address).status_code == 200
    return len(caught)


def making_of_demonstration(*, small: bool) -> Line:
    """Make the demonstration, count what it takes, and take it back."""
    counted = itertools.count()

    def count(execute, *query):
        next(counted)
        return execute(*query)

    begun = time.process_time()
    with transaction.atomic(), connection.execute_wrapper(count):
        demonstration.build(now=data.NOW, small=small)
        transaction.set_rollback(True)
    seconds = time.process_time() - begun
    return Line(
        "demonstration made", f"{seconds:.1f} s of CPU, {next(counted):,} queries"
    )


def measure(*, small: bool) -> list[Line]:
    sizes = data.SMALL if small else data.FULL
    call_command("migrate", verbosity=0)
    making = making_of_demonstration(small=small)
    orchard, person = data.make_place(sizes)
    a_hundredth = max(2, sizes.looks_each // 100)
    seen = data.add_history(orchard, person, looks=range(a_hundredth), closed=range(1))
    # The page shows as many events before as after: this tree has them from the start.
    walked = Tree.objects.in_orchard(orchard).get(code="T-7")
    begun = sizes.looks_each
    seen += data.add_history(
        orchard, person, looks=range(begun, begun + 60), closed=range(0), tree=walked
    )
    client = Client()
    client.force_login(person)
    session = client.cookies["sessionid"].value
    home, board, tree = "/bench/", "/bench/board/", "/bench/trees/T-7/"
    analyse()
    few = [queries(client, address) for address in (home, board, tree)]
    short = serving.copy()
    seen += data.add_history(
        orchard,
        person,
        looks=range(a_hundredth, sizes.looks_each),
        closed=range(1, sizes.closed_each),
    )
    analyse()
    raw_b, page_b, raw_t, page_t = medians(
        raw_board(orchard.pk, person.pk),
        page(client, board),
        raw_tree(walked.pk, orchard.pk, person.pk),
        page(client, tree),
    )
    volunteer = Client()
    volunteer.force_login(orchard.memberships.filter(role="volunteer")[0].user)
    raw, of_volunteer, *others = medians(
        raw_board(orchard.pk, person.pk),
        page(volunteer, home),
        *(page(client, f"{home}{address}") for address in OTHERS.values()),
        runs=FEW_RUNS,
    )
    many = [queries(client, address) for address in (home, board, tree)]
    connection.close()
    with serving.Server(short, session) as before, serving.Server("", session) as now:
        boards = in_turn(before.page(board), now.page(board))
        trees = in_turn(before.page(tree), now.page(tree))
        memory = now.memory_after(turns=40)
    counts = not small
    measured = [("first page of a volunteer", of_volunteer)]
    measured += zip(OTHERS, others, strict=True)
    return [
        making,
        Line("trees", f"{sizes.trees:,}"),
        Line("inspections", f"{seen:,}"),
        Line("open tasks", f"{sizes.open_tasks:,}"),
        Line("board, raw SQL", f"{raw_b:.2f} ms"),
        Line("board, page", f"{page_b:.2f} ms"),
        at_most("board / raw", page_b / raw_b, BOARD_MOST, counts=counts),
        Line("tree page, raw SQL", f"{raw_t:.2f} ms"),
        Line("tree page, page", f"{page_t:.2f} ms"),
        at_most(
            "tree page / raw",
            page_t / raw_t,
            TREE_MOST[connection.vendor],
            counts=counts,
        ),
        *(
            line
            for name, took in measured
            for line in (
                Line(name, f"{took:.2f} ms"),
                at_most("  / raw SQL of board", took / raw, OTHERS_MOST, counts=counts),
            )
        ),
        *longer_history("board", *boards),
        *longer_history("tree page", *trees),
        *(
            the_same(f"queries of {name}", *pair)
            for name, *pair in zip(
                ("home", "the board", "the tree page"), few, many, strict=True
            )
        ),
        at_most("memory of a web process, MB", memory, MEMORY_MOST),
    ]


def at_most(what: str, value: float, limit: float, *, counts: bool = True) -> Line:
    bound = f"<= {limit:g}" if counts else f"({limit:g}, not here)"
    return Line(what, f"{value:.2f}", bound, value <= limit or not counts)


def longer_history(what: str, before: list[float], now: list[float]) -> list[Line]:
    """Hold a page with all its history against the same with a hundredth of it.

    By the middle ratio of all turns: a slow moment spoils a turn, and no more.
    """
    ratio = statistics.median(
        after / early for early, after in zip(before, now, strict=True)
    )
    early, after = map(statistics.median, (before, now))
    return [
        Line(f"{what}, served", f"{early:.2f} then {after:.2f} ms"),
        Line(
            f"{what}, 100 x history",
            f"{ratio:.2f}",
            f"{HISTORY_LEAST:g} to {HISTORY_MOST:g}",
            HISTORY_LEAST <= ratio <= HISTORY_MOST,
            "TOO MUCH" if ratio > HISTORY_MOST else "UNSTEADY: measure again",
        ),
    ]


def the_same(what: str, few: int, many: int) -> Line:
    return Line(what, f"{few} then {many}", "same", few == many)


def analyse() -> None:
    """Bring the book into the state that a server keeps it in by itself."""
    # What was just filled in is vacuumed within the minute on a live server.
    vacuum = "VACUUM ANALYZE" if connection.vendor == "postgresql" else "ANALYZE"
    with connection.cursor() as cursor:
        cursor.execute(vacuum)


def main(measure: Callable[..., list[Line]] = measure) -> int:
    parser = argparse.ArgumentParser()
    parser.add_argument("--small", action="store_true")
    chosen = parser.parse_args()
    with mock.patch("django.utils.timezone.now", return_value=data.NOW):
        begun = time.perf_counter()
        with override_settings(ALLOWED_HOSTS=["testserver"]):
            lines = measure(small=chosen.small)
    sys.stdout.write(
        f"\n{connection.vendor}, {date.today()}, "  # noqa: DTZ011
        f"{time.perf_counter() - begun:.0f} s in all\n\n"
    )
    for line in lines:
        mark = "" if not line.limit else ("ok" if line.holds else line.fault)
        sys.stdout.write(f"{line.what:32}{line.value:>16}  {line.limit:18}{mark}\n")
    return 0 if all(line.holds for line in lines) else 1


if __name__ == "__main__":
    sys.exit(main())
