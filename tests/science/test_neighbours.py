"""A station nearby: when it may stand in, and how its temperatures are brought over."""

from __future__ import annotations

import statistics

import pytest
from hypothesis import given
from hypothesis import strategies as st

from orchard.science import weather

THIRTY = [float(number) for number in range(30)]


def test_a_station_that_is_colder_by_a_line_is_followed_on_that_line():
    found = weather.likeness((nearby, 2.0 + 0.9 * nearby) for nearby in THIRTY)
    assert found is not None
    assert (found.base, found.slope) == pytest.approx((2.0, 0.9))
    assert found.r_squared == pytest.approx(1.0)
    assert found.at_home(10.0) == pytest.approx(11.0)


def test_too_few_days_or_days_all_alike_tell_nothing():
    pairs = [(nearby, nearby) for nearby in THIRTY]
    assert weather.likeness(pairs[:29]) is None
    assert weather.likeness([(8.0, home) for home in THIRTY]) is None
    assert weather.likeness([(nearby, 8.0) for nearby in THIRTY]) is None


@pytest.mark.parametrize(("swing", "is_alike"), [(5.0, True), (6.0, False)])
def test_under_seven_tenths_nothing_is_read_off(swing, is_alike):
    # By hand: the squared correlation of n with n + swing x (-1)^n, n from 0 to 29, is
    # 0.751 where the swing is 5 and 0.677 where it is 6.
    pairs = [(n, n + swing * (-1) ** int(n)) for n in THIRTY]
    by_library = statistics.correlation(*zip(*pairs, strict=True)) ** 2
    assert (by_library >= 0.7) is is_alike
    assert (weather.likeness(pairs) is not None) is is_alike


def test_a_temperature_off_the_earth_is_refused_by_name():
    with pytest.raises(ValueError, match="nearby"):
        weather.likeness([(200.0, 8.0)])


@given(st.lists(st.tuples(st.floats(-20, 45), st.floats(-20, 45)), max_size=60))
def test_what_is_read_off_never_goes_together_by_less_than_seven_tenths(pairs):
    found = weather.likeness(pairs)
    assert found is None or (found.days >= 30 and 0.7 <= found.r_squared <= 1.0 + 1e-9)
