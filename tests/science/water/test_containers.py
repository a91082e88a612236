from __future__ import annotations

import math
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from orchard.science import water
from orchard.science.water import containers, root_zone

FIRST = date(2025, 7, 1)
amounts = st.floats(min_value=0, max_value=30)
rows_of_days = st.lists(st.tuples(amounts, amounts, amounts), min_size=1, max_size=30)


def days_of(rows):
    return [(FIRST + timedelta(days=number), *row) for number, row in enumerate(rows)]


def test_a_pot_holds_a_fifth_of_its_volume_with_ease():
    # De Boodt & Verdonck (1972), Acta Horticulturae 26, lower ends of 20 to 30 % and of
    # 4 to 10 % of the volume, from memory: 40 L hold 8 L, and 1.6 L more.
    assert water.available_in_container(40.0) == (
        pytest.approx(9.6),
        pytest.approx(8.0),
    )
    with pytest.raises(ValueError, match="volume"):
        water.available_in_container(0.0)


def test_the_mouth_of_a_pot_as_wide_as_it_is_high():
    # By hand: a cylinder 40 cm wide and high holds pi/4 0.4^3 m3 = 50.265 L.
    area = water.mouth_area(1000 * math.pi / 4 * 0.4**3)
    assert area == pytest.approx(math.pi / 4 * 0.4**2)


def test_a_week_of_one_pot_worked_by_hand():
    """A week of one pot comes out as worked by hand.

    A crown 1.2 m wide in 40 L, 5 mm a day at a coefficient of 0.65.

    FAO-56 gives 5 x 0.65 x pi/4 x 1.2^2 = 3.676 L a day over the crown circle. Full on
    the first day; on the third day 0.649 L of ready water are left, the rest of the
    need, 3.027 L, is met out of 1.6 L that leave ever more slowly:
    1.6 x (1 - exp(-3.027 / 1.6)) = 1.359 L.
    """
    need = water.litres_per_tree(5.0, 0.65, 1.2)
    assert need == pytest.approx(3.676, abs=0.001)
    found = water.container_balance(days_of([(need, 0.0, 0.0)] * 3), 40.0)
    assert [day.missing for day in found] == pytest.approx(
        [3.676, 7.351, 7.351 + 0.649 + 1.359], abs=0.002
    )
    # 10 L fill what is missing and the rest runs out below; then the day's use.
    [after] = water.container_balance(days_of([(need, 0.0, 10.0)]), 40.0, missing=7.351)
    assert after.was_full
    assert after.drained == pytest.approx(10.0 - 7.351)
    assert after.missing == pytest.approx(need)


def test_days_that_take_little_are_those_of_fao_56():
    """Days that take little are those of FAO-56."""
    # Equation 84 as `root_zone.stress` has it, itself held against the printed one: a
    # pot that loses a thousandth of its water a day draws the share of the morning.
    total, ready = water.available_in_container(40.0)
    for missing in (0.0, 7.9, 8.4, 9.0, 9.5):
        need = 0.001
        share = root_zone.stress(missing, total, ready)
        used = containers.drawn(missing, need, total=total, ready=ready)
        assert used == pytest.approx(share * need, rel=0.001)


@pytest.mark.oracle
@pytest.mark.parametrize("missing", [0.0, 5.0, 8.0, 9.2])
@pytest.mark.parametrize("need", [0.5, 3.7, 9.0, 25.0])
def test_a_day_is_that_of_the_law_followed_minute_by_minute(missing, need):
    # scipy integrate.solve_ivp of d(missing)/dt = need x equation 84.
    integrate = pytest.importorskip("scipy.integrate")
    total, ready = water.available_in_container(40.0)

    def grows(_time, level):
        return [need * root_zone.stress(min(level[0], total), total, ready)]

    path = integrate.solve_ivp(grows, (0, 1), [missing], rtol=1e-9, max_step=1e-3)
    used = containers.drawn(missing, need, total=total, ready=ready)
    assert missing + used == pytest.approx(path.y[0][-1], abs=1e-4)


@given(rows_of_days, st.floats(min_value=2, max_value=400))
def test_no_water_is_made_or_lost_in_a_pot(rows, volume):
    total, _ready = water.available_in_container(volume)
    before = 0.0
    for day in water.container_balance(days_of(rows), volume):
        level = before + day.used + day.drained - day.rain - day.watered
        assert day.missing == pytest.approx(level, abs=1e-6)
        assert 0 <= day.missing <= total
        before = day.missing


@given(
    rows_of_days,
    st.floats(min_value=2, max_value=400),
    st.floats(min_value=0, max_value=1),
)
def test_a_pot_that_would_be_full_from_empty_is_full_from_anything(rows, volume, share):
    days = days_of(rows)
    known = water.certain(days, volume)
    total, _ready = water.available_in_container(volume)
    true = water.container_balance(days, volume, missing=share * total)
    assert len(known) <= len(true)
    if known:
        assert known[0].was_full
        for told, is_so in zip(known, true[-len(known) :], strict=True):
            assert told.on == is_so.on
            assert told.missing == pytest.approx(is_so.missing, abs=1e-9)


@given(
    st.floats(min_value=0, max_value=9.6),
    st.floats(min_value=0, max_value=9.6),
    st.floats(min_value=0, max_value=40),
)
def test_a_drier_pot_never_ends_a_day_wetter(one, other, need):
    total, ready = 9.6, 8.0
    wet, dry = sorted((one, other))
    used = {
        start: containers.drawn(start, need, total=total, ready=ready)
        for start in (wet, dry)
    }
    assert wet + used[wet] <= dry + used[dry] + 1e-9
    assert all(amount <= need + 1e-12 for amount in used.values())


def test_nothing_is_known_of_a_pot_that_nothing_filled():
    days = days_of([(2.0, 0.0, 3.0)] * 3)
    assert water.certain(days, 40.0) == []


def test_a_missing_day_and_a_negative_amount_are_refused():
    days = [(FIRST, 1.0, 0.0, 0.0), (FIRST + timedelta(days=2), 1.0, 0.0, 0.0)]
    with pytest.raises(ValueError, match="every day"):
        water.container_balance(days, 40.0)
    with pytest.raises(ValueError, match="watered"):
        water.container_balance(days_of([(1.0, 0.0, -1.0)]), 40.0)
    with pytest.raises(ValueError, match="need"):
        water.container_balance(days_of([(math.nan, 0.0, 0.0)]), 40.0)


def test_a_small_pot_is_watered_twice_on_a_hot_day():
    """A small pot is watered twice on a hot day.

    20 L hold 4.8 L; by hand pi/4 x 1 m2 x 8 mm = 6.3 L, above 0.8 x 4.8 = 3.84 L.
    """
    draw = water.litres_per_tree(8.0, 1.0, 1.0)
    assert draw == pytest.approx(6.28, abs=0.01)
    assert water.waterings_a_day(draw, 20.0) == 2
    assert water.waterings_a_day(3.0, 20.0) == 1
    assert water.waterings_a_day(40.0, 20.0) == 3
