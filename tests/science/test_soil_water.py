"""The ground's balance of water: FAO-56 equations 85 and 86, from memory.

The sums below are worked by pencil from those equations, without run-off.
"""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from orchard.science import soil_water

MM = st.floats(0, 60, allow_nan=False)


def test_water_in_reach_is_the_ready_water_over_its_share():
    # Loam 20 mm (Citrus Australia 2018); half may be used (FAO-56 Table 22).
    assert soil_water.within_reach() == pytest.approx(40)


def test_the_balance_adds_what_trees_draw_and_takes_off_rain():
    # 0 + 3 - 0 = 3; 3 + 4 - 2 = 5; 5 + 5 - 0 = 10 mm.
    assert soil_water.depletion([(3, 0), (4, 2), (5, 0)], 40) == pytest.approx(10)


def test_rain_beyond_a_full_ground_drains_away():
    assert soil_water.depletion([(3, 0), (4, 50), (5, 0)], 40) == pytest.approx(5)


def test_the_ground_cannot_give_more_than_it_holds():
    assert soil_water.depletion([(5, 0)] * 30, 40) == pytest.approx(40)


@given(st.lists(st.tuples(MM, MM), max_size=40), st.floats(1, 300))
def test_the_balance_stays_between_full_and_empty(days, within):
    assert 0 <= soil_water.depletion(days, within) <= within


@pytest.mark.parametrize(
    ("days", "within", "start", "fault"),
    [
        ([(-1, 0)], 40, 0, "evapotranspiration"),
        ([(1, float("nan"))], 40, 0, "rain"),
        ([(1, None)], 40, 0, "rain"),
        ([], 0, 0, "within"),
        ([], 40, 41, "start"),
    ],
)
def test_numbers_without_meaning_are_refused(days, within, start, fault):
    with pytest.raises(ValueError, match=fault):
        soil_water.depletion(days, within, start=start)
