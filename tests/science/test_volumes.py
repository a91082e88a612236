from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from orchard.science import volumes

lengths = st.floats(0.05, 2.0)


@pytest.mark.parametrize(
    ("top", "bottom", "height", "litres"),
    [(0.50, 0.40, 0.45, 71.864), (0.50, 0.50, 0.40, 78.540), (0.30, 0.0, 0.30, 7.069)],
)
def test_pots(top: float, bottom: float, height: float, litres: float) -> None:
    """Pots that widen, stand straight or end in a point hold what geometry says."""
    # Frustum, cylinder, cone; own arithmetic from the textbook formula.
    assert volumes.frustum_litres(top, bottom, height) == pytest.approx(
        litres, abs=5e-4
    )


def test_topping_up_follows_the_slope_of_the_pot() -> None:
    # From 12 cm to 5 cm below the rim: 62.263 - 49.536 = 12.727 L; a share of the whole
    # by height would give 11.179.
    found = volumes.top_up_litres(0.50, 0.40, 0.45, 0.12, rim=0.05)
    assert found == pytest.approx(12.727, abs=5e-4)
    to_the_rim = volumes.top_up_litres(0.50, 0.40, 0.45, 0.12)
    assert to_the_rim == pytest.approx(71.864 - 49.536, abs=1e-3)
    assert volumes.top_up_litres(0.50, 0.40, 0.45, 0.05, rim=0.05) == 0.0


@given(lengths, lengths, lengths, st.floats(0, 1))
def test_an_empty_pot_takes_all_and_two_steps_take_as_much_as_one(
    top: float, bottom: float, height: float, share: float
) -> None:
    whole = volumes.frustum_litres(top, bottom, height)
    assert volumes.top_up_litres(top, bottom, height, height) == pytest.approx(whole)
    middle = height * share
    first = volumes.top_up_litres(top, bottom, height, height, rim=middle)
    second = volumes.top_up_litres(top, bottom, height, middle)
    assert first + second == pytest.approx(whole)


@given(lengths, lengths, lengths)
def test_a_pot_lies_between_the_two_cylinders(
    top: float, bottom: float, height: float
) -> None:
    found = volumes.frustum_litres(top, bottom, height)
    low, high = sorted((top, bottom))
    assert found >= volumes.frustum_litres(low, low, height) * (1 - 1e-9)
    assert found <= volumes.frustum_litres(high, high, height) * (1 + 1e-9)


def test_paint_for_trunks() -> None:
    """The paint for twenty trunks is what a worked sum gives."""
    # Own arithmetic: 20 trunks of 0.4 m by 0.6 m, two coats, 8 m2 per litre.
    assert volumes.trunk_paint_litres(20, 0.4, 0.6, 8, 2) == pytest.approx(1.2)
    assert volumes.trunk_paint_litres(0, 0.4, 0.6, 8, 2) == 0.0


def test_a_layer_of_mulch() -> None:
    """A cubic yard of mulch covers 324 square feet an inch deep."""
    # Texas A&M AgriLife, Mulch (from memory): one cubic yard covers 324 sq ft, 1 inch.
    cubic_yard = 27 * 0.3048**3 * 1000
    assert volumes.layer_litres(324 * 0.3048**2, 0.0254) == pytest.approx(cubic_yard)
    assert volumes.layer_litres(10, 0.05) == pytest.approx(500)


def test_parts_of_a_mix() -> None:
    """A mix is parted by its parts."""
    # White latex paint and water: common practice, no source; the split is arithmetic.
    assert volumes.mix_parts(3, 1, 1) == (1.5, 1.5)
    assert volumes.mix_parts(3, 2, 1) == (2.0, 1.0)


@pytest.mark.parametrize(
    ("call", "told"),
    [
        (lambda: volumes.frustum_litres(0, 0, 1), "must be above"),
        (lambda: volumes.frustum_litres(-1, 1, 1), "top_diameter"),
        (lambda: volumes.frustum_litres(1, 1, 0), "height"),
        (lambda: volumes.frustum_litres(50, 40, 45), "top_diameter is 50"),
        (lambda: volumes.frustum_litres(1, math.nan, 1), "bottom_diameter"),
        (lambda: volumes.top_up_litres(0.5, 0.4, 0.45, 0.5), "gap"),
        (lambda: volumes.top_up_litres(0.5, 0.4, 0.45, 0.05, rim=0.1), "rim"),
        (lambda: volumes.trunk_paint_litres(1.5, 0.4, 0.6, 8, 2), "trunks"),
        (lambda: volumes.trunk_paint_litres(2, 0.4, 0.6, 0, 2), "coverage"),
        (lambda: volumes.trunk_paint_litres(2, 0.4, 0.6, 8, 0), "coats"),
        (lambda: volumes.layer_litres(10, 0), "depth"),
        (lambda: volumes.mix_parts(3, 0, 0), "one above 0"),
    ],
)
def test_sizes_without_meaning_are_refused(call, told: str) -> None:
    with pytest.raises(ValueError, match=told):
        call()
