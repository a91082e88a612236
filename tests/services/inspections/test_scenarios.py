"""What people of the trade expect of the book, told as cases, records and all.

The laws of the same cases stand beside the science; here each is walked from what is
noted to what the book then asks for. Days and shares are working values of the guide
(common practice, no source, unless the row of the guide names one).
"""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest
from django.utils.formats import date_format

from orchard.records.models import CarePlan, Case, Finding, Task
from orchard.science import guide
from orchard.services import care_plan, holds, inspections, orchards, tasks
from orchard.services.care_plan import wording
from orchard.services.inspections import SeenSign
from tests.conftest import make_orchard, make_tree

pytestmark = pytest.mark.django_db

LONG_AGO = datetime(2015, 1, 1, tzinfo=UTC)
MAY = datetime(2026, 5, 4, 9, tzinfo=UTC)
MIDWINTER = datetime(2026, 1, 10, 12, tzinfo=UTC)


def moment(day: date) -> datetime:
    return datetime(day.year, day.month, day.day, 9, tzinfo=UTC)


def plan(orchard, job, **fields):
    values = {"active": True, "set_at": LONG_AGO, **fields}
    return CarePlan.objects.create(orchard=orchard, job=job, **values)


def night(orchard, day: date) -> list[Task]:
    return care_plan.open_next(orchard, now=moment(day), today=day)


def look(tree, by, sign, at=MAY, **answers):
    """Record one sign with its answers and return the finding."""
    seen = [SeenSign(sign, answers)]
    kept = inspections.record(tree, by=by, now=at, seen_at=at, findings=seen)
    [finding] = kept.findings
    return finding


@pytest.fixture
def orchard(db):
    return make_orchard(founded_at=LONG_AGO)


@pytest.fixture
def southbank(db):
    return make_orchard("southbank", south=True, founded_at=LONG_AGO)


@pytest.fixture
def tree(orchard):
    return make_tree(orchard, entered_at=LONG_AGO)


def test_window_crossing_new_year_closed_late_in_it_counts_for_its_season(tree, vera):
    plan(tree.orchard, "mulch", window="SM9-15..SM12-15")
    [task] = night(tree.orchard, date(2026, 1, 3))
    assert (task.occurrence, task.due_on) == ("2025", date(2026, 2, 15))
    done = date(2026, 1, 20)
    tasks.close(task, by=vera, now=moment(done), today=done)
    assert night(tree.orchard, date(2026, 2, 14)) == []
    [again] = night(tree.orchard, date(2026, 11, 20))
    assert again.occurrence == "2026"


def test_south_is_told_no_northern_month_of_the_gall_job(southbank):
    told = " ".join(
        wording.when_in_words(
            guide.load().jobs["gall_prune"].trigger,
            today=date(2026, 3, 1),
            latitude=float(southbank.latitude),
        )
    )
    assert "15 Feb to 15 Aug" in told
    # In the north the same window runs from 15 August to 15 February.
    assert "15 Aug to 15 Feb" not in told


def test_same_site_moved_keeps_dates_and_turns_windows_from_today(tree, vera, cora):
    orchard = tree.orchard
    plan(orchard, "gall_prune", set_by=cora)
    year_ago = datetime(2025, 9, 1, 9, tzinfo=UTC)
    finding = look(tree, vera, "trimmer_wound", at=year_ago, frac=0.3)
    before = Finding.objects.values().get(pk=finding.pk)
    other = make_tree(orchard, "A-2", entered_at=LONG_AGO)
    done, undone = night(orchard, date(2025, 9, 1))
    assert (undone.tree, undone.due_on) == (other, date(2026, 2, 15))
    tasks.close(done, by=vera, now=year_ago, today=date(2025, 9, 1))

    moved = date(2026, 5, 12)
    orchards.correct_details(
        orchard, by=cora, now=moment(moved), latitude="-34.8", frost_from="SM9-01"
    )
    orchard.refresh_from_db()

    assert Finding.objects.values().get(pk=finding.pk) == before
    closed = done.closures.get()
    assert (closed.how, closed.done_on) == ("done", date(2025, 9, 1))
    undone.refresh_from_db()
    assert undone.opens_on == date(2025, 8, 15)
    assert undone.closures.get().how == "cancelled", "85 days late is nobody's fault"
    [southern] = Task.objects.open().filter(kind="care", key="gall_prune")
    assert night(orchard, moved) == [], "it was opened with the move, and once"
    assert southern.tree == other
    assert (southern.opens_on, southern.due_on) == (
        date(2026, 2, 15),
        date(2026, 8, 15),
    )
    late = Task.objects.open().filter(due_on__lt=moved, kind="care")
    assert not late.exists()


def test_leap_day_whitewash_is_due_a_year_on_28_february(orchard, vera):
    """On 29 February 2028; 365 days on is 28 February 2029."""
    young = date(2025, 3, 1)
    tree = make_tree(orchard, entered_at=LONG_AGO, planted_on=young, born_on=young)
    plan(orchard, "whitewash", window="SM12-01..SM1-31")
    done = date(2028, 2, 29)
    [task] = night(orchard, done)
    tasks.close(task, by=vera, now=moment(done), today=done)
    night(orchard, date(2029, 2, 28))
    [again] = Task.objects.open()
    assert (again.tree, again.due_on) == (tree, date(2029, 2, 28))


def test_leaf_halves_do_not_match_opens_a_case_at_once(tree, vera):
    """UF/IFAS EDIS PP328: greening mottle is not mirrored across the midrib."""
    finding = look(tree, vera, "hlb_mottle", symmetric=False, side=True)
    assert (finding.verdict, finding.due_on) == ("report", date(2026, 5, 5))
    assert Case.objects.in_orchard(tree.orchard).open().get().tree == tree
    assert tree.pk in holds.holds_of(tree.orchard, today=MAY.date())


def test_fact_not_answered_is_kept_as_watch_with_the_question(tree, vera):
    finding = look(tree, vera, "hlb_mottle", side=True)
    assert finding.verdict == "watch"
    assert finding.asks == "symmetric"
    assert "match" in guide.load().facts["symmetric"].ask
    assert finding.recheck_on is not None
    assert not Case.objects.exists()


def test_winter_yellow_is_left_for_60_days_and_feeds_nobody(tree, vera):
    """University of Arizona AZ1007: cold soil yellows leaves; they green again."""
    answers = {"symmetric": True, "side": False, "soil": "moist", "pct": 40}
    finding = look(tree, vera, "winter_yellow", at=MIDWINTER, **answers)
    assert finding.facts["sm"] == 11
    assert finding.verdict == "leave"
    assert finding.recheck_on == MIDWINTER.date() + timedelta(days=60)
    assert not Task.objects.filter(kind="care", key__startswith="feed").exists()
    assert "No fertiliser" in " ".join(guide.load().signs["winter_yellow"].do_not)


def test_newly_planted_with_pale_leaves_gets_no_feed_but_a_second_look(orchard, vera):
    """New South Wales DPI (2004): no feed until young trees have settled."""
    planted = MAY.date() - timedelta(days=30)
    tree = make_tree(
        orchard, born_on=date(2024, 5, 1), planted_on=planted, entered_at=LONG_AGO
    )
    finding = look(tree, vera, "pale_growing", pct=80, soil="moist")
    assert finding.facts["planted_d"] == 30
    assert finding.verdict == "watch"
    assert finding.recheck_on is not None
    for job in ("feed_1", "feed_2", "feed_3"):
        plan(orchard, job)
    opened = night(orchard, MAY.date())
    assert not [task for task in opened if task.key.startswith("feed")]
    known = care_plan.gather_context(orchard, today=MAY.date())
    assert known.facts_of(tree)["planted_d"] == 30
    assert date_format(planted, "Y-m-d") == "2026-04-04"
