"""Whether fruit may be picked: by UNECE FFV-14 where it speaks, else by taste."""

from __future__ import annotations

import pytest

from orchard.science import ripeness
from orchard.science.ripeness import Readiness

NAVEL = ("Washington navel", "orange")
KUMQUAT = ("Meiwa", "kumquat")


def judged(kind=NAVEL, **measured) -> ripeness.Assessment:
    return ripeness.judge_readiness(*kind, fruits=measured.pop("fruits", 5), **measured)


# UNECE standard FFV-14 (2004 text and its 2017 ratio): navels, juice 33 % at the least,
# sugar over acid 6.5:1 at the least; oranges of other kinds juice 35 %.
@pytest.mark.parametrize(
    ("brix", "acid", "juice", "answer"),
    [
        (10.4, 1.6, 33.0, Readiness.READY),  # 6.5:1, both at their bound
        (10.4, 1.6, 32.9, Readiness.TASTE_AGAIN),
        (10.3, 1.6, 40.0, Readiness.TASTE_AGAIN),  # 6.44:1
        (9.0, 1.6, 40.0, Readiness.NOT_YET),  # 5.6:1, more than a tenth short
        (10.4, 1.6, 29.0, Readiness.NOT_YET),
        (10.4, None, 29.0, Readiness.NOT_YET),  # missed already, whatever the acid
        (10.4, None, 40.0, Readiness.UNDECIDED),
        (None, None, None, Readiness.UNDECIDED),
    ],
)
def test_a_navel_is_held_against_juice_and_ratio(brix, acid, juice, answer) -> None:
    found = judged(brix=brix, acid=acid, juice_percent=juice)
    assert found.readiness is answer
    assert found.ripeness is not None
    assert found.ripeness.kind == "navel"
    assert not found.by_taste


def test_every_missed_minimum_counts_for_nearly() -> None:
    # Juice within a tenth, the ratio far off: tasting again in a week is no use.
    found = judged(brix=8.0, acid=1.6, juice_percent=32.0)
    assert found.readiness is Readiness.NOT_YET


# Common practice, no source: four of five is good fruit, three nearly so.
@pytest.mark.parametrize(
    ("taste", "answer"),
    [
        (5, Readiness.READY),
        (4, Readiness.READY),
        (3, Readiness.TASTE_AGAIN),
        (2, Readiness.NOT_YET),
        (1, Readiness.NOT_YET),
        (None, Readiness.UNDECIDED),
    ],
)
def test_without_a_standard_the_taste_decides(taste, answer) -> None:
    found = judged(KUMQUAT, taste=taste, brix=14.0)
    assert found.readiness is answer
    assert found.ripeness is None
    assert found.by_taste is (taste is not None)


def test_taste_stands_in_for_what_was_not_measured_but_not_for_what_was_missed() -> (
    None
):
    assert judged(juice_percent=40.0, taste=4).readiness is Readiness.READY
    missed = judged(juice_percent=20.0, taste=5)
    assert missed.readiness is Readiness.NOT_YET
    assert not missed.by_taste


def test_four_fruit_speak_for_nobody() -> None:
    # Common practice, no source: five fruit at the least.
    found = judged(fruits=4, brix=12.0, acid=1.0, juice_percent=45.0, taste=5)
    assert found.readiness is Readiness.UNDECIDED
    assert found.ripeness is not None
    assert found.ripeness.meets is True


def test_where_the_standard_is_silent_the_next_one_speaks() -> None:
    # Western Australia (2023): tangelos juice 40 %, 9 °Brix, 8:1.
    found = judged(
        ("Minneola tangelo", "tangelo"), brix=9.0, acid=1.1, juice_percent=40
    )
    assert found.ripeness is not None
    assert found.ripeness.standard == "western_australia"
    assert found.readiness is Readiness.READY


@pytest.mark.parametrize("wrong", [{"taste": 6}, {"fruits": 0}, {"brix": 60.0}])
def test_what_cannot_be_is_refused(wrong) -> None:
    with pytest.raises(ValueError, match="allowed|at most|at least"):
        judged(**wrong)
