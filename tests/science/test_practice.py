from __future__ import annotations

import pytest

from orchard.science import practice
from orchard.science.words import PracticeLevel


def test_right_goes_one_box_up_and_wrong_back_to_the_first() -> None:
    """Each right answer is worth one of five compartments; a miss begins anew."""
    # Leitner (1972), from memory: five compartments, what is missed begins anew.
    assert practice.box_after([]) == 1
    assert practice.box_after([True]) == 2
    assert practice.box_after([True] * 4) == 5
    assert practice.box_after([True] * 9) == 5
    assert practice.box_after([True, True, True, False]) == 1
    assert practice.box_after([False, True, True]) == 3


def test_each_box_waits_twice_as_long() -> None:
    """Boxes 1 to 5 wait 1, 2, 4, 8 and 16 days."""
    # Leitner (1972), from memory: compartments that double in size; the first day ours.
    waits = [practice.days_until_asked(box) for box in range(1, 6)]
    assert waits == [1, 2, 4, 8, 16]


@pytest.mark.parametrize("box", [0, 6])
def test_no_other_box_exists(box: int) -> None:
    with pytest.raises(ValueError, match="allowed is 1 to 5"):
        practice.days_until_asked(box)


def test_questions_grow_harder_with_the_box() -> None:
    """Drawings alone first, then look-alikes, then photos: a rule of this book."""
    assert [practice.level_of(box) for box in range(1, 6)] == [
        PracticeLevel.DRAWING,
        PracticeLevel.DRAWING,
        PracticeLevel.ALIKE,
        PracticeLevel.PHOTO,
        PracticeLevel.PHOTO,
    ]
