"""Frost nights: what the night may cost, tree by tree."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest

from orchard.records.models import (
    Forecast,
    Kind,
    Reading,
)
from orchard.services import (
    frost,
)
from orchard.services.frost import clock_of
from tests.conftest import make_tree
from tests.services.weather_days import AFTERNOON, JANUARY


def forecast(orchard, by, low, *, on=date(2026, 1, 15), made_at=AFTERNOON, **more):
    return Forecast.objects.create(
        orchard=orchard,
        for_on=on,
        made_at=made_at,
        source="the weather service",
        tmin=low,
        by=by,
        received_at=AFTERNOON,
        **more,
    )


def lowest(orchard, by, on, celsius, *, calm=True):
    return Reading.objects.create(
        orchard=orchard,
        what="lowest",
        at=datetime(on.year, on.month, on.day, 7, tzinfo=UTC),
        on=on,
        celsius=celsius,
        calm_clear=calm,
        by=by,
        received_at=AFTERNOON,
    )


def evening(orchard, by, on, celsius, dew_point=None):
    """Note the air two hours after the sunset before a day."""
    at = clock_of(orchard, on).evening_at
    return Reading.objects.create(
        orchard=orchard,
        what="now",
        at=at,
        on=at.date(),
        celsius=celsius,
        dew_point=dew_point,
        by=by,
        received_at=AFTERNOON,
    )


def learn_offset(orchard, by, offset=-1.5, nights=3):
    for back in range(2, 2 + nights):
        on = JANUARY - timedelta(days=back)
        forecast(orchard, by, 2.0, on=on, made_at=AFTERNOON - timedelta(days=back + 1))
        lowest(orchard, by, on, 2.0 + offset)


def kind(orchard, name, tenderness):
    return Kind.objects.create(
        orchard=orchard, name=name, guide_key=name, tender_class=tenderness
    )


@pytest.fixture
def cold(orchard, cora):
    """The trees of the frost night of the scenario."""
    eureka = kind(orchard, "Eureka lemon", "T2")
    navel = kind(orchard, "Navelina", "T3")
    satsuma = kind(orchard, "Owari satsuma", "T5")
    make_tree(orchard, "A-1", kind=eureka)
    make_tree(
        orchard,
        "A-2",
        kind=navel,
        setting="container",
        born_on=date(2023, 3, 1),
        planted_on=date(2024, 3, 1),
    )
    make_tree(
        orchard,
        "A-3",
        kind=navel,
        born_on=date(2023, 3, 1),
        planted_on=date(2024, 3, 1),
    )
    make_tree(orchard, "A-4", kind=satsuma)
    make_tree(orchard, "A-5", kind=navel)
    return orchard


def tonight(orchard, **more):
    return frost.risk_tonight(orchard, now=AFTERNOON, today=JANUARY, **more)


def codes(rows):
    return {row.tree.code for row in rows}


def test_frost_night_lists_lemons_and_young_trees_but_no_grown_satsuma(cold, cora):
    # Acceptance scenario "Frost night": forecast +0.8, offset -1.5, so -0.7: lemons
    # (cover at +1), a young orange in a pot (+2) and a new orange (+1) are listed, a
    # mature satsuma is not.
    learn_offset(cold, cora)
    forecast(cold, cora, 0.8)
    found = tonight(cold)
    assert found.night.offset.value == pytest.approx(-1.5)
    assert found.night.expected.value == pytest.approx(-0.7)
    assert {"A-1", "A-2", "A-3"} <= codes(found.rows)
    assert "A-4" in codes(found.safe)
    limits = {row.tree.code: row.risk.cover_at_c for row in found.rows}
    assert (limits["A-1"], limits["A-2"], limits["A-3"]) == (1.0, 2.0, 1.0)


def test_the_parts_of_a_limit_add_up_to_it(cold, cora):
    forecast(cold, cora, -3.0)
    for row in tonight(cold).rows:
        parts = sum(value for _what, value in row.risk.parts)
        assert parts == pytest.approx(row.risk.cover_at_c)


def test_what_would_be_lost_stands_first(cold, cora):
    forecast(cold, cora, -4.0)
    harms = [row.risk.harm.value for row in tonight(cold).rows]
    order = ["tree", "wood", "soft_growth", "none"]
    assert harms == sorted(harms, key=order.index)
    assert harms[0] != harms[-1]


def test_without_a_forecast_nothing_is_guessed(cold):
    found = tonight(cold)
    assert not found.night.expected.is_known
    assert "Type in" in found.night.expected.missing
    assert not found.rows
    assert found.night.curve is None


def test_an_offset_takes_three_still_nights(orchard, cora):
    learn_offset(orchard, cora, nights=2)
    forecast(orchard, cora, 3.0)
    night = tonight(orchard).night
    assert not night.offset.is_known
    assert night.expected.value == pytest.approx(3.0)


def test_the_curve_needs_an_evening_and_says_so(cold, cora):
    forecast(cold, cora, -3.0)
    without = tonight(cold).night
    assert without.curve is None
    assert "two hours after sunset" in without.why_no_curve
    curve = tonight(cold, evening_c=5.0).night.curve
    assert curve.at(2.0) == pytest.approx(5.0)
    assert curve.at(curve.night_hours) == pytest.approx(-3.0)


def test_the_hours_below_a_limit_are_those_of_the_square_root_law(cold, cora):
    # Brunt's law by hand: from 5 down to -3 °C, the share of the night above 0 °C is
    # (5/8) squared.
    forecast(cold, cora, -3.0)
    night = tonight(cold, evening_c=5.0).night
    length = night.clock.hours - 2
    expected = length * (1 - (5 / 8) ** 2)
    assert night.curve.hours_below(0.0, -3.0) == pytest.approx(expected)


def test_the_evenings_of_own_nights_give_the_estimate(orchard, cora):
    # The ten nights printed with the FAO method (see tests/science/test_frost.py): at
    # 10 °C and a dew point of 2 °C the minimum is -0.74 °C.
    air = [3.2, 0.8, 0.2, 2.6, 4.4, 5.2, 2.7, 1.2, 4.5, 5.6]
    dew = [-4.2, -8.8, -6.5, -6.2, -6.1, 2.6, -0.7, -1.7, -1.2, 0.1]
    low = [-3.1, -5.0, -6.3, -5.4, -4.0, -2.5, -4.8, -5.0, -4.4, -3.3]
    for back, (t0, td, tn) in enumerate(zip(air, dew, low, strict=True), 1):
        on = JANUARY - timedelta(days=back)
        evening(orchard, cora, on, t0, td)
        lowest(orchard, cora, on, tn)
    evening(orchard, cora, date(2026, 1, 15), 10.0, 2.0)
    late = AFTERNOON + timedelta(hours=6)
    night = frost.risk_tonight(orchard, now=late, today=JANUARY).night
    assert night.estimate.value == pytest.approx(-0.74092, abs=1e-4)
    assert night.expected.value == pytest.approx(-0.74092, abs=1e-4)


def test_before_dawn_the_night_is_the_one_that_is_ending(orchard, cora):
    at_three = datetime(2026, 1, 14, 3, 0, tzinfo=UTC)
    found = frost.risk_tonight(orchard, now=at_three, today=JANUARY)
    assert found.night.dawn_on == JANUARY
    assert tonight(orchard).night.dawn_on == JANUARY + timedelta(days=1)


def test_fruit_hanging_is_at_stake(orchard, cora):
    # Common practice, no source: trees with fruit on them are listed from -1 °C.
    hardy = kind(orchard, "Meiwa kumquat", "T5")
    make_tree(orchard, "A-1", kind=hardy)
    forecast(orchard, cora, -1.5)
    [row] = tonight(orchard).rows
    assert row.fruit_hangs
    assert row.risk.cover_at_c == pytest.approx(-1.0)
