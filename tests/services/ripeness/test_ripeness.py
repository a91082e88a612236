"""Tests of fruit: what they say, whom they speak for, and the work that follows."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest

from orchard.records.models import CarePlan, Change, RipenessTest, Task
from orchard.science.ripeness import Readiness
from orchard.services import (
    care_plan,
    fruit,
    observations,
    ripeness,
    timeline,
    trees,
)
from orchard.services.permissions import member_for
from orchard.services.tasks import close as close_task
from orchard.services.tasks import reopen as reopen_task
from tests.conftest import make_orchard, make_person, make_tree
from tests.refusals import refused

pytestmark = pytest.mark.django_db
LONG_AGO = datetime(2015, 1, 1, tzinfo=UTC)
# Washington navels are usually ripe from November on in the north.
AUTUMN = date(2026, 11, 12)
TASTY = {"taste": 4, "tasters": 3}
READY = {"brix_read": 11.4, "acid_percent": 1.2, "juice_percent": 40.0, **TASTY}
SHORT = {"brix_read": 10.3, "acid_percent": 1.6, "juice_percent": 40.0, **TASTY}


def moment(day: date) -> datetime:
    return datetime(day.year, day.month, day.day, 9, tzinfo=UTC)


@pytest.fixture
def orchard(db):
    made = make_orchard(founded_at=LONG_AGO)
    for job in ("maturity", "harvest"):
        CarePlan.objects.create(orchard=made, job=job, active=True, set_at=LONG_AGO)
    return made


@pytest.fixture
def cora(orchard):
    return make_person("Cora", orchard, "coordinator")


@pytest.fixture
def vera(orchard):
    return make_person("Vera", orchard, "volunteer")


@pytest.fixture
def navel(orchard):
    return make_tree(orchard, "A-1", entered_at=LONG_AGO)


def noted_on(tree, by, day=AUTUMN, **readings):
    said = {"fruits": 5, **readings}
    return ripeness.note_and_open(
        tree, tested_on=day, by=by, now=moment(day), today=day, **said
    )


def open_jobs(orchard) -> set[tuple[str, str]]:
    tasks = Task.objects.in_orchard(orchard).open().select_related("tree")
    return {(one.key, one.tree.code if one.tree else "") for one in tasks}


def test_ready_fruit_closes_the_test_and_opens_the_picking_at_once(navel, vera):
    care_plan.open_next(navel.orchard, now=moment(AUTUMN), today=AUTUMN)
    assert open_jobs(navel.orchard) == {("maturity", "")}
    tested, opened = noted_on(navel, vera, **READY)
    assert tested.answer.readiness is Readiness.READY
    assert [task.key for task in opened] == ["harvest"]
    assert open_jobs(navel.orchard) == {("harvest", "A-1")}
    assert "Found ready on 12 Nov 2026." in opened[0].because
    closed = Task.objects.get(kind="care", key="maturity").closures.get()
    assert closed.evidence == "5 fruit of A-1 tested"
    # What the night finds is there already.
    assert care_plan.open_next(navel.orchard, now=moment(AUTUMN), today=AUTUMN) == []


def test_a_test_speaks_for_its_kind_in_its_block(navel, orchard, vera):
    make_tree(orchard, "A-2", entered_at=LONG_AGO)
    make_tree(orchard, "B-1", entered_at=LONG_AGO)
    noted_on(navel, vera, **READY)
    harvests = {code for what, code in open_jobs(orchard) if what == "harvest"}
    assert harvests == {"A-1", "A-2"}


def test_fruit_that_falls_short_is_tested_again_in_a_week(navel, vera):
    # One minimum missed: again in 7 days; common practice, no source.
    tested, _opened = noted_on(navel, vera, **SHORT)
    assert tested.answer.readiness is Readiness.NOT_YET
    assert ("harvest", "A-1") not in open_jobs(navel.orchard)
    soon = AUTUMN + timedelta(days=5)
    care_plan.open_next(navel.orchard, now=moment(soon), today=soon)
    [row] = ripeness.ripeness_of_kinds(navel.orchard, today=soon)
    assert row.again_on == AUTUMN + timedelta(days=7)


def test_the_test_stays_open_until_every_kind_that_comes_ripe_is_tested(
    navel, orchard, vera
):
    make_tree(orchard, "A-2", kind="Hamlin", entered_at=LONG_AGO)
    care_plan.open_next(orchard, now=moment(AUTUMN), today=AUTUMN)
    noted_on(navel, vera, **SHORT)
    assert ("maturity", "") in open_jobs(orchard)
    hamlin = orchard.trees.get(code="A-2")
    noted_on(hamlin, vera, taste=2, tasters=3)
    assert Task.objects.get(kind="care", key="maturity", closed_at__isnull=False)


def noted_together(by, *tested):
    return ripeness.note_tests(
        tested, tested_on=AUTUMN, fruits=5, by=by, now=moment(AUTUMN), today=AUTUMN
    )


def test_a_mornings_tests_close_the_work_of_every_block_they_answer(
    navel, orchard, vera
):
    hamlin = make_tree(orchard, "A-2", kind="Hamlin", entered_at=LONG_AGO)
    other = make_tree(orchard, "B-1", entered_at=LONG_AGO)
    make_tree(orchard, "B-2", kind="Hamlin", entered_at=LONG_AGO)
    care_plan.open_next(orchard, now=moment(AUTUMN), today=AUTUMN)
    found = noted_together(vera, (navel, READY), (hamlin, SHORT), (other, SHORT))
    assert [one.test.tree for one in found] == [navel, hamlin, other]
    assert [one.is_ready for one in found] == [True, False, False]
    still = Task.objects.in_orchard(orchard).open().get(key="maturity")
    # A Hamlin of block B was not tested.
    assert still.block == other.spot.block
    lines = Change.objects.filter(verb="note", subject_type="ripenesstest")
    assert {line.tree_id for line in lines} == {navel.pk, hamlin.pk, other.pk}


def test_of_a_mornings_tests_all_are_noted_or_none(navel, orchard, vera, cora):
    gone = make_tree(orchard, "A-2", entered_at=LONG_AGO)
    trees.died(gone, by=cora, now=moment(AUTUMN), today=AUTUMN, on=AUTUMN, reason="Dry")
    with refused("no_fruit"):
        noted_together(vera, (navel, READY), (gone, READY))
    with refused("out_of_range"):
        noted_together(vera, (navel, READY), (navel, {"brix_read": 110.0}))
    assert not RipenessTest.objects.exists()
    assert noted_together(vera) == []


def test_a_newer_test_outweighs_an_older_one_and_a_stage_seen_before(navel, vera):
    day = AUTUMN - timedelta(days=3)
    observations.note_stage_and_open(
        navel.orchard, bbch=89, seen_on=day, tree=navel, by=vera, now=moment(day),
        today=day,
    )  # fmt: skip
    assert ("harvest", "A-1") in open_jobs(navel.orchard)
    task = Task.objects.open().get(kind="care", key="harvest")
    close_task(
        task, by=vera, now=moment(day), today=day, how="skipped", reason="Too sour"
    )
    noted_on(navel, vera, brix_read=8.0, acid_percent=1.6, juice_percent=36.0)
    later = AUTUMN + timedelta(days=1)
    care_plan.open_next(navel.orchard, now=moment(later), today=later)
    assert ("harvest", "A-1") not in open_jobs(navel.orchard)


def test_a_stage_noted_opens_its_work_at_once(navel, vera):
    _row, opened = observations.note_stage_and_open(
        navel.orchard, bbch=89, seen_on=AUTUMN, tree=navel, by=vera,
        now=moment(AUTUMN), today=AUTUMN,
    )  # fmt: skip
    assert {task.key for task in opened} >= {"harvest"}


def test_readings_become_figures(navel, vera):
    # 11.0 read at 15 °C is 10.68 at 20 °C: OIV-MA-AS2-02, Table I, column 10 %.
    # 12.5 mL of 0.1 N on 10 mL is 0.8005 %: AOAC 942.15. Juice by both masses.
    tested, _opened = noted_on(
        navel, vera, brix_read=11.0, juice_c=15.0, titrant_ml=12.5, normality=0.1,
        sample_ml=10.0, juice_g=400.0, fruit_g=1000.0,
    )  # fmt: skip
    assert tested.brix == pytest.approx(10.68, abs=0.011)
    assert tested.acid == pytest.approx(0.8005, abs=0.001)
    assert tested.juice == 40.0
    assert tested.ratio == pytest.approx(10.68 / 0.8005, abs=0.03)
    [again] = fruit.tests_since(navel.orchard, AUTUMN)
    assert again == tested


@pytest.mark.parametrize(
    ("readings", "field"),
    [
        ({}, "brix_read"),
        ({"brix_read": 60.0}, "brix_read"),
        ({"acid_percent": 0.0}, "acid_percent"),
        ({"juice_percent": 140.0}, "juice_percent"),
        ({"juice_c": 20.0, **TASTY}, "brix_read"),
        ({"brix_read": 10.0, "juice_c": 68.0}, "juice_c"),
        ({"titrant_ml": 12.0, "sample_ml": 10.0}, "normality"),
        (
            {"titrant_ml": 400.0, "normality": 1.0, "sample_ml": 10.0},
            "titrant_ml",
        ),
        ({"juice_g": 300.0}, "fruit_g"),
        ({"juice_g": 300.0, "fruit_g": 280.0}, "juice_g"),
        ({**TASTY, "fruits": 0}, "fruits"),
        ({"taste": 4}, "tasters"),
        ({"colour_percent": 101.0}, "colour_percent"),
        ({**TASTY, "tasters": 0}, "tasters"),
    ],
)
def test_what_cannot_be_is_refused_beside_its_field(navel, vera, readings, field):
    with refused("out_of_range") as caught:
        noted_on(navel, vera, **readings)
    assert caught.value.field == field
    assert not RipenessTest.objects.exists()


def test_a_day_to_come_and_a_tree_that_is_gone_are_refused(navel, vera, cora):
    with refused("wrong_day"):
        ripeness.note_test(
            navel, tested_on=AUTUMN + timedelta(days=1), fruits=5, **TASTY, by=vera,
            now=moment(AUTUMN), today=AUTUMN,
        )  # fmt: skip
    navel.state, navel.removed_on = "removed", AUTUMN
    with refused("no_fruit", match="no longer grows"):
        noted_on(navel, vera, **TASTY)


def test_picked_fruit_is_no_longer_called_ready(navel, orchard, vera):
    make_tree(orchard, "A-2", entered_at=LONG_AGO)
    noted_on(navel, vera, **READY)
    first, second = (
        Task.objects.open().filter(kind="care", key="harvest").order_by("pk")
    )
    said = {"by": vera, "now": moment(AUTUMN), "today": AUTUMN}
    close_task(first, **said, evidence="12 kg")
    [row] = ripeness.ripeness_of_kinds(orchard, today=AUTUMN)
    assert row.is_ready
    close_task(second, **said, how="skipped", reason="Ladder broken")
    [row] = ripeness.ripeness_of_kinds(orchard, today=AUTUMN)
    assert row.is_ready
    reopen_task(second, by=vera, now=moment(AUTUMN))
    close_task(second, **said, evidence="9 kg")
    [row] = ripeness.ripeness_of_kinds(orchard, today=AUTUMN)
    assert row.picked and not row.is_ready


def test_a_tree_too_young_to_bear_is_refused(orchard, vera):
    # Bearing from the third year on: common practice, no source.
    young = make_tree(orchard, "A-9", born_on=None, planted_on=date(2023, 12, 1))
    with refused("no_fruit", match="under 3 years old") as caught:
        noted_on(young, vera, **TASTY)
    assert caught.value.field == "tree"
    old = make_tree(orchard, "A-8", born_on=None, planted_on=date(2023, 11, 1))
    assert noted_on(old, vera, **TASTY)


@pytest.mark.parametrize("way", ["correct", "withdraw", "newer"])
def test_picking_falls_away_when_its_fruit_is_no_longer_said_to_be_ready(
    navel, vera, way
):
    tested, _opened = noted_on(navel, vera, **READY)
    pick = Task.objects.open().get(kind="care", key="harvest")
    said = {"by": vera, "now": moment(AUTUMN), "today": AUTUMN}
    if way == "correct":
        sour = {"acid_percent": 2.2, "reason": "Acid misread"}
        assert not ripeness.correct_test(tested.test, **said, **sour).is_ready
    elif way == "withdraw":
        ripeness.withdraw_test(tested.test, **said, reason="Fruit of the next tree")
    else:
        noted_on(navel, vera, brix_read=8.0, acid_percent=2.2, juice_percent=30.0)
    closure = pick.closures.get()
    assert closure.how == "cancelled"
    assert "no longer recorded as ready" in closure.reason
    # Fruit found ready again is asked for again.
    noted_on(navel, vera, **READY)
    assert ("harvest", "A-1") in open_jobs(navel.orchard)


@pytest.mark.parametrize(
    ("tested_on", "last"),
    [
        # Washington navels hang 8 weeks after they were found ready (the guide's row).
        (AUTUMN, AUTUMN + timedelta(weeks=8)),
        # Their usual season ends with February: two weeks later it is over for all.
        (date(2027, 2, 10), date(2027, 3, 14)),
    ],
)
def test_ready_fruit_is_picked_at_the_end_of_its_time_on_the_tree(
    navel, vera, tested_on, last
):
    _tested, [opened] = noted_on(navel, vera, day=tested_on, **READY)
    assert opened.due_on == last
    [row] = ripeness.ripeness_of_kinds(navel.orchard, today=last - timedelta(days=1))
    assert row.is_ready and row.pick_by == last and not row.is_late
    [row] = ripeness.ripeness_of_kinds(navel.orchard, today=last)
    assert row.is_late


def test_a_second_test_gives_fruit_no_more_time_on_the_tree(navel, vera):
    noted_on(navel, vera, **READY)
    again = AUTUMN + timedelta(days=14)
    noted_on(navel, vera, day=again, **READY)
    [row] = ripeness.ripeness_of_kinds(navel.orchard, today=again)
    assert row.pick_by == AUTUMN + timedelta(weeks=8)


def test_the_time_on_the_tree_is_not_added_to_the_usual_season(navel, orchard):
    [row] = ripeness.ripeness_of_kinds(orchard, today=AUTUMN)
    assert row.season == (date(2026, 11, 1), date(2027, 2, 28))
    [row] = ripeness.ripeness_of_kinds(orchard, today=date(2027, 3, 2))
    assert not row.in_season


def test_picked_fruit_is_called_picked_though_nobody_tested_it(navel, orchard, vera):
    observations.note_event(
        orchard, what="harvested", happened_on=AUTUMN, tree=navel, by=vera,
        now=moment(AUTUMN),
    )  # fmt: skip
    later = AUTUMN + timedelta(days=2)
    [row] = ripeness.ripeness_of_kinds(orchard, today=later)
    assert row.picked_on == AUTUMN
    care_plan.open_next(orchard, now=moment(later), today=later)
    assert ("maturity", "") not in open_jobs(orchard)


def test_the_test_names_the_kinds_it_still_asks_for(navel, orchard, vera):
    make_tree(orchard, "A-2", kind="Hamlin", entered_at=LONG_AGO)
    care_plan.open_next(orchard, now=moment(AUTUMN), today=AUTUMN)
    task = Task.objects.open().get(kind="care", key="maturity")
    assert ripeness.kinds_to_test(task, today=AUTUMN) == ["Hamlin", "Washington navel"]
    noted_on(navel, vera, **SHORT)
    assert ripeness.kinds_to_test(task, today=AUTUMN) == ["Hamlin"]


def test_fruit_judged_by_colour_is_ready_without_juice(orchard, vera):
    hand = make_tree(orchard, "E-1", kind="Buddha's Hand citron", entered_at=LONG_AGO)
    green, _opened = noted_on(hand, vera, colour_percent=30.0, scented=True)
    assert green.answer.readiness is Readiness.NOT_YET
    later = AUTUMN + timedelta(days=7)
    yellow, opened = noted_on(hand, vera, day=later, colour_percent=60.0, scented=True)
    assert yellow.is_ready
    assert [task.key for task in opened] == ["harvest"]
    assert ripeness.is_judged_by_colour(orchard, "e-1")


def test_the_orchards_own_standard_decides(orchard, vera):
    lemon = make_tree(orchard, "L-1", kind="Eureka lemon", entered_at=LONG_AGO)
    assert noted_on(lemon, vera, juice_percent=22.0, **TASTY)[0].is_ready
    # 25 % in Western Australia (read).
    orchard.maturity_standard = "western_australia"
    orchard.save()
    [tested] = fruit.tests_since(orchard, AUTUMN)
    assert not tested.is_ready


def test_a_test_is_corrected_and_withdrawn_and_stays_readable(navel, vera, cora):
    tested, _opened = noted_on(navel, vera, **SHORT)
    better = ripeness.correct_test(
        tested.test, by=cora, now=moment(AUTUMN), today=AUTUMN, reason="Acid misread",
        acid_percent=1.2,
    )  # fmt: skip
    assert better.is_ready
    assert [one.test.pk for one in fruit.tests_since(navel.orchard, AUTUMN)] == [
        better.test.pk
    ]
    assert RipenessTest.objects.count() == 2
    ripeness.withdraw_test(
        better.test, by=cora, now=moment(AUTUMN), today=AUTUMN,
        reason="Fruit of the next tree",
    )  # fmt: skip
    assert fruit.tests_since(navel.orchard, AUTUMN) == []
    verbs = Change.objects.filter(subject_type="ripenesstest").values_list("verb")
    assert [verb for (verb,) in verbs.order_by("pk")] == ["note", "correct", "withdraw"]
    member = member_for(cora, navel.orchard.slug)
    told = timeline.timeline_of(navel, member, today=AUTUMN, undone=True)
    assert "Fruit tested: ready to pick" in {event.title for event in told.events}


def test_the_outlook_takes_as_many_queries_for_many_kinds(
    navel, orchard, vera, django_assert_num_queries
):
    def asked(count: int) -> None:
        with django_assert_num_queries(count):
            ripeness.ripeness_of_kinds(orchard, today=AUTUMN)

    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    noted_on(navel, vera, taste=3, tasters=3)
    with CaptureQueriesContext(connection) as caught:
        ripeness.ripeness_of_kinds(orchard, today=AUTUMN)
    for number, kind in enumerate(("Hamlin", "Eureka", "Owari satsuma"), start=2):
        tree = make_tree(orchard, f"C-{number}", kind=kind, entered_at=LONG_AGO)
        noted_on(tree, vera, taste=3, tasters=3)
    asked(len(caught))
