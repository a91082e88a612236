"""The board ranks what waits, hides what is private, and never asks more for more."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from orchard.records.models import Case, Finding, Inspection, Membership, Task, Tree
from orchard.services import tasks
from orchard.services.tasks import BoardFilters, board
from tests.conftest import NOW, TODAY, make_tree
from tests.services.tasks.test_tasks import make_task

pytestmark = pytest.mark.django_db


def member(user) -> Membership:
    return user.memberships.select_related("orchard", "user").get()


def titles(user, **filters):
    shown = tasks.board_rows(member(user), today=TODAY, filters=BoardFilters(**filters))
    return [row.title for row in shown.rows]


def late_by(tree, days, *, rhythm, title, **fields):
    due = TODAY - timedelta(days=days)
    values = {
        "title": title,
        "key": title.replace(" ", "_"),
        "opens_on": min(due, TODAY),
        "due_on": due,
        "rhythm_days": rhythm,
        **fields,
    }
    return make_task(tree, **values)


def test_three_days_late_on_a_weekly_job_outranks_three_days_on_a_yearly_one(
    tree, vera
):
    late_by(tree, 3, rhythm=365, title="yearly")
    late_by(tree, 3, rhythm=7, title="weekly")
    late_by(tree, 2, rhythm=7, title="weekly but later due")
    assert titles(vera) == ["weekly", "weekly but later due", "yearly"]


def test_report_stands_before_act_before_care_before_look(tree, cora):
    late_by(tree, 90, rhythm=7, title="look", kind="look")
    late_by(tree, 50, rhythm=7, title="care")
    late_by(tree, 1, rhythm=30, title="act", kind="act")
    late_by(tree, -1, rhythm=1, title="report", kind="report", private=True)
    assert titles(cora) == ["report", "act", "care", "look"]


def test_what_is_not_late_is_ranked_by_its_due_day(tree, vera):
    late_by(tree, -9, rhythm=7, title="in nine days")
    late_by(tree, 0, rhythm=365, title="today")
    late_by(tree, -2, rhythm=7, title="in two days")
    assert titles(vera) == ["today", "in two days", "in nine days"]


def test_the_database_ranks_as_the_law_of_lateness_does(tree, vera):
    for number in range(40):
        late_by(
            tree,
            (number * 7) % 23 - 4,
            rhythm=(number * 11) % 97 + 1,
            title=f"work {number}",
        )
    rows = []
    after = ""
    while True:
        page = tasks.board_rows(member(vera), today=TODAY, after=after)
        rows += page.rows
        after = page.next_key
        if not after:
            break
    assert len({row.number for row in rows}) == len(rows) == 40
    expected = sorted(
        rows, key=lambda row: (-int(row.lateness * 10_000 + 1e-6), row.due_on)
    )
    assert [row.number for row in rows] == [row.number for row in expected]


def test_a_board_read_further_shows_everything_once(tree, vera):
    for number in range(65):
        late_by(tree, number % 5, rhythm=7, title=f"work {number}")
    first = tasks.board_rows(member(vera), today=TODAY)
    second = tasks.board_rows(member(vera), today=TODAY, after=first.next_key)
    third = tasks.board_rows(member(vera), today=TODAY, after=second.next_key)
    numbers = [row.number for page in (first, second, third) for row in page.rows]
    assert len(numbers) == len(set(numbers)) == 65
    assert third.next_key == ""
    nonsense = tasks.board_rows(member(vera), today=TODAY, after="0.1.99999999.x")
    assert nonsense.rows == first.rows


def test_only_begun_work_stands_on_the_board_the_rest_opens_soon(tree, vera):
    late_by(tree, -20, rhythm=30, title="next week", opens_on=TODAY + timedelta(days=5))
    late_by(tree, -60, rhythm=30, title="summer", opens_on=TODAY + timedelta(days=40))
    late_by(tree, -3, rhythm=30, title="now")
    shown = tasks.board_rows(member(vera), today=TODAY)
    assert [row.title for row in shown.rows] == ["now"]
    assert [row.title for row in shown.soon] == ["next week"]


def test_a_private_report_is_seen_by_those_who_lead_only(tree, vera, lee, cora, eddy):
    late_by(tree, 0, rhythm=1, title="report", kind="report", private=True)
    late_by(tree, 0, rhythm=7, title="care")
    for person in (lee, cora):
        assert titles(person) == ["report", "care"]
        assert tasks.board_rows(member(person), today=TODAY).waiting == 2
    for person in (vera, eddy):
        assert titles(person) == ["care"]
        assert tasks.board_rows(member(person), today=TODAY).waiting == 1


def test_the_board_is_narrowed_by_block_person_kind_of_work_and_lateness(
    orchard, tree, vera, lee
):
    other = make_tree(orchard, "B-1")
    late_by(tree, 2, rhythm=7, title="mine", taken_by=vera)
    late_by(tree, 0, rhythm=7, title="lees", taken_by=lee)
    late_by(other, 1, rhythm=7, title="free", kind="act")
    assert titles(vera, block="b") == ["free"]
    assert titles(vera, person="mine") == ["mine"]
    assert titles(vera, person="nobody") == ["free"]
    assert titles(vera, person=str(lee.pk)) == ["lees"]
    assert titles(vera, kind="act") == ["free"]
    assert titles(vera, late=True) == ["free", "mine"]
    shown = tasks.board_rows(member(vera), today=TODAY, filters=BoardFilters(block="B"))
    assert [(one.code, one.waiting, one.late) for one in shown.tallies] == [
        ("A", 2, 1),
        ("B", 1, 1),
    ]
    assert (shown.waiting, shown.late) == (3, 2)


def test_another_orchards_work_is_not_there(tree, southbank, vera):
    late_by(make_tree(southbank), 5, rhythm=7, title="theirs")
    late_by(tree, 1, rhythm=7, title="ours")
    assert titles(vera) == ["ours"]


def test_a_tree_under_a_case_is_left_alone_but_for_looks_and_water(tree, cora, vera):
    make_task(tree, "sucker_round")
    make_task(tree, "water_new")
    assert [row.waits for row in tasks.board_rows(member(vera), today=TODAY).rows] == [
        (),
        (),
    ]
    inspection = Inspection.objects.create(
        orchard=tree.orchard,
        tree=tree,
        by=cora,
        seen_on=TODAY,
        seen_at=NOW,
        made_at=NOW,
        received_at=NOW,
    )
    finding = Finding.objects.create(
        inspection=inspection,
        tree=tree,
        sign="psyllid_nymph",
        verdict="report",
        rule="psyllid_nymph/0",
        edition="1",
        private=True,
    )
    Case.objects.create(
        orchard=tree.orchard,
        tree=tree,
        sign="psyllid_nymph",
        finding=finding,
        opened_at=NOW,
        opened_by=cora,
    )
    rows = tasks.board_rows(member(vera), today=TODAY).rows
    reason = "The coordinator has asked to leave this tree alone: take nothing from it."
    assert {row.waits for row in rows} == {(), (reason,)}


def test_pruning_waits_in_the_frost_season_and_keeps_its_due_day(tree, vera):
    winter = date(2026, 1, 12)
    make_task(tree, "skirt", opens_on=date(2025, 11, 1), due_on=date(2025, 12, 30))
    (row,) = tasks.board_rows(member(vera), today=winter).rows
    assert (row.days_late, row.due_on) == (13, date(2025, 12, 30))
    assert any("frost" in sentence for sentence in row.waits)
    (row,) = tasks.board_rows(member(vera), today=TODAY).rows
    assert row.waits == ()


def test_feed_waits_until_new_roots_are_in(tree, vera):
    tree.planted_on = TODAY - timedelta(days=30)
    tree.save()
    make_task(tree, "feed_3", due_on=TODAY)
    (row,) = tasks.board_rows(member(vera), today=TODAY).rows
    assert "Planted less than 42 days ago: no feed before 24 May 2026" in row.waits[0]


def test_work_waits_for_what_holds_up_its_own_kind_of_step(tree, vera):
    """Leaf miner is watered first, a water sprout is cut: only a cut waits here."""
    tree.planted_on = TODAY - timedelta(days=30)
    tree.save()
    make_task(tree, "leafminer", kind="act", due_on=TODAY)
    (row,) = tasks.board_rows(member(vera), today=TODAY).rows
    assert row.waits == ()
    make_task(tree, "water_sprout", kind="act", due_on=TODAY)
    (cut,) = [
        row for row in tasks.board_rows(member(vera), today=TODAY).rows if row.waits
    ]
    assert "planted for 42 days" in cut.waits[0]


def test_the_board_asks_no_more_for_sixty_lines_than_for_five(orchard, tree, cora):
    asked = []
    made = 0
    for count in (5, 60):
        while made < count:
            made += 1
            plant = make_tree(orchard, f"C-{made}")
            late_by(plant, made % 6, rhythm=7, title=f"work {made}", taken_by=cora)
        with CaptureQueriesContext(connection) as queries:
            shown = tasks.board_rows(member(cora), today=TODAY)
        assert len(shown.rows) == min(count, board.PAGE)
        asked.append(len(queries))
    assert asked[0] == asked[1]


def test_the_board_asks_no_more_for_trees_of_which_only_the_year_is_known(
    orchard, vera
):
    asked = []
    for count in (1, 6):
        for number in range(count):
            plant = make_tree(
                orchard, f"Y{count}-{number}", born_on=None,
                planted_on=date(2026, 1, 1), planted_precision=Tree.Precision.YEAR,
            )  # fmt: skip
            make_task(plant, "feed_3", due_on=TODAY)
            make_task(plant, "water_sprout", kind="act", due_on=TODAY)
        someone = member(vera)
        with CaptureQueriesContext(connection) as queries:
            shown = tasks.board_rows(someone, today=TODAY)
        assert all(row.waits for row in shown.rows)
        asked.append(len(queries))
    assert len(shown.rows) == 14
    assert asked[0] == asked[1]


def test_work_on_a_block_or_the_orchard_names_its_place(orchard, tree, vera):
    make_task(tree, "drip_check")
    Task.objects.update(tree=None)
    (row,) = tasks.board_rows(member(vera), today=TODAY).rows
    assert (row.place, row.place_name) == ("Block A", "Block A")
    assert row.tree_code == ""
    Task.objects.update(block=None)
    shown = tasks.board_rows(member(vera), today=TODAY)
    assert shown.rows[0].place == "Alderbrook"
    assert [one.code for one in shown.tallies] == ["A", ""]
