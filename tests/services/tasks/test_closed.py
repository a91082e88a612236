"""Closed tasks are listed newest first, narrowed, page by page; paper has thirty."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from orchard.services import tasks
from orchard.services.tasks import BoardFilters, ClosedFilters, closed, printing
from tests.conftest import NOW, TODAY, make_tree
from tests.services.tasks.test_board import late_by, member, of_key
from tests.services.tasks.test_tasks import make_task

pytestmark = pytest.mark.django_db


def end(task, by, *, days_ago=0, **ending):
    done_on = TODAY - timedelta(days=days_ago)
    return tasks.close(task, by=by, now=NOW, today=TODAY, done_on=done_on, **ending)


def places(user, **filters):
    shown = tasks.closed_tasks(member(user), filters=ClosedFilters(**filters))
    assert shown.count == len(shown.rows)
    return [row.place for row in shown.rows]


@pytest.fixture
def three(orchard, tree, vera, lee):
    other = make_tree(orchard, "B-1")
    end(make_task(tree, "skirt"), vera, days_ago=9, evidence="Done by hand")
    end(make_task(other, "skirt"), lee, days_ago=2)
    skip = {"how": "skipped", "reason": "Too wet"}
    end(make_task(make_tree(orchard, "B-2"), "sucker", kind="act"), lee, **skip)


def test_closed_tasks_stand_newest_first_with_how_and_by_whom(three, vera, lee):
    shown = tasks.closed_tasks(member(vera), filters=ClosedFilters())
    assert [(row.place, row.how, row.by, row.words) for row in shown.rows] == [
        ("B-2", "skipped", lee, "Too wet"),
        ("B-1", "done", lee, ""),
        ("A-1", "done", vera, "Done by hand"),
    ]
    assert [row.is_proven for row in shown.rows] == [True, False, True]


def test_the_list_is_narrowed_by_job_block_person_end_and_days(three, vera, lee):
    assert places(vera, kind="care", key="skirt") == ["B-1", "A-1"]
    assert places(vera, kind="act") == ["B-2"]
    assert places(vera, block="b") == ["B-2", "B-1"]
    assert places(vera, person="mine") == ["A-1"]
    assert places(vera, person=str(lee.pk)) == ["B-2", "B-1"]
    assert places(vera, how="done") == ["B-1", "A-1"]
    assert places(vera, since=TODAY - timedelta(days=2)) == ["B-2", "B-1"]
    assert places(vera, until=TODAY - timedelta(days=2)) == ["B-1", "A-1"]


def test_what_is_open_again_private_or_of_others_is_not_listed(
    tree, vera, lee, southbank
):
    task = make_task(tree, "skirt")
    end(task, vera)
    tasks.reopen(task, by=vera, now=NOW)
    report = make_task(tree, "psyllid_nymph", kind="report", private=True)
    end(report, lee, evidence="Rang them")
    end(make_task(make_tree(southbank)), vera)
    assert places(vera) == []
    assert places(lee) == ["A-1"]


def test_a_long_list_goes_on_and_asks_no_more(orchard, vera, monkeypatch):
    monkeypatch.setattr(closed, "CLOSED_PAGE", 4)
    for number in range(9):
        plant = make_tree(orchard, f"C-{number}")
        end(make_task(plant, "skirt"), vera, days_ago=number // 3)
    pages, after, asked = [], "", []
    someone = member(vera)
    while not pages or after:
        with CaptureQueriesContext(connection) as queries:
            page = tasks.closed_tasks(someone, filters=ClosedFilters(), after=after)
        asked.append(len(queries))
        pages.append([row.place for row in page.rows])
        after = page.next_key
    assert [len(page) for page in pages] == [4, 4, 1]
    assert len({place for page in pages for place in page}) == 9
    assert len(set(asked)) == 1


def test_a_page_is_read_in_the_order_of_days(tree, vera):
    end(make_task(tree), vera)
    if connection.vendor == "postgresql":
        # It goes by what it knows of a table, and would read all of a small one.
        with connection.cursor() as cursor:
            cursor.execute("SET LOCAL enable_seqscan = off; SET LOCAL enable_sort = 0")
    rows = closed.closings_seen_by(member(vera)).order_by("-done_on", "-id")
    plan = rows.select_related("by", "task__tree__kind")[:51].explain()
    assert "closure_standing_by_day" in plan, plan


def test_paper_has_thirty_tasks_a_page_block_by_block_as_one_walks(
    orchard, tree, vera, monkeypatch
):
    for number in range(32):
        late_by(make_tree(orchard, f"B-{number + 1}"), 1, rhythm=7, title="skirt")
    late_by(tree, 1, rhythm=7, title="skirt")
    late_by(tree, -40, rhythm=7, title="far")
    late_by(tree, 0, rhythm=1, title="cover", rank=0)
    someone = member(vera)
    printed = tasks.board_to_print(someone, today=TODAY, filters=BoardFilters())
    assert [page.block.code for page in printed.pages] == ["A", "B", "B"]
    assert [len(page.rows) for page in printed.pages] == [2, 30, 2]
    assert [row.title for row in printed.pages[0].rows] == ["cover", "skirt"]
    assert not printed.is_cut
    in_a = tasks.board_to_print(someone, today=TODAY, filters=BoardFilters(block="A"))
    assert len(in_a.pages) == 1
    line = tasks.board_to_print(
        someone, today=TODAY, filters=BoardFilters(), opened=of_key("skirt")
    )
    assert sum(len(page.rows) for page in line.pages) == 33
    monkeypatch.setattr(printing, "MOST_LINES", 31)
    cut = tasks.board_to_print(someone, today=TODAY, filters=BoardFilters())
    assert cut.is_cut
    assert sum(len(page.rows) for page in cut.pages) == 31
