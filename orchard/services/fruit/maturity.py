"""What tests of fruit say: the figures that follow from readings, and if it is ripe.

A test speaks for all trees of its kind in its block, for they ripen together.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from orchard.records.models import Orchard, RipenessTest, Tree
from orchard.science import guide, ripeness
from orchard.science.ripeness import Assessment, Readiness

# The block and the kind that a test speaks for.
Place = tuple[int, int]


@dataclass(frozen=True, slots=True)
class MaturityReading:
    """A test with what follows from its readings; None for what was not measured."""

    test: RipenessTest
    brix: float | None
    acid: float | None
    juice: float | None
    answer: Assessment

    @property
    def ratio(self) -> float | None:
        """Sugar over acid; None where either is missing."""
        if self.brix is None or not self.acid:
            return None
        return ripeness.ratio(self.brix, self.acid)

    @property
    def is_ready(self) -> bool:
        return self.answer.readiness is Readiness.READY

    @property
    def place(self) -> Place:
        tree = self.test.tree
        return tree.spot.block_id, tree.kind_id


def read_test(test: RipenessTest) -> MaturityReading:
    """Compute what a test says.

    Raises ValueError when a reading lies outside what can be.
    """
    brix = test.brix_read
    if brix is not None and test.juice_c is not None:
        brix = ripeness.correct_brix(brix, test.juice_c)
    acid = test.acid_percent
    if test.titrant_ml is not None and test.normality and test.sample_ml:
        acid = ripeness.acid_percent(test.titrant_ml, test.normality, test.sample_ml)
    share = test.juice_percent
    if test.juice_g is not None and test.fruit_g:
        share = ripeness.juice_percent(test.juice_g, test.fruit_g)
    kind = test.tree.kind
    cultivar = guide.load().cultivars.get(kind.guide_key)
    answer = ripeness.judge_readiness(
        cultivar.name if cultivar else kind.name,
        cultivar.maturity if cultivar else "none",
        fruits=test.fruits,
        standard=test.orchard.maturity_standard,
        brix=brix,
        acid=acid,
        juice_percent=share,
        taste=test.taste,
        tasters=test.tasters,
        colour_percent=test.colour_percent,
        scented=test.scented,
    )
    return MaturityReading(test, brix, acid, share, answer)


def tests_since(orchard: Orchard, day: date) -> list[MaturityReading]:
    """List the tests that stand from a day on, newest first; at most two queries."""
    rows = list(
        RipenessTest.objects.in_orchard(orchard)
        .current()
        .filter(tested_on__gte=day)
        .order_by("-tested_on", "-id")
    )
    # Of few trees there are many tests.
    trees = Tree.objects.select_related("kind", "spot")
    tested = trees.in_bulk({row.tree_id for row in rows})
    for tree in tested.values():
        tree.orchard = orchard
    for row in rows:
        row.orchard, row.tree = orchard, tested[row.tree_id]
    return [read_test(row) for row in rows]


def ready_since(tests: Iterable[MaturityReading], picked: date | None) -> date | None:
    """Return since when fruit is ready by its tests, newest first, or None.

    A test that fell short ends it, and so does the picking.
    """
    since = None
    for reading in tests:
        on = reading.test.tested_on
        if not reading.is_ready or (picked is not None and on <= picked):
            break
        since = on
    return since


def tests_by_place(
    tests: Iterable[MaturityReading],
) -> dict[Place, tuple[MaturityReading, ...]]:
    """Part tests by the block and kind they speak for, each in the order given."""
    readings: dict[Place, tuple[MaturityReading, ...]] = {}
    for reading in tests:
        readings[reading.place] = (*readings.get(reading.place, ()), reading)
    return readings
