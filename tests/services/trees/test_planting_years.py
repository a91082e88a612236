"""Trees of which only the year of planting is known."""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest

from orchard.records.models import Change, Tree
from orchard.services import care_plan, corrections, trees
from orchard.services.audit.wording import differences
from orchard.services.partial_days import when_planted
from orchard.web.pages.trees.wording import age_text
from tests.conftest import NOW, TODAY, make_orchard, make_spot, make_tree
from tests.refusals import refused

YEAR = Tree.Precision.YEAR


@pytest.fixture
def planted_in(orchard, cora):
    kind = make_tree(orchard, "Z-1").kind

    def planted(year: int, **details):
        return trees.plant(
            orchard,
            by=cora,
            now=NOW,
            today=TODAY,
            spot=make_spot(orchard, "5"),
            code="A-5",
            kind=kind,
            planted_on=date(year, 6, 30),
            planted_precision=YEAR,
            **details,
        )

    return planted


@pytest.fixture
def correct(cora):
    def corrected(tree: Tree, reason: str, **details) -> None:
        trees.correct(tree, by=cora, now=NOW, today=TODAY, reason=reason, **details)

    return corrected


def test_a_year_is_kept_as_its_first_day_and_told_as_the_year(planted_in):
    tree = planted_in(2015)
    assert (tree.planted_on, tree.planted_precision) == (date(2015, 1, 1), "year")
    assert tree.dates.last_planted_on == date(2015, 12, 31)
    assert when_planted(tree) == "in 2015"
    assert age_text(tree, today=TODAY) == "about 11 years since planting"


def test_it_counts_as_young_as_it_can_be_and_may_be_as_old_as_it_can(planted_in):
    tree = planted_in(2023)
    # 12 May 2026 is 863 days after the last day of 2023, 1227 after the first.
    assert tree.dates.planted_days_on(TODAY) == 863
    assert tree.dates.planted_years_on(TODAY) == pytest.approx(863 / 365.25)
    assert tree.dates.age_on(TODAY) == pytest.approx(863 / 365.25)
    assert tree.dates.greatest_age_on(TODAY) == pytest.approx(1227 / 365.25)


def test_of_this_year_it_was_planted_by_the_day_it_was_entered(planted_in):
    tree = planted_in(2026)
    assert tree.dates.last_planted_on == TODAY
    assert tree.dates.planted_days_on(TODAY) == 0
    assert tree.dates.planted_days_on(date(2026, 6, 12)) == 31
    assert age_text(tree, today=TODAY) == "under a year since planting"


@pytest.mark.parametrize(
    ("zone", "entered_at", "last_planted_on"),
    [
        ("America/Los_Angeles", datetime(2026, 5, 12, 3, tzinfo=UTC), (2026, 5, 11)),
        ("Pacific/Auckland", datetime(2026, 5, 11, 20, tzinfo=UTC), (2026, 5, 12)),
        # New Year's morning over there, still the old year in Greenwich.
        ("Pacific/Auckland", datetime(2025, 12, 31, 20, tzinfo=UTC), (2026, 1, 1)),
        ("America/Los_Angeles", datetime(2027, 1, 1, 3, tzinfo=UTC), (2026, 12, 31)),
        ("Pacific/Auckland", datetime(2027, 3, 1, tzinfo=UTC), (2026, 12, 31)),
    ],
)
def test_the_day_it_was_entered_is_one_of_the_orchards_calendar(
    db, zone, entered_at, last_planted_on
):
    grove = make_orchard("grove", time_zone=zone)
    tree = make_tree(
        grove,
        "A-1",
        planted_on=date(2026, 1, 1),
        planted_precision=YEAR,
        born_on=None,
        entered_at=entered_at,
    )
    assert tree.dates.last_planted_on == date(*last_planted_on)


@pytest.mark.parametrize(
    ("zone", "moment", "known_since"),
    [
        ("America/Los_Angeles", datetime(2026, 5, 12, 3, tzinfo=UTC), (2026, 5, 11)),
        ("Pacific/Auckland", datetime(2026, 5, 11, 20, tzinfo=UTC), (2026, 5, 12)),
    ],
)
def test_work_is_asked_for_from_the_day_of_the_orchards_calendar(
    db, zone, moment, known_since
):
    grove = make_orchard("grove", time_zone=zone, founded_at=moment)
    make_tree(grove, "A-1", entered_at=moment)
    context = care_plan.gather_context(grove, today=date(2026, 5, 13))
    assert context.founded_on == date(*known_since)
    [tree] = context.trees
    assert tree.entered_on == date(*known_since)


def test_the_calendar_of_many_trees_is_read_once(
    orchard, django_assert_max_num_queries
):
    for code in ("A-1", "A-2", "A-3"):
        make_tree(
            orchard, code, planted_on=date(2026, 1, 1), planted_precision=YEAR,
            born_on=None, entered_at=NOW,
        )  # fmt: skip
    context = care_plan.gather_context(orchard, today=TODAY)
    with django_assert_max_num_queries(0):
        assert [tree.dates.last_planted_on for tree in context.trees] == [TODAY] * 3


def test_before_its_year_it_was_not_there(planted_in):
    tree = planted_in(2015)
    assert tree.dates.planted_days_on(date(2014, 12, 31)) is None
    assert tree.dates.planted_days_on(date(2015, 6, 1)) == 0


def test_grafted_in_the_year_it_was_planted_is_in_order(planted_in):
    tree = planted_in(2015, born_on=date(2015, 3, 1))
    assert tree.planted_on == date(2015, 3, 1)
    assert when_planted(tree) == "in 2015"


def test_grafted_after_the_year_it_was_planted_is_refused(planted_in):
    with refused("bad_date", match="before it is planted"):
        planted_in(2015, born_on=date(2016, 3, 1))


def test_a_year_to_come_is_refused(planted_in):
    with refused("bad_date", match="in the future"):
        planted_in(2027)


def test_a_tree_grafted_and_planted_in_years_is_no_older_than_its_planting(planted_in):
    tree = planted_in(2015, born_on=date(2015, 1, 1), born_precision=YEAR)
    assert tree.dates.age_on(TODAY) == tree.dates.planted_years_on(TODAY)


def test_the_day_found_later_takes_the_place_of_the_year(planted_in, correct):
    tree = planted_in(2015)
    correct(
        tree,
        "receipt found",
        planted_on=date(2015, 4, 3),
        planted_precision=Tree.Precision.DAY,
    )
    tree.refresh_from_db()
    assert when_planted(tree) == "on 3 Apr 2015"
    assert tree.stays.get().since_on == date(2015, 4, 3)
    line = Change.objects.filter(tree=tree).order_by("-id").first()
    assert line.before == {"planted_on": "2015-01-01", "planted_precision": "year"}
    (step,) = trees.history_of(tree)[0].steps
    assert (step.before, step.after) == ("2015", "3 Apr 2015")
    (difference,) = differences(line, {})
    assert (difference.before, difference.after) == ("2015", "3 Apr 2015")


def test_another_year_is_told_as_years_in_the_ledger(planted_in, correct):
    tree = planted_in(2015)
    correct(
        tree,
        "slip",
        planted_on=date(2016, 1, 1),
    )
    (step,) = trees.history_of(tree)[0].steps
    assert (step.name, step.before, step.after) == ("planted on", "2015", "2016")
    entered = {step.name: step.after for step in trees.history_of(tree)[1].steps}
    assert entered["planted on"] == "2015"
    assert not any("how exactly" in name for name in entered)


def test_what_says_the_same_again_changes_nothing(planted_in, correct):
    tree = planted_in(2015, born_on=date(2015, 3, 1))
    lines = Change.objects.count()
    correct(
        tree,
        "looked at again",
        planted_on=date(2015, 1, 1),
        planted_precision=YEAR,
    )
    assert Change.objects.count() == lines


def test_a_year_later_than_a_look_is_refused_by_its_year(planted_in, cora, correct):
    tree = planted_in(2015)
    trees.died(tree, by=cora, now=NOW, today=TODAY, on=date(2020, 1, 5), reason="frost")
    with refused("bad_date", match="can't be planted in 2021"):
        correct(
            tree,
            "slip",
            planted_on=date(2021, 1, 1),
            planted_precision=YEAR,
        )


def test_work_before_a_year_of_planting_is_refused_by_the_year(planted_in):
    tree = planted_in(2015)
    with refused("wrong_day", match="A-5 was only planted in 2015. Give a later day."):
        corrections.check_day(tree, date(2014, 5, 1), field="on", today=TODAY)
