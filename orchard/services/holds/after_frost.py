"""Fruit after a frost: which trees wait for a cut test, and until when none is picked.

Nothing is picked or given away from a tree while this says so.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import date, timedelta
from typing import Any

from django.db.models import QuerySet
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from orchard.records.models import Closure, Happening, Orchard, Task, job_keys
from orchard.science import frost
from orchard.science.events import EventKind
from orchard.science.figures import figure
from orchard.science.words import HoldKind, JobRole
from orchard.services.errors import Refused
from orchard.services.holds.shapes import HoldQuery, TreeHold


def check_cut_test(cut: int | None, spoilt: int | None) -> tuple[int, int]:
    """Return the numbers of a cut test.

    Raises:
        Refused (not_counted): one is missing, too few were cut, or more spoilt than
            cut.
    """
    fewest = round(figure("cut_test_fewest").value)
    if cut is None or cut < fewest:
        raise Refused(
            _("Cut at least %(fewest)d fruit from the outside of the crown, and say "
              "how many.") % {"fewest": fewest}, code="not_counted",
            field="fruit_cut",
        )  # fmt: skip
    if spoilt is None or not 0 <= spoilt <= cut:
        raise Refused(
            _("Say how many of the %(cut)d had ice in them or were dry; 0 if none.")
            % {"cut": cut},
            code="not_counted",
            field="fruit_spoilt",
        )
    return cut, spoilt


def cut_test_words(cut: int, spoilt: int) -> str:
    """Say what a cut test showed, and whether it passed."""
    numbers = {"spoilt": spoilt, "cut": cut}
    if frost.cut_test_passes(cut, spoilt):
        return _("Passed: %(spoilt)d of %(cut)d frozen or dry.") % numbers
    return _("Failed: %(spoilt)d of %(cut)d frozen or dry.") % numbers


def cut_tests(orchard: Orchard) -> tuple[Task, ...]:
    """List the open cut tests, each with its tree, the first due first."""
    return tuple(
        Task.objects.in_orchard(orchard)
        .open()
        .with_role(JobRole.CUT_TEST)
        .select_related("tree__kind")
        .order_by("due_on", "id")
    )


def frosts_and_tests(asked: HoldQuery) -> tuple[QuerySet[Any], ...]:
    """Return the rows that such holds come from."""
    return _ended_tests(asked), _open_tests(asked), _severe_nights(asked)


def holds_after_frost(asked: HoldQuery) -> Iterable[tuple[int, TreeHold]]:
    """Return the trees whose fruit stays on them today, each with its strongest hold.

    A hold stands while the cut test is open, for as many days as the guide says after
    one that failed or was left undone, and as long after a severe frost.
    """
    found = dict(_not_passed(asked))
    opened = _open_tests(asked).values_list("tree_id", "opens_on")
    for tree_id, opens_on in opened:
        found[tree_id] = TreeHold(
            HoldKind.CUT_TEST_OPEN,
            _("Cut test open: no fruit is picked or given away until it passes."),
            since=opens_on,
        )
    for tree_id, until in _severe(asked):
        found[tree_id] = TreeHold(
            HoldKind.SEVERE_FROST,
            _("Severe frost: no fruit is picked or given away before %(day)s.")
            % {"day": date_format(until, "j M Y")},
            until,
        )
    return found.items()


def _open_tests(asked: HoldQuery) -> QuerySet[Task]:
    tests = Task.objects.in_orchard(asked.orchard).open().with_role(JobRole.CUT_TEST)
    if asked.trees is not None:
        tests = tests.filter(tree__in=asked.trees)
    return tests.exclude(tree=None)


def _ended_tests(asked: HoldQuery) -> QuerySet[Closure]:
    days = timedelta(days=figure("fruit_hold_days").value)
    rows = Closure.objects.filter(
        task__orchard=asked.orchard,
        task__kind__in=Task.OF_A_JOB,
        task__key__in=job_keys(JobRole.CUT_TEST),
        task__closed_at__isnull=False,
        how__in=(Closure.How.DONE, Closure.How.SKIPPED),
        undone_at=None,
        done_on__gt=asked.today - days,
        done_on__lte=asked.today,
    ).exclude(task__tree=None)
    if asked.trees is not None:
        rows = rows.filter(task__tree__in=asked.trees)
    return rows


def _not_passed(asked: HoldQuery) -> Iterator[tuple[int, TreeHold]]:
    """Yield the trees whose newest cut test did not pass, with what it showed."""
    days = timedelta(days=figure("fruit_hold_days").value)
    rows = (
        _ended_tests(asked)
        .order_by("done_on", "id")
        .values_list(
            "task__tree_id", "done_on", "cut_test__fruit_cut", "cut_test__fruit_spoilt"
        )
    )
    newest = {row[0]: row for row in rows}
    for tree_id, done_on, cut, spoilt in newest.values():
        if (
            cut is not None
            and spoilt is not None
            and frost.cut_test_passes(cut, spoilt)
        ):
            continue
        until = done_on + days
        day = date_format(until, "j M Y")
        if cut is None:
            undone = _(
                "Cut test left undone: no fruit is picked or given away before %(day)s."
            ) % {"day": day}
            yield tree_id, TreeHold(HoldKind.CUT_TEST_UNDONE, undone, until)
            continue
        failed = _(
            "Cut test failed, %(bad)d of %(cut)d spoilt: no fruit is picked or "
            "given away before %(day)s, or before a test passes."
        ) % {"bad": spoilt, "cut": cut, "day": day}
        yield tree_id, TreeHold(HoldKind.CUT_TEST_FAILED, failed, until)


def _severe_nights(asked: HoldQuery) -> QuerySet[Happening]:
    days = timedelta(days=figure("fruit_hold_days").value)
    return (
        Happening.objects.current()
        .filter(orchard=asked.orchard, what=EventKind.SEVERE_FROST)
        .filter(happened_on__gt=asked.today - days, happened_on__lte=asked.today)
    )


def _severe(asked: HoldQuery) -> list[tuple[int, date]]:
    days = timedelta(days=figure("fruit_hold_days").value)
    in_turn = _severe_nights(asked).order_by("happened_on", "id")
    nights = list(in_turn.values_list("tree_id", "happened_on"))
    if not nights:
        return []
    found = []
    trees = asked.orchard.trees.filter(removed_on=None)
    if asked.trees is not None:
        nights = [night for night in nights if night[0] in asked.trees | {None}]
        trees = trees.filter(pk__in=asked.trees)
    everywhere = list(trees.values_list("pk", flat=True))
    for tree_id, on in nights:
        held_trees = [tree_id] if tree_id else everywhere
        found += [(pk, on + days) for pk in held_trees]
    return found
