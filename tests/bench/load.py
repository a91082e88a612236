"""Whom the work of the plan keeps waiting, and what the sun of many spots costs.

Each figure is the middle of three runs. CPU seconds are those of the process that does
the work; waits are by the clock, of somebody who saves beside it and needs no time of
their own. What somebody waits for is counted in seconds of a machine of usual speed:
a loop of bare Python beside it tells how much slower this one is just now.
"""

from __future__ import annotations

import multiprocessing
import os
import statistics
import sys
import time
from collections.abc import Callable
from datetime import timedelta
from functools import partial
from io import StringIO
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
    Closure,
    Orchard,
    SignInTry,
    Spot,
    Task,
    User,
)
from orchard.services import sun_hours  # noqa: E402
from tests.bench import many_trees  # noqa: E402
from tests.bench.pages import Line, analyse, at_most, main  # noqa: E402

RUNS = 3
SAVE_WAITS_MOST, WRITE_MOST, SUN_MOST = 0.5, 0.25, 1.0
# Whoever notes a stage waits for its work, and keeps nobody else waiting meanwhile.
STAGE_MOST = {1_000: 0.4, 10_000: 1.5}
TURNS, USUAL_SECONDS = 500_000, 0.025
SPOTS = {1_000: 60, 10_000: 600}
Found = TypeVar("Found")
beside = multiprocessing.get_context("fork")


def in_child(work: Callable[[], object]) -> object:
    """Do something in a process of its own, whose caches hold nothing yet."""
    ours, theirs = beside.Pipe()
    connection.close()

    def run() -> None:
        theirs.send(work())
        connection.close()

    child = beside.Process(target=run)
    child.start()
    # What broke there closes the pipe, and shows here.
    theirs.close()
    found = ours.recv()
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
    """Return the CPU seconds of some work, and of its longest transaction."""
    longest, began = 0.0, None
    autocommit = connection.set_autocommit

    def watched(on: bool, **more: bool) -> None:
        nonlocal longest, began
        autocommit(on, **more)
        if not on:
            began = time.process_time()
        elif began is not None:
            # A connection that is made begins no transaction.
            longest, began = max(longest, time.process_time() - began), None

    with mock.patch.object(connection, "set_autocommit", watched):
        seconds = cpu(work)
    return seconds, longest


def nightly(orchard: Orchard) -> None:
    call_command("nightly", orchard=orchard.slug, stdout=StringIO())


def night_beside_saves(orchard: Orchard) -> tuple[float, float, float]:
    """Let the night pass; return its CPU seconds, its longest write and save's wait."""
    ours, theirs = beside.Pipe()
    connection.close()

    def night() -> None:
        theirs.send(longest_write(lambda: nightly(orchard)))
        connection.close()

    child = beside.Process(target=night)
    child.start()
    theirs.close()
    waited = 0.0
    while not ours.poll(0.02):
        begun = time.perf_counter()
        with transaction.atomic():
            SignInTry.objects.create(email_hash="bench", tried_at=many_trees.NOW)
        waited = max(waited, time.perf_counter() - begun)
    seconds, longest = ours.recv()
    child.join()
    return seconds, longest, waited


def forget_tasks() -> None:
    """Bring the work of the plan back to where no night has passed."""
    Closure.objects.all().delete()
    Task.objects.all().delete()


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
    groups = sorted(
        set(orchard.kinds.exclude(group="").values_list("group", flat=True))
    )
    nights, stages, slow, queries, opened = [], [], [], [], 0
    for run in range(RUNS):
        forget_tasks()
        nights.append(night_beside_saves(orchard))
        opened = Task.objects.count()
        noted = {
            "group": groups[0],
            "bbch": (10, 65, 31)[run],
            "seen_on": (many_trees.TODAY - timedelta(days=run)).isoformat(),
        }

        def post(noted: dict[str, object] = noted) -> None:
            answer = client.post(address, noted)
            assert answer.status_code == 302, answer.content

        with CaptureQueriesContext(connection) as asked:
            stage, slower = beside_slowness(partial(longest_write, post))
        stages.append(stage)
        queries.append(len(asked))
        slow.append(slower)
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
    seconds, longest, waited = map(statistics.median, zip(*nights, strict=True))
    stage, stage_write = map(statistics.median, zip(*stages, strict=True))
    usual = statistics.median(
        seconds / slower
        for (seconds, _longest), slower in zip(stages, slow, strict=True)
    )
    what = f"{size:,} trees: "
    return [
        Line(what + "nightly", f"{seconds:.2f} s, {opened:,} open"),
        at_most(what + "longest write, s", longest, WRITE_MOST),
        at_most(what + "a save waits, s", waited, SAVE_WAITS_MOST),
        Line(what + "stage posted, here", f"{stage:.2f} s"),
        Line(what + "this machine takes", f"{statistics.median(slow):.2f} x"),
        at_most(what + "stage posted, s", usual, STAGE_MOST.get(size, 0.4)),
        at_most(what + "its longest write, s", stage_write, WRITE_MOST),
        Line(what + "its queries", f"{statistics.median(queries):g}"),
        Line(what + f"sun of {spots} spots, here", f"{sun:.2f} s"),
        at_most(what + f"sun of {spots} spots, s", usual_sun, SUN_MOST),
    ]


def measure(*, small: bool) -> list[Line]:
    call_command("migrate", verbosity=0)
    with mock.patch("django.utils.timezone.now", return_value=many_trees.NOW):
        return [
            line
            for size in ([30, 300] if small else [1_000, 10_000])
            for line in lines_of(size)
        ]


if __name__ == "__main__":
    sys.exit(main(measure))
