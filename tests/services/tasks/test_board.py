"""The board ranks what waits, hides what is private, and never asks more for more."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from orchard.records.models import Case, Finding, Inspection, Membership, Task, Tree
from orchard.science import guide
from orchard.services import tasks
from orchard.services.tasks import BoardBand, BoardFilters, BoardRow, GroupKey, board
from tests.conftest import NOW, TODAY, make_tree
from tests.services.tasks.test_tasks import make_task

pytestmark = pytest.mark.django_db


def member(user) -> Membership:
    return user.memberships.select_related("orchard", "user").get()


def lines(user, **filters):
    shown = tasks.board_for(member(user), today=TODAY, filters=BoardFilters(**filters))
    return [line.name for line in (*shown.danger, *shown.due)]


def late_by_block(user):
    someone = member(user)
    totals = tasks.totals_for(someone, today=TODAY)
    found = tasks.late_by_block(someone.orchard, totals)
    return [(block.code, block.late) for block in found]


def rows_on_board(someone: Membership, *, today=TODAY) -> list[BoardRow]:
    """Open line by line and return the tasks of all of them."""
    shown = tasks.board_for(someone, today=today)
    opened = [
        tasks.board_for(someone, today=today, opened=line.key)
        for line in (*shown.danger, *shown.due)
    ]
    return [
        row for one in opened for line in (*one.danger, *one.due) for row in line.rows
    ]


def of_key(key, *, band=BoardBand.DUE, kind=Task.Kind.CARE):
    return GroupKey(band, kind, key)


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
    assert lines(vera) == ["weekly", "weekly but later due", "yearly"]


def test_report_stands_before_act_before_care_before_look(tree, cora):
    late_by(tree, 90, rhythm=7, title="look", kind="look")
    late_by(tree, 50, rhythm=7, title="care")
    late_by(tree, 1, rhythm=30, title="act", kind="act")
    late_by(tree, -1, rhythm=1, title="report", kind="report", private=True)
    assert lines(cora) == [
        "Report the suspicion: report", "act", "care", "Look again: look",
    ]  # fmt: skip


def test_what_is_not_late_is_ranked_by_its_due_day(tree, vera):
    late_by(tree, -9, rhythm=7, title="in nine days")
    late_by(tree, 0, rhythm=365, title="today")
    late_by(tree, -2, rhythm=7, title="in two days")
    assert lines(vera) == ["today", "in two days", "in nine days"]


def test_what_cannot_wait_stands_in_a_band_of_its_own(tree, cora):
    late_by(tree, 9, rhythm=7, title="late")
    late_by(tree, 0, rhythm=1, title="cover", rank=Task.RANK_OF_FROST_NIGHT)
    late_by(tree, -1, rhythm=1, title="report", kind="report", private=True)
    shown = tasks.board_for(member(cora), today=TODAY)
    assert [line.key.key for line in shown.danger] == ["cover", "report"]
    assert [line.key.key for line in shown.due] == ["late"]


def test_a_line_says_how_many_trees_where_since_when_how_long_and_who(
    orchard, tree, vera, lee
):
    for code, days, by in (("B-1", 4, lee), ("B-2", 9, lee), ("A-2", 0, None)):
        late_by(make_tree(orchard, code), days, rhythm=7, title="skirt", taken_by=by)
    [line] = tasks.board_for(member(vera), today=TODAY).due
    assert line.key == of_key("skirt")
    assert (line.tasks, line.trees, line.blocks) == (3, 3, ("A", "B"))
    assert line.oldest_due == TODAY - timedelta(days=9)
    assert line.minutes == 3 * guide.load().jobs["skirt"].minutes
    assert (line.taken, line.taken_by) == (2, lee)
    late_by(tree, 1, rhythm=7, title="skirt", taken_by=vera)
    [line] = tasks.board_for(member(vera), today=TODAY).due
    assert (line.taken, line.taken_by) == (3, None)


def test_of_many_lines_a_page_is_shown_and_all_of_them_are_counted(tree, cora):
    count = 2 * board.LINES + 5
    for number in range(count):
        late_by(tree, count - number, rhythm=7, title=f"line {number:03}")
    late_by(tree, -1, rhythm=1, title="report", kind="report", private=True)
    late_by(tree, -40, rhythm=7, title="far")
    found, sizes, after = [], [], ""
    for _page in range(4):
        shown = tasks.board_for(
            member(cora), today=TODAY, with_later=True, lines_after=after
        )
        assert shown.lines_after == after
        assert shown.tasks_in == {"danger": 1, "due": count, "later": 1}
        assert shown.tasks == count + 1
        page = (*shown.danger, *shown.due, *shown.later)
        found += [line.key.key for line in page]
        sizes.append(len(page))
        after = shown.next_lines
        if not after:
            break
    assert sizes == [board.LINES, board.LINES, 7]
    names = [f"line_{number:03}" for number in range(count)]
    assert found == ["report", *names, "far"]


def test_a_line_that_is_open_brings_the_page_it_is_on(tree, vera):
    for number in range(board.LINES + 5):
        late_by(tree, 100 - number, rhythm=7, title=f"line {number:03}")
    opened = of_key(f"line_{board.LINES + 2:03}")
    shown = tasks.board_for(member(vera), today=TODAY, opened=opened)
    assert [line.key for line in shown.due if line.rows] == [opened]
    assert len(shown.due) == 5
    assert shown.lines_after == str(of_key(f"line_{board.LINES - 1:03}"))
    # On the page asked for it stays there, and a name of no line starts from the top.
    for after in ("", "due-care-nothing"):
        shown = tasks.board_for(
            member(vera), today=TODAY, opened=of_key("line_003"), lines_after=after
        )
        assert len(shown.due) == board.LINES
        assert shown.lines_after == ""


def test_many_lines_ask_as_few_questions_as_one(tree, vera):
    def questions():
        with CaptureQueriesContext(connection) as asked:
            tasks.board_for(member(vera), today=TODAY)
        return len(asked)

    late_by(tree, 1, rhythm=7, title="line")
    few = questions()
    for number in range(2 * board.LINES):
        late_by(tree, 1, rhythm=7, title=f"line {number}")
    assert questions() == few


def test_the_hours_of_the_week_alone_are_those_of_the_board(tree, cora, vera):
    jobs = list(guide.load().jobs)
    for key, days in zip(jobs, (3, 0, -5, -12, -40), strict=False):
        late_by(tree, days, rhythm=7, title=key)
    late_by(tree, 0, rhythm=1, title="report", kind="report", private=True)
    for person in (cora, vera):
        shown = tasks.board_for(member(person), today=TODAY)
        alone = tasks.totals_for(member(person), today=TODAY)
        assert alone.minutes_this_week == shown.minutes_this_week > 0
    totals = [tasks.totals_for(member(one), today=TODAY) for one in (cora, vera)]
    assert totals[0].minutes_this_week > totals[1].minutes_this_week


def test_the_line_of_a_job_is_the_boards(tree, orchard, vera):
    late_by(tree, 3, rhythm=7, title="prepare", key="heat_prep")
    late_by(make_tree(orchard, "B-1"), 0, rhythm=7, title="prepare", key="heat_prep")
    line = tasks.open_line(member(vera), "heat_prep", today=TODAY)
    [shown] = tasks.board_for(member(vera), today=TODAY).due
    assert (line.key, line.tasks, line.trees) == (shown.key, 2, 2)
    assert tasks.open_line(member(vera), "skirt", today=TODAY) is None


def test_the_hours_of_the_week_are_of_what_is_late_or_due_within_it(orchard, vera):
    minutes = guide.load().jobs["skirt"].minutes
    for number, days in enumerate((30, 0, -7, -8)):
        plant = make_tree(orchard, f"A-{number + 5}")
        late_by(plant, days, rhythm=30, title="skirt")
    shown = tasks.board_for(member(vera), today=TODAY)
    assert (shown.tasks, shown.late) == (4, 1)
    assert shown.minutes_this_week == 3 * minutes


def test_an_open_line_read_further_shows_everything_once(orchard, vera):
    for number in range(board.PAGE + 15):
        late_by(make_tree(orchard, f"C-{number}"), number % 5, rhythm=7, title="job")
    someone, after, pages = member(vera), "", []
    while not pages or after:
        [line] = tasks.board_for(
            someone, today=TODAY, opened=of_key("job"), after=after
        ).due
        pages.append(line.rows)
        after = line.next_key
    rows = [row for page in pages for row in page]
    assert [len(page) for page in pages] == [board.PAGE, 15]
    assert len({row.number for row in rows}) == board.PAGE + 15
    assert [row.due_on for row in rows] == sorted(row.due_on for row in rows)
    [line] = tasks.board_for(
        someone, today=TODAY, opened=of_key("job"), after="x.99999999"
    ).due
    assert line.rows == pages[0]


def test_what_is_due_later_and_what_has_not_begun_is_folded_away(orchard, tree, vera):
    late_by(tree, -20, rhythm=30, title="next week", opens_on=TODAY + timedelta(days=5))
    late_by(tree, -60, rhythm=30, title="summer", opens_on=TODAY + timedelta(days=40))
    late_by(tree, -15, rhythm=30, title="begun, and far")
    late_by(tree, -14, rhythm=30, title="now")
    shown = tasks.board_for(member(vera), today=TODAY)
    assert lines(vera) == ["now"]
    assert (shown.later, shown.tasks) == (None, 1)
    shown = tasks.board_for(member(vera), today=TODAY, with_later=True)
    assert [line.name for line in shown.later] == [
        "begun, and far", "next week", "summer",
    ]  # fmt: skip
    assert shown.tasks == 1
    opened = of_key("summer", band=BoardBand.LATER)
    shown = tasks.board_for(member(vera), today=TODAY, with_later=True, opened=opened)
    assert [row.title for line in shown.later for row in line.rows] == ["summer"]


def test_a_private_report_is_seen_by_those_who_lead_only(tree, vera, lee, cora, eddy):
    late_by(tree, 0, rhythm=1, title="report", kind="report", private=True)
    late_by(tree, 0, rhythm=7, title="care")
    for person in (lee, cora):
        shown = tasks.board_for(member(person), today=TODAY)
        assert (shown.tasks, len(shown.danger), len(shown.due)) == (2, 1, 1)
    opened = of_key("report", band=BoardBand.DANGER, kind=Task.Kind.REPORT)
    for person in (vera, eddy):
        shown = tasks.board_for(member(person), today=TODAY, opened=opened)
        assert (shown.tasks, len(shown.danger), len(shown.due)) == (1, 0, 1)


def test_the_board_is_narrowed_by_block_person_kind_of_work_and_day(
    orchard, tree, vera, lee
):
    other = make_tree(orchard, "B-1")
    late_by(tree, 2, rhythm=7, title="mine", taken_by=vera)
    late_by(tree, 0, rhythm=7, title="lees", taken_by=lee)
    late_by(other, 1, rhythm=7, title="free", kind="act")
    late_by(other, -8, rhythm=7, title="far", taken_by=lee)
    assert lines(vera, block="b") == ["free", "far"]
    assert lines(vera, person="mine") == ["mine"]
    assert lines(vera, person="nobody") == ["free"]
    assert lines(vera, person=str(lee.pk)) == ["lees", "far"]
    assert lines(vera, kind="act") == ["free"]
    assert lines(vera, late=True) == ["free", "mine"]
    assert lines(vera, soon=True) == ["lees"]


def test_the_first_tasks_and_what_is_late_are_those_of_the_whole_orchard(
    orchard, tree, vera, lee
):
    late_by(tree, 2, rhythm=7, title="mine", taken_by=vera)
    late_by(make_tree(orchard, "B-1"), 1, rhythm=7, title="free", kind="act")
    late_by(tree, 0, rhythm=7, title="lees", taken_by=lee)
    first = tasks.first_tasks(member(vera), today=TODAY, mine=5, unassigned=5, holds={})
    assert [row.title for row in first.mine] == ["mine"]
    assert [row.title for row in first.unassigned] == ["free"]
    assert late_by_block(vera) == [("A", 1), ("B", 1)]


def test_the_first_page_counts_tasks_by_an_index_each(tree, vera):
    for number in range(300):
        taken = vera if number % 30 == 0 else None
        late_by(tree, 1, rhythm=7, title=f"work {number}", taken_by=taken)
    wanted = {"mine": "task_open_by_taker"}
    if connection.vendor == "sqlite":
        # An index of all that nobody has taken would be asked in place of this one.
        wanted["unassigned"] = "task_open_board"
    else:
        # It goes by what it knows of a table, and would read all of a small one.
        with connection.cursor() as cursor:
            cursor.execute("ANALYZE records_task; SET LOCAL enable_seqscan = off")
    lists = tasks.lists_for(member(vera), today=TODAY)
    for name, index in wanted.items():
        plan = lists[name].order_by().values("pk").explain()
        assert index in plan, plan


def test_the_database_ranks_the_first_tasks_as_the_law_of_lateness_does(tree, vera):
    for number in range(40):
        late_by(
            tree,
            (number * 7) % 23 - 4,
            rhythm=(number * 11) % 97 + 1,
            title=f"work {number}",
        )
    rows = tasks.first_tasks(
        member(vera), today=TODAY, mine=0, unassigned=50, holds={}
    ).unassigned
    assert len(rows) == 40
    expected = sorted(
        rows, key=lambda row: (-int(row.lateness * 10_000 + 1e-6), row.due_on)
    )
    assert [row.number for row in rows] == [row.number for row in expected]


def test_another_orchards_work_is_not_there(tree, southbank, vera):
    late_by(make_tree(southbank), 5, rhythm=7, title="theirs")
    late_by(tree, 1, rhythm=7, title="ours")
    assert lines(vera) == ["ours"]


def test_a_tree_under_a_case_is_left_alone_but_for_looks_and_water(tree, cora, vera):
    make_task(tree, "sucker_round")
    make_task(tree, "water_new")
    assert [row.waits for row in rows_on_board(member(vera))] == [
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
    rows = rows_on_board(member(vera))
    reason = "The coordinator has asked to leave this tree alone: take nothing from it."
    assert {row.waits for row in rows} == {(), (reason,)}


def test_pruning_waits_in_the_frost_season_and_keeps_its_due_day(tree, vera):
    winter = date(2026, 1, 12)
    make_task(tree, "skirt", opens_on=date(2025, 11, 1), due_on=date(2025, 12, 30))
    (row,) = rows_on_board(member(vera), today=winter)
    assert (row.days_late, row.due_on) == (13, date(2025, 12, 30))
    assert any("frost" in sentence for sentence in row.waits)
    (row,) = rows_on_board(member(vera))
    assert row.waits == ()


def test_feed_waits_until_new_roots_are_in(tree, vera):
    tree.planted_on = TODAY - timedelta(days=30)
    tree.save()
    make_task(tree, "feed_3", due_on=TODAY)
    (row,) = rows_on_board(member(vera))
    assert "Planted less than 42 days ago: no feed before 24 May 2026" in row.waits[0]


def test_work_waits_for_what_holds_up_its_own_kind_of_step(tree, vera):
    """Leaf miner is watered first, a water sprout is cut: only a cut waits here."""
    tree.planted_on = TODAY - timedelta(days=30)
    tree.save()
    make_task(tree, "leafminer", kind="act", due_on=TODAY)
    (row,) = rows_on_board(member(vera))
    assert row.waits == ()
    make_task(tree, "water_sprout", kind="act", due_on=TODAY)
    (cut,) = [row for row in rows_on_board(member(vera)) if row.waits]
    assert "42 days after planting" in cut.waits[0]


def test_the_board_asks_no_more_for_sixty_tasks_than_for_five(orchard, tree, cora):
    asked = []
    made = 0
    for count in (5, 60):
        while made < count:
            made += 1
            plant = make_tree(orchard, f"C-{made}")
            late_by(plant, made % 6, rhythm=7, title="job", taken_by=cora)
            late_by(plant, made % 6, rhythm=7, title=f"work {made}")
        with CaptureQueriesContext(connection) as queries:
            shown = tasks.board_for(
                member(cora), today=TODAY, opened=of_key("job"), with_later=True
            )
        assert len(shown.due) == count + 1
        assert sum(len(line.rows) for line in shown.due) == min(count, board.PAGE)
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
        someone = member(vera)
        with CaptureQueriesContext(connection) as queries:
            shown = tasks.board_for(someone, today=TODAY, opened=of_key("feed_3"))
        [line] = shown.due
        assert all(row.waits for row in line.rows)
        asked.append(len(queries))
    assert len(line.rows) == 7
    assert asked[0] == asked[1]


def test_work_on_a_block_or_the_orchard_names_its_place(orchard, tree, vera):
    make_task(tree, "drip_check")
    Task.objects.update(tree=None)
    (row,) = rows_on_board(member(vera))
    assert (row.place, row.place_name) == ("Block A", "Block A")
    assert row.tree_code == ""
    Task.objects.update(block=None)
    (row,) = rows_on_board(member(vera))
    assert row.place == "Alderbrook"
    [line] = tasks.board_for(member(vera), today=TODAY).due
    assert (line.trees, line.blocks) == (0, ())
    late_by(make_tree(orchard, "B-1"), 0, rhythm=7, title="due")
    late_by(make_tree(orchard, "B-2"), 3, rhythm=7, title="late")
    assert late_by_block(vera) == [("B", 1), ("", 1)]


@pytest.mark.parametrize("name", ["due-care-sucker_round", "later-look-a-b"])
def test_a_line_has_a_name_that_reads_back(name):
    assert str(GroupKey.read(name)) == name


@pytest.mark.parametrize("name", ["", "due", "due-care", "due-care-", "x-care-y", "a"])
def test_a_name_that_makes_no_sense_is_no_line(name):
    assert GroupKey.read(name) is None
