"""What came to be known of a lot's trees only after it was picked."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from datetime import date, datetime, timedelta
from typing import NamedTuple

from django.utils.formats import date_format
from django.utils.translation import gettext as _

from orchard.records.days import day_in
from orchard.records.models import (
    Case,
    Closure,
    Happening,
    Harvest,
    HarvestedTree,
    Task,
    job_keys,
)
from orchard.science import frost
from orchard.science.events import EventKind
from orchard.science.figures import days
from orchard.science.words import JobRole, Picked

FROSTS = (EventKind.HARD_FROST, EventKind.SEVERE_FROST)


class LaterHold(NamedTuple):
    """Why a lot is kept back for now, in a sentence fit for everybody."""

    text: str
    # A tree of it is left alone: nothing is moved but what the authority says.
    is_left_alone: bool


class _Night(NamedTuple):
    tree: int | None
    on: date
    is_severe: bool
    noted_at: datetime


def held_since(lots: Iterable[Harvest]) -> dict[int, list[LaterHold]]:
    """Return the lots that are kept back by what was noted after their pick.

    A case keeps back what was picked of its tree before, as long as it is open. A frost
    that is noted late keeps back fruit picked after the night, until a cut test of its
    trees passes. The number of queries does not grow with the lots.
    """
    rows = list(lots)
    if not rows:
        return {}
    trees: dict[int, dict[int, str]] = defaultdict(dict)
    picked = HarvestedTree.objects.filter(harvest__in=[row.pk for row in rows])
    for lot, tree, code in picked.order_by("id").values_list(
        "harvest", "tree", "tree__code"
    ):
        trees[lot][tree] = code
    everywhere = {tree for of_lot in trees.values() for tree in of_lot}
    cases = _cases(everywhere)
    nights = _nights(rows)
    tests = _passed_tests(everywhere) if nights else {}
    found = {}
    for row in rows:
        reasons = [
            *_by_cases(row, trees[row.pk], cases),
            *_by_frost(row, trees[row.pk], nights, tests),
        ]
        if reasons:
            found[row.pk] = reasons
    return found


def _cases(trees: Collection[int]) -> dict[int, datetime]:
    """Return when the newest open case of each tree was opened."""
    opened = Case.objects.open().filter(tree__in=trees).order_by("opened_at")
    return dict(opened.values_list("tree_id", "opened_at"))


def _by_cases(
    row: Harvest, trees: Mapping[int, str], cases: Mapping[int, datetime]
) -> Iterable[LaterHold]:
    back = days("lot_looked_at_again_days")
    codes = [
        code
        for tree, code in trees.items()
        if tree in cases and row.picked_at < cases[tree] <= row.picked_at + back
    ]
    if codes:
        text = _(
            "Since the pick the coordinator has asked to leave %(codes)s alone: "
            "nothing of this lot is given away or moved until that is settled."
        )
        yield LaterHold(text % {"codes": ", ".join(codes)}, is_left_alone=True)


def _nights(rows: Iterable[Harvest]) -> list[_Night]:
    """Return the frosts that were noted after the pick of one of some lots of fruit."""
    fruit = [row for row in rows if row.part == Picked.FRUIT]
    if not fruit:
        return []
    first = min(row.picked_at for row in fruit)
    found = Happening.objects.current().filter(
        orchard__in={row.orchard_id for row in fruit},
        what__in=FROSTS,
        received_at__gt=first,
        happened_on__gte=first.date() - days("fruit_hold_days") - timedelta(days=1),
    )
    return [
        _Night(tree, on, what == EventKind.SEVERE_FROST, noted_at)
        for tree, on, what, noted_at in found.order_by("happened_on", "id").values_list(
            "tree_id", "happened_on", "what", "received_at"
        )
    ]


def _passed_tests(trees: Collection[int]) -> dict[int, date]:
    """Return the day of the newest cut test that passed, of each tree."""
    rows = Closure.objects.filter(
        task__tree__in=trees,
        task__kind__in=Task.OF_A_JOB,
        task__key__in=job_keys(JobRole.CUT_TEST),
        how=Closure.How.DONE,
        undone_at=None,
        cut_test__isnull=False,
    ).order_by("done_on", "id")
    return {
        tree: on
        for tree, on, cut, spoilt in rows.values_list(
            "task__tree_id", "done_on", "cut_test__fruit_cut", "cut_test__fruit_spoilt"
        )
        if frost.cut_test_passes(cut, spoilt)
    }


def _by_frost(
    row: Harvest,
    trees: Mapping[int, str],
    nights: Iterable[_Night],
    tests: Mapping[int, date],
) -> Iterable[LaterHold]:
    if row.part != Picked.FRUIT:
        return
    on, hold = day_in(row.picked_at, row.orchard.time_zone), days("fruit_hold_days")
    for night in nights:
        if night.noted_at <= row.picked_at or not night.on <= on < night.on + hold:
            continue
        since = night.on + hold if night.is_severe else night.on
        codes = [
            code
            for tree, code in trees.items()
            if night.tree in (None, tree) and tests.get(tree, date.min) < since
        ]
        if codes:
            words = {
                "night": date_format(night.on, "j M Y"),
                "codes": ", ".join(codes),
                "day": date_format(since, "j M Y"),
            }
            text = (
                _(
                    "A severe frost of %(night)s was noted after the pick: nothing of "
                    "this lot is given away until a cut test of %(codes)s passes on "
                    "%(day)s or later."
                )
                if night.is_severe
                else _(
                    "A frost of %(night)s was noted after the pick: nothing of this "
                    "lot is given away until a cut test of %(codes)s passes."
                )
            )
            yield LaterHold(text % words, is_left_alone=False)
