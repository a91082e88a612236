"""Whom the work of the plan keeps waiting, and what the sun of many spots costs.

Each figure is the middle of three runs, or the worst of them where somebody is kept
waiting. Waits and transactions are measured by the clock, with a disk that is waited
for as in production; who waits saves a look at one tree after the other, and a row of
the care plan. What somebody waits for of their own is CPU seconds of a machine of usual
speed: a loop of bare Python beside it tells how much slower this one is just now.
"""

from __future__ import annotations

import multiprocessing
import os
import statistics
import sys
import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import timedelta
from functools import partial
from io import StringIO
from itertools import cycle
from typing import TypeVar
from unittest import mock

import django

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tests.settings")
django.setup()

from django.core.management import call_command  # noqa: E402
from django.db import connection, transaction  # noqa: E402
from django.test import Client  # noqa: E402
from django.test.utils import CaptureQueriesContext  # noqa: E402

from orchard.records.models import (  # noqa: E402
    CarePlan,
    Closure,
    Orchard,
    Spot,
    StageNote,
    Task,
    Tree,
    User,
)
from orchard.services import inspections, sun_hours  # noqa: E402
from tests.bench import many_trees  # noqa: E402
from tests.bench.pages import Line, analyse, at_most, main  # noqa: E402

RUNS = 3
SAVE_WAITS_MOST, WRITE_MOST, SUN_MOST = 0.5, 0.25, 1.0
# Whoever notes a stage waits for its work, and keeps nobody else waiting meanwhile.
STAGE_MOST = {1_000: 0.4, 10_000: 1.5}
# The stage at which every tree of a group asks for work (BBCH).
FULL_BLOOM = 65
# So many days after a night most of what it opened has been overtaken.
LATER = 40
MOST_SAVES = 3_000
TURNS, USUAL_SECONDS = 500_000, 0.025
SPOTS = {1_000: 60, 10_000: 600}
Found = TypeVar("Found")
beside = multiprocessing.get_context("fork")


def in_child(
    work: Callable[[], Found], meanwhile: Callable[[], object] | None = None
) -> Found:
    """Do something in a process of its own, whose caches hold nothing yet.

    Until it is done, something may be done here again and again.
    """
    ours, theirs = beside.Pipe()
    connection.close()

    def run() -> None:
        theirs.send(work())
        connection.close()

    child = beside.Process(target=run)
    child.start()
    # What broke there closes the pipe, and shows here.
    theirs.close()
    while meanwhile is not None and not ours.poll(0.02):
        meanwhile()
    found: Found = ours.recv()
    child.join()
    return found


def cpu(work: Callable[[], object]) -> float:
    begun = time.process_time()
    work()
    return time.process_time() - begun


def slowness() -> float:
    """Return how many times longer than usual this machine takes to count."""

    def count() -> None:
        total = 0
        for number in range(TURNS):
            total += number * number % 7

    return cpu(count) / USUAL_SECONDS


def beside_slowness(work: Callable[[], Found]) -> tuple[Found, float]:
    """Do something; return what came of it, and how slow the machine was around it."""
    before = slowness()
    found = work()
    return found, (before + slowness()) / 2


def longest_write(work: Callable[[], object]) -> tuple[float, float]:
    """Return the CPU seconds of some work; by the clock, its longest transaction."""
    longest, began = 0.0, None
    autocommit = connection.set_autocommit

    def watched(on: bool, **more: bool) -> None:
        nonlocal longest, began
        autocommit(on, **more)
        if not on:
            began = time.perf_counter()
        elif began is not None:
            # A connection that is made begins no transaction.
            longest, began = max(longest, time.perf_counter() - began), None

    with mock.patch.object(connection, "set_autocommit", watched):
        seconds = cpu(work)
    return seconds, longest


@dataclass(frozen=True, slots=True)
class Beside:
    """Work that was done while somebody saved beside it; all in seconds."""

    seconds: float
    # The same on a machine of usual speed.
    usual: float
    longest_write: float
    queries: int
    # The longest that who saved had to wait.
    waited: float


def beside_saves(orchard: Orchard, person: User, work: Callable[[], object]) -> Beside:
    """Do some work in a process of its own while somebody else saves all the time."""
    waits = [0.0]
    saves = saves_of(orchard, person)

    def measured() -> tuple[float, float, float, int]:
        with CaptureQueriesContext(connection) as asked:
            (seconds, longest), slower = beside_slowness(lambda: longest_write(work))
        return seconds, seconds / slower, longest, len(asked)

    def save() -> None:
        begun = time.perf_counter()
        next(saves)
        waits.append(time.perf_counter() - begun)

    done = in_child(measured, meanwhile=save)
    return Beside(*done, waited=max(waits))


def saves_of(orchard: Orchard, person: User) -> Iterator[None]:
    """Save what meets the work of the plan, one thing each turn."""
    plans = CarePlan.objects.filter(orchard=orchard, active=True).order_by("id")
    trees = Tree.objects.in_orchard(orchard).select_related("orchard").order_by("id")
    # Read to their end first: SQLite refuses to write beside a reading that goes on.
    for tree, plan in zip(list(trees[:MOST_SAVES]), cycle(plans)):
        inspections.record(
            tree, by=person, now=many_trees.NOW, seen_at=many_trees.NOW, all_well=True
        )
        yield
        with transaction.atomic():
            row = CarePlan.objects.select_for_update().get(pk=plan.pk)
            row.save(update_fields=["active"])
        yield


def nightly(orchard: Orchard) -> None:
    call_command("nightly", orchard=orchard.slug, stdout=StringIO())


def night_later(orchard: Orchard) -> None:
    """Let a night pass when much of what is open has had its time."""
    later = many_trees.NOW + timedelta(days=LATER)
    with mock.patch("django.utils.timezone.now", return_value=later):
        nightly(orchard)


def forget_work(orchard: Orchard) -> None:
    """Bring the orchard back to where no night has passed, and nobody has saved."""
    for model in (Closure, Task):
        # Not one by one: of all of them PostgreSQL would be told the numbers at once.
        model.objects.all()._raw_delete(connection.alias)
    StageNote.objects.filter(orchard=orchard, seen_on=many_trees.TODAY).delete()


def survey(orchard: Orchard, person: User, spots: int) -> None:
    rows = Spot.objects.filter(block__orchard=orchard).select_related("block__orchard")
    for number, spot in enumerate(rows.order_by("id")[:spots]):
        sun_hours.survey_horizon(
            spot,
            surveyed_on=many_trees.TODAY,
            points=[(step * 22.5, 5.0 + (step * number) % 37) for step in range(16)],
            by=person,
            now=many_trees.NOW,
            today=many_trees.TODAY,
        )


def lines_of(size: int) -> list[Line]:
    orchard, person = many_trees.make_orchard(size, f"bench-{size}")
    analyse()
    client = Client()
    client.force_login(person)
    address = f"/{orchard.slug}/stages/"
    group = Tree.objects.in_orchard(orchard).values_list("kind__group", flat=True)[0]
    in_bloom = {
        "group": group,
        "bbch": FULL_BLOOM,
        "seen_on": many_trees.TODAY.isoformat(),
    }

    def post() -> None:
        answer = client.post(address, in_bloom)
        assert answer.status_code == 302, answer.content

    # As a server that has been asked before.
    client.get(address)
    nights, stages, later, opened, blooming, fell = [], [], [], 0, 0, 0
    for _run in range(RUNS):
        forget_work(orchard)
        nights.append(beside_saves(orchard, person, partial(nightly, orchard)))
        opened = Task.objects.count()
        newest = Task.objects.latest("id").pk
        stages.append(beside_saves(orchard, person, post))
        blooming = Task.objects.filter(pk__gt=newest).count()
        by_itself = Closure.objects.filter(by=None)
        closed = by_itself.count()
        later.append(beside_saves(orchard, person, partial(night_later, orchard)))
        fell = by_itself.count() - closed
    spots = SPOTS.get(size, size // 10)
    in_child(lambda: survey(orchard, person, spots))
    page = f"/{orchard.slug}/outlook/sun/"

    def visit() -> tuple[float, float]:
        guest = Client()
        guest.force_login(person)
        guest.get(f"/{orchard.slug}/guide/")
        seconds, slower = beside_slowness(lambda: cpu(lambda: guest.get(page)))
        return seconds, seconds / slower

    visits = [in_child(visit) for _ in range(RUNS)]
    sun, usual_sun = map(statistics.median, zip(*visits, strict=True))
    what = f"{size:,} trees: "
    return [
        Line(what + "nightly", f"{middle(nights, 'seconds'):.2f} s, {opened:,} open"),
        *kept_waiting(what, nights),
        Line(
            what + f"{LATER} days later",
            f"{middle(later, 'seconds'):.2f} s, {fell:,} closed",
        ),
        *kept_waiting(what, later),
        Line(
            what + "stage posted, here",
            f"{middle(stages, 'seconds'):.2f} s, {blooming:,} opened",
        ),
        at_most(
            what + "stage posted, s",
            middle(stages, "usual"),
            STAGE_MOST.get(size, 0.4),
        ),
        *kept_waiting(what, stages),
        Line(what + "its queries", f"{middle(stages, 'queries'):g}"),
        Line(what + f"sun of {spots} spots, here", f"{sun:.2f} s"),
        at_most(what + f"sun of {spots} spots, s", usual_sun, SUN_MOST),
    ]


def middle(runs: Iterable[Beside], figure: str) -> float:
    return statistics.median(getattr(run, figure) for run in runs)


def kept_waiting(what: str, runs: Sequence[Beside]) -> list[Line]:
    """Tell the worst of all runs: whoever is kept waiting has no use for the middle."""
    return [
        at_most(
            what + "  its longest write, s",
            max(run.longest_write for run in runs),
            WRITE_MOST,
        ),
        at_most(
            what + "  a save waits, s", max(run.waited for run in runs), SAVE_WAITS_MOST
        ),
    ]


def wait_for_the_disk() -> None:
    """Let each transaction wait until it lies on the disk, which tests do without."""
    if connection.vendor == "sqlite":
        options = connection.settings_dict["OPTIONS"]
        options["init_command"] = options["init_command"].replace(
            "synchronous=OFF", "synchronous=FULL"
        )
        connection.close()
    with connection.cursor() as cursor:
        shown = "PRAGMA synchronous" if connection.vendor == "sqlite" else "SHOW fsync"
        cursor.execute(shown)
        assert cursor.fetchone()[0] in (2, "on"), "The disk is not waited for."


def measure(*, small: bool) -> list[Line]:
    wait_for_the_disk()
    call_command("migrate", verbosity=0)
    with mock.patch("django.utils.timezone.now", return_value=many_trees.NOW):
        return [
            line
            for size in ([30, 300] if small else [1_000, 10_000])
            for line in lines_of(size)
        ]


if __name__ == "__main__":
    sys.exit(main(measure))
