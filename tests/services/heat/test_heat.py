"""Heat: its sum since full bloom, and what is expected by it."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from orchard.records.models import (
    Kind,
    StageNote,
)
from orchard.science import heat as heat_law
from orchard.services import (
    heat,
    ripeness,
)
from tests.conftest import make_tree
from tests.services.weather_days import AFTERNOON, TODAY, add_days


def stage(orchard, by, bbch, on, group="navel"):
    StageNote.objects.create(
        orchard=orchard,
        group=group,
        bbch=bbch,
        seen_on=on,
        by=by,
        received_at=AFTERNOON,
    )


def test_heat_is_the_sum_since_full_bloom(tree, vera):
    stage(tree.orchard, vera, 65, date(2026, 4, 20))
    add_days(tree.orchard, vera, date(2026, 4, 1), 70)
    [group] = heat.heat_of_groups(tree.orchard, today=TODAY)
    one_day = heat_law.degree_days(8.0, 22.0, 13.0, 35.0)
    counted = (TODAY - date(2026, 4, 20)).days
    assert group.so_far.value == pytest.approx(one_day * counted)
    assert group.counted_to == TODAY - timedelta(days=1)
    assert not group.gaps


def test_a_few_missing_days_are_bridged_and_marked(tree, vera):
    stage(tree.orchard, vera, 65, date(2026, 4, 20))
    gap = {date(2026, 5, 3), date(2026, 5, 4), date(2026, 5, 5)}
    add_days(tree.orchard, vera, date(2026, 4, 1), 70, skip=gap)
    [group] = heat.heat_of_groups(tree.orchard, today=TODAY)
    # All days are alike here, so a straight line between neighbours is exact.
    one_day = heat_law.degree_days(8.0, 22.0, 13.0, 35.0)
    counted = (TODAY - date(2026, 4, 20)).days
    assert group.so_far.value == pytest.approx(one_day * counted)
    assert group.gaps == tuple(sorted(gap))
    assert "3 days are estimated" in group.so_far.missing


def test_a_longer_gap_ends_the_sum_and_is_named(tree, vera):
    stage(tree.orchard, vera, 65, date(2026, 4, 20))
    gap = [date(2026, 5, day) for day in range(3, 7)]
    add_days(tree.orchard, vera, date(2026, 4, 1), 70, skip=set(gap))
    [group] = heat.heat_of_groups(tree.orchard, today=TODAY)
    assert group.gaps == tuple(gap)
    assert group.counted_to == gap[0] - timedelta(days=1)
    assert "missing" in group.so_far.missing
    assert all(one.expected_on is None for one in group.expected)


def test_without_a_bloom_there_is_no_sum(tree, vera):
    add_days(tree.orchard, vera, date(2026, 4, 1), 70)
    [group] = heat.heat_of_groups(tree.orchard, today=TODAY)
    assert not group.so_far.is_known
    assert "65" in group.so_far.missing


def two_years(orchard, vera, *, to_petal_fall=(30, 30), skip=frozenset()):
    """Note bloom and petal fall of two years that were all alike in warmth."""
    start = date(2024, 1, 1)
    add_days(orchard, vera, start, (TODAY - start).days, skip=skip)
    for year, days in zip((2024, 2025), to_petal_fall, strict=True):
        stage(orchard, vera, 65, date(year, 4, 20))
        stage(orchard, vera, 69, date(year, 4, 20) + timedelta(days=days))


def petal_fall_of(orchard):
    [group] = heat.heat_of_groups(orchard, today=TODAY)
    return next(one for one in group.expected if one.key == "petal_fall")


def test_an_event_is_expected_by_the_heat_it_took_in_own_years(tree, vera):
    two_years(tree.orchard, vera)
    bloom = TODAY - timedelta(days=25)
    stage(tree.orchard, vera, 65, bloom)
    found = petal_fall_of(tree.orchard)
    assert found.years == 2
    # 31 days of heat with both ends: the last of them ends thirty days after bloom.
    assert found.expected_on == bloom + timedelta(days=30)
    # Never surer than ten days, though both years took the same.
    assert found.margin_days == 10


def test_one_own_season_is_too_short_to_tell(tree, vera):
    orchard = tree.orchard
    add_days(orchard, vera, date(2025, 1, 1), (TODAY - date(2025, 1, 1)).days)
    stage(orchard, vera, 65, date(2025, 4, 20))
    stage(orchard, vera, 69, date(2025, 5, 20))
    for ago in (25, 40):
        stage(orchard, vera, 65, TODAY - timedelta(days=ago))
        found = petal_fall_of(orchard)
        assert (found.years, found.expected_on, found.passed_on) == (1, None, None)
        assert "2 own seasons" in found.why_not


@pytest.mark.parametrize(("ago", "told"), [(18, False), (19, True)])
def test_no_day_is_told_before_most_of_the_heat_has_come(tree, vera, ago, told):
    # 60 % of 31 days is 18.6 of them; common practice, no source.
    two_years(tree.orchard, vera)
    stage(tree.orchard, vera, 65, TODAY - timedelta(days=ago))
    found = petal_fall_of(tree.orchard)
    assert (found.expected_on is not None) is told
    assert ("60" in found.why_not) is not told


@pytest.mark.parametrize(("missing", "told"), [(2, True), (3, False)])
def test_no_day_is_told_from_too_many_estimates(tree, vera, missing, told):
    # Ten percent of 25 days is 2.5 of them; common practice, no source.
    bloom = TODAY - timedelta(days=25)
    skip = {bloom + timedelta(days=3 + day) for day in range(missing)}
    two_years(tree.orchard, vera, skip=skip)
    stage(tree.orchard, vera, 65, bloom)
    found = petal_fall_of(tree.orchard)
    assert (found.expected_on is not None) is told
    assert ("estimated" in found.why_not) is not told


def test_no_day_is_told_in_the_tail_of_winter(tree, vera):
    orchard = tree.orchard
    # Warm days of spring end with April; from May on no heat comes, as in winter.
    start = date(2024, 1, 1)
    for year in (2024, 2025, 2026):
        warm = {date(year, 1, 1) + timedelta(days=day) for day in range(121)}
        cold = [start + timedelta(days=day) for day in range((TODAY - start).days)]
        cold = [day for day in cold if day.year == year and day not in warm]
        add_days(orchard, vera, date(year, 1, 1), 121)
        if cold:
            add_days(orchard, vera, cold[0], len(cold), low=2.0, high=13.4)
    for year in (2024, 2025):
        stage(orchard, vera, 65, date(year, 4, 1))
        stage(orchard, vera, 69, date(year, 8, 1))
    stage(orchard, vera, 65, date(2026, 4, 1))
    found = petal_fall_of(orchard)
    assert found.expected_on is None
    assert "winter" in found.why_not


def test_what_past_heat_says_is_due_is_told_as_due(tree, vera):
    two_years(tree.orchard, vera)
    bloom = TODAY - timedelta(days=40)
    stage(tree.orchard, vera, 65, bloom)
    found = petal_fall_of(tree.orchard)
    assert found.passed_on == bloom + timedelta(days=30)
    assert found.expected_on is None


def test_fruit_is_never_expected_before_its_calendar_window(tree, vera):
    orchard = tree.orchard
    start = date(2023, 1, 1)
    today = date(2026, 10, 1)
    add_days(orchard, vera, start, (today - start).days)
    for year in (2024, 2025):
        stage(orchard, vera, 65, date(year, 4, 20))
        stage(orchard, vera, 89, date(year, 9, 25))
    stage(orchard, vera, 65, date(2026, 4, 20))
    [group] = heat.heat_of_groups(orchard, today=today)
    ripe = next(one for one in group.expected if one.key == "ripening")
    # Washington navels are ripe from November on in the north (the guide's row).
    assert ripe.window == (date(2026, 11, 1), date(2027, 2, 28))
    assert ripe.passed_on is None
    assert ripe.expected_on == date(2026, 11, 1)


def test_fruit_that_a_test_found_ready_has_come_ripe(tree, vera):
    orchard = tree.orchard
    add_days(orchard, vera, date(2025, 3, 1), (TODAY - date(2025, 3, 1)).days)
    stage(orchard, vera, 65, date(2025, 4, 20))
    for on, acid in ((date(2025, 11, 1), 1.9), (date(2025, 12, 3), 1.2)):
        ripeness.note_test(
            tree, tested_on=on, fruits=5, brix_read=10.8, acid_percent=acid,
            juice_percent=40.0, taste=4, tasters=3, by=vera, now=AFTERNOON, today=TODAY,
        )  # fmt: skip
    [group] = heat.heat_of_groups(orchard, today=date(2026, 3, 1))
    ripe = next(one for one in group.expected if one.key == "ripening")
    assert ripe.came_on == date(2025, 12, 3)


def test_years_that_differ_give_a_wider_margin(tree, vera):
    two_years(tree.orchard, vera, to_petal_fall=(16, 44))
    bloom = TODAY - timedelta(days=25)
    stage(tree.orchard, vera, 65, bloom)
    found = petal_fall_of(tree.orchard)
    assert found.expected_on == bloom + timedelta(days=30)
    assert found.margin_days == 14


def test_heat_takes_as_many_queries_for_many_groups(
    tree, vera, django_assert_max_num_queries
):
    for number in range(2, 8):
        row = Kind.objects.create(
            orchard=tree.orchard, name=f"Kind {number}", group=f"group {number}"
        )
        make_tree(tree.orchard, f"A-{number}", kind=row)
    with django_assert_max_num_queries(4):
        assert len(heat.heat_of_groups(tree.orchard, today=TODAY)) == 7
