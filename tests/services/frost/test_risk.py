"""Frost nights: what the night may cost, tree by tree."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest

from orchard.records.models import (
    Crown,
    Forecast,
    Kind,
    Reading,
    Task,
)
from orchard.services import care_plan, frost, guide_sync, trees, visitors
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
    assert "Enter what" in found.night.expected.missing
    assert not found.rows
    assert found.night.curve is None


def test_an_offset_takes_three_still_nights(orchard, cora):
    learn_offset(orchard, cora, nights=2)
    forecast(orchard, cora, 3.0)
    night = tonight(orchard).night
    assert not night.offset.is_known
    assert night.expected.value == pytest.approx(3.0)


def test_when_the_evening_is_read_is_told_by_the_figure(cold, cora, set_figure):
    forecast(cold, cora, -3.0)
    assert "two hours after sunset" in tonight(cold).night.estimate.missing
    set_figure(evening_reading_h=3)
    night = tonight(cold).night
    assert "three hours after sunset" in night.estimate.missing
    assert "three hours after sunset" in night.why_no_curve


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


def test_a_night_is_named_by_the_day_it_ends_on(cold, cora):
    # 15 January 2026 is a Thursday.
    assert tonight(cold).night.name == "the night to Thursday"


def test_the_nights_after_are_listed_as_far_as_the_forecast_goes(cold, cora):
    learn_offset(cold, cora)
    forecast(cold, cora, 5.0)
    forecast(cold, cora, 0.8, on=date(2026, 1, 16))
    forecast(cold, cora, 9.0, on=date(2026, 1, 20))
    first, last = tonight(cold).later
    assert first.name == "the night to Friday"
    assert first.expected_c == pytest.approx(-0.7)
    # The lemon, the new orange and the one in a pot; not the grown orange (-1 °C).
    assert first.reached == 3
    assert (last.dawn_on, last.reached) == (date(2026, 1, 20), 0)


# Windy freezes: University of Florida IFAS CH005, Texas A&M L-2287; a dew point five
# degrees below the minimum: common practice.
@pytest.mark.parametrize(
    ("low", "more", "black"),
    [
        (-2.0, {"dew_point": -7.0}, True),
        (-2.0, {"dew_point": -6.9}, False),
        (-2.0, {"wind": 2.0}, True),
        (-2.0, {"wind": 1.9}, False),
        (-2.0, {}, False),
        (0.1, {"dew_point": -9.0, "wind": 9.0}, False),
    ],
)
def test_wind_or_dry_air_may_bring_a_black_frost(orchard, cora, low, more, black):
    forecast(orchard, cora, low, **more)
    assert tonight(orchard).night.may_be_black is black


def brief(orchard, hour, day=JANUARY):
    now = datetime(day.year, day.month, day.day, hour, tzinfo=UTC)
    return frost.brief_of_tonight(orchard, now=now, today=day)


def test_the_night_is_on_first_screens_from_noon_until_sunrise(cold, cora):
    forecast(cold, cora, -0.7, made_at=AFTERNOON - timedelta(days=1))
    assert brief(cold, 11) is None
    assert brief(cold, 12).reached == 3
    assert brief(cold, 12).night.name == "the night to Thursday"
    before_dawn = brief(cold, 4, date(2026, 1, 15))
    assert before_dawn.night.name == "the night to Thursday"


def test_after_sunset_the_first_screen_says_that_covers_are_late(cold, cora):
    forecast(cold, cora, -0.7, made_at=AFTERNOON - timedelta(days=1))
    assert brief(cold, 13).is_late is False
    assert brief(cold, 20).is_late is True


def test_a_night_that_costs_nothing_is_on_no_first_screen(cold, cora):
    forecast(cold, cora, 2.9, made_at=AFTERNOON - timedelta(days=1))
    assert brief(cold, 13) is None


def test_a_tag_and_the_frost_page_speak_of_the_same_night_and_limit(cold, cora):
    forecast(cold, cora, -0.7)
    rows = {row.tree.code: row for row in tonight(cold).rows}
    night, row = frost.night_of_tree(cold.trees.get(code="A-2"), now=AFTERNOON)
    assert night.name == tonight(cold).night.name
    assert row.risk == rows["A-2"].risk
    assert "A-4" in codes(tonight(cold).safe)
    assert frost.night_of_tree(cold.trees.get(code="A-4"), now=AFTERNOON) is None


def measure(tree, by, width, height=None):
    return Crown.objects.create(
        orchard=tree.orchard,
        tree=tree,
        measured_on=JANUARY - timedelta(days=30),
        width_m=width,
        height_m=height,
        by=by,
        received_at=AFTERNOON,
    )


# No cover over 2.5 m high or 3 m wide: common practice.
@pytest.mark.parametrize(
    ("width", "height", "large"),
    [(3.0, 2.5, False), (3.1, 2.0, True), (2.0, 2.6, True), (3.0, None, False)],
)
def test_a_tree_too_large_to_cover_gets_what_can_be_done(
    orchard, cora, width, height, large
):
    guide_sync.bring_up_to_date(orchard, AFTERNOON - timedelta(days=30))
    orchard.kinds.update(tender_class="T3")
    tree = make_tree(orchard, "A-1")
    measure(tree, cora, width, height)
    forecast(orchard, cora, -3.0)
    guide_sync.review_care_plan(orchard, AFTERNOON)
    care_plan.open_next(orchard, now=AFTERNOON, today=JANUARY)
    opened = set(Task.objects.open().values_list("key", flat=True))
    assert ("frost_large_trees" in opened) is large
    assert ("frost_cover_on" in opened) is not large
    asked = Task.objects.open().filter(key__in=("frost_large_trees", "frost_cover_on"))
    assert {task.rank for task in asked} == {Task.RANK_OF_FROST_NIGHT}
    assert Task.RANKS[Task.Kind.CARE] > Task.RANK_OF_FROST_NIGHT
    found = tonight(orchard)
    assert codes(found.large) == ({"A-1"} if large else set())
    assert codes(found.rows) == (set() if large else {"A-1"})
    face = visitors.public_face(trees.tag_of(tree, now=AFTERNOON), now=AFTERNOON)
    assert face.is_covered is not large


def test_the_ground_is_made_ready_for_the_large_trees_alone(orchard, cora):
    # A new tree in a pot is covered sooner than a grown one beside it needs anything.
    guide_sync.bring_up_to_date(orchard, AFTERNOON - timedelta(days=30))
    grown = make_tree(orchard, "A-1")
    make_tree(orchard, "A-2", setting="container", planted_on=date(2025, 3, 1))
    measure(grown, cora, 4.0)
    forecast(orchard, cora, 1.5)
    guide_sync.review_care_plan(orchard, AFTERNOON)
    care_plan.open_next(orchard, now=AFTERNOON, today=JANUARY)
    opened = set(Task.objects.open().values_list("key", flat=True))
    assert "frost_cover_on" in opened
    assert "frost_large_trees" not in opened
