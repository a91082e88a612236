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


def test_a_missing_day_ends_the_sum_and_is_named(tree, vera):
    stage(tree.orchard, vera, 65, date(2026, 4, 20))
    gap = date(2026, 5, 3)
    add_days(tree.orchard, vera, date(2026, 4, 1), 70, skip={gap})
    [group] = heat.heat_of_groups(tree.orchard, today=TODAY)
    assert group.gaps == (gap,)
    assert group.counted_to == gap - timedelta(days=1)
    assert "missing" in group.so_far.missing
    assert all(one.expected_on is None for one in group.expected)


def test_without_a_bloom_there_is_no_sum(tree, vera):
    add_days(tree.orchard, vera, date(2026, 4, 1), 70)
    [group] = heat.heat_of_groups(tree.orchard, today=TODAY)
    assert not group.so_far.is_known
    assert "65" in group.so_far.missing


def test_an_event_is_expected_by_the_heat_it_took_in_own_years(tree, vera):
    orchard = tree.orchard
    # Last year: 30 days from bloom to petal fall; this year the days are as warm.
    add_days(orchard, vera, date(2025, 1, 1), (TODAY - date(2025, 1, 1)).days)
    stage(orchard, vera, 65, date(2025, 4, 20))
    stage(orchard, vera, 69, date(2025, 5, 20))
    bloom = TODAY - timedelta(days=10)
    stage(orchard, vera, 65, bloom)
    [group] = heat.heat_of_groups(orchard, today=TODAY)
    petal_fall = next(one for one in group.expected if one.key == "petal_fall")
    assert petal_fall.years == 1
    # 31 days of heat with both ends: the last of them ends thirty days after bloom.
    assert petal_fall.expected_on == bloom + timedelta(days=30)
    assert petal_fall.earliest_on == petal_fall.latest_on == petal_fall.expected_on
    ripe = next(one for one in group.expected if one.key == "ripening")
    assert ripe.expected_on is None
    assert "No own year" in ripe.why_not


def test_what_past_heat_says_is_due_is_told_as_due(tree, vera):
    orchard = tree.orchard
    add_days(orchard, vera, date(2025, 1, 1), (TODAY - date(2025, 1, 1)).days)
    stage(orchard, vera, 65, date(2025, 4, 20))
    stage(orchard, vera, 69, date(2025, 5, 20))
    bloom = TODAY - timedelta(days=40)
    stage(orchard, vera, 65, bloom)
    [group] = heat.heat_of_groups(orchard, today=TODAY)
    petal_fall = next(one for one in group.expected if one.key == "petal_fall")
    assert petal_fall.passed_on == bloom + timedelta(days=30)
    assert petal_fall.expected_on is None


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


def test_years_that_differ_give_a_range(tree, vera):
    orchard = tree.orchard
    add_days(orchard, vera, date(2024, 1, 1), (TODAY - date(2024, 1, 1)).days)
    for year, days in ((2024, 24), (2025, 36)):
        stage(orchard, vera, 65, date(year, 4, 20))
        stage(orchard, vera, 69, date(year, 4, 20) + timedelta(days=days))
    bloom = TODAY - timedelta(days=5)
    stage(orchard, vera, 65, bloom)
    [group] = heat.heat_of_groups(orchard, today=TODAY)
    petal_fall = next(one for one in group.expected if one.key == "petal_fall")
    assert petal_fall.earliest_on == bloom + timedelta(days=24)
    assert petal_fall.latest_on == bloom + timedelta(days=36)
    assert petal_fall.expected_on == bloom + timedelta(days=30)


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
