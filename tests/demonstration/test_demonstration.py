"""The demonstration: two orchards made by the services alone, the same for a seed."""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from random import Random
from types import SimpleNamespace
from unittest import mock
from zoneinfo import ZoneInfo

import pytest
from django.apps import apps
from django.conf import settings
from django.db import connection, transaction
from django.db.models import F

from orchard import demonstration
from orchard.demonstration import climate, habits, making, tasting, year
from orchard.demonstration.scene import Scene
from orchard.records.models import (
    Case,
    Change,
    Closure,
    Finding,
    Happening,
    Harvest,
    HouseRule,
    Inspection,
    Membership,
    Orchard,
    Photo,
    Recall,
    SecondLook,
    StageNote,
    Tag,
    TalkSet,
    Task,
    Tree,
    User,
)
from orchard.science import guide
from orchard.services import harvests, permissions, talks, visitors, water
from orchard.services.inspections.judgement import check_answers
from tests.demonstration.seeding import run

NOW = datetime(2026, 5, 14, 9, 0, tzinfo=UTC)


@dataclass(frozen=True, slots=True)
class Failed:
    """A telling that failed at its very end: what it told, and what it left behind."""

    stories: list[list[tuple]]
    rows: set[str]
    laid: set[Path]
    files: set[Path]


def failed_at_the_end() -> Failed:
    """Let a telling fail when both orchards are made."""
    second, stories = making._second, []
    laid: set[Path] = set()
    rows, before = counts(), files()

    def fails(*arguments):
        second(*arguments)
        stories.extend(map(story, Orchard.objects.order_by("pk")))
        laid.update(files() - before)
        raise RuntimeError("both orchards are made")

    with (
        mock.patch.object(making, "_second", fails),
        pytest.raises(RuntimeError, match="both orchards are made"),
    ):
        demonstration.build(now=NOW, small=True)
    after = counts()
    return Failed(
        stories, {name for name in rows if rows[name] != after[name]}, laid,
        files() - before,
    )  # fmt: skip


def counts() -> dict[str, int]:
    return {
        model._meta.label: model.objects.count()
        for model in apps.get_app_config("records").get_models()
    }


def scene_of(site: Orchard, starts_on: date, lately: int = 300) -> Scene:
    """Return a scene of so many days with a crew of every week, up to NOW."""
    return Scene(site, Random(1), NOW, starts_on, timedelta(days=lately))


def files() -> set[Path]:
    root = Path(settings.MEDIA_ROOT)
    return {path for path in root.rglob("*") if path.is_file()}


@pytest.fixture(scope="module")
def made(django_db_setup, django_db_blocker):
    """Yield the two orchards as the command makes them and what it said meanwhile, a
    first telling with the same seed, and how many queries the command took."""
    with django_db_blocker.unblock(), transaction.atomic():
        first = failed_at_the_end()
        counted = itertools.count()

        def count(execute, *query):
            next(counted)
            return execute(*query)

        with (
            connection.execute_wrapper(count),
            mock.patch("django.utils.timezone.now", return_value=NOW),
        ):
            wrote = run("--small", "--only-if-empty")
        north = Orchard.objects.get(slug="old-cistern")
        south = Orchard.objects.get(slug="long-paddock")
        yield north, south, first, next(counted), wrote
        transaction.set_rollback(True)


@pytest.fixture
def north(made, db) -> Orchard:
    return made[0]


@pytest.fixture
def south(made, db) -> Orchard:
    return made[1]


def test_an_empty_book_gets_the_demonstration_once(made, client, db):
    out, error = made[4]
    assert not out
    assert "Solvarra" in error and "Kelloway Bend" in error and "ready" in error
    assert Orchard.objects.count() == 2
    lines = Change.objects.count()
    assert run("--small", "--only-if-empty") == ("", "")
    assert Change.objects.count() == lines

    out, _error = run("--show-sign-ins")
    people = [line for line in out.splitlines() if "@example.org" in line]
    roles = [line.split(":")[0] for line in people]
    for role in ("coordinator", "crew lead", "educator", "programme office"):
        assert role in roles
    assert "volunteer" in roles
    assert any("Old Cistern" in one and "Long Paddock" in one for one in people)
    tag = Tag.objects.filter(retired_at=None, tree__code="A-01").get()
    assert f"/t/{tag.token}/" in out

    email, password = people[0].split(", ")[1:3]
    password = password.removeprefix("password ")
    assert client.login(username=email, password=password)
    assert User.objects.get(email=email).name in people[0]


def ids(model, **having) -> set[int]:
    return set(model.objects.filter(**having).values_list("pk", flat=True))


def written(model, *verbs: str) -> set[int]:
    lines = Change.objects.filter(subject_type=model._meta.model_name)
    if verbs:
        lines = lines.filter(verb__in=verbs)
    return set(lines.values_list("subject_id", flat=True))


def story(orchard: Orchard) -> list[tuple]:
    """Return what an orchard's book tells, without numbers and tokens."""
    looks = Inspection.objects.in_orchard(orchard).order_by("pk")
    found = Finding.objects.in_orchard(orchard).order_by("pk")
    tasks = Task.objects.in_orchard(orchard).order_by("pk")
    ends = Closure.objects.filter(task__orchard=orchard).order_by("pk")
    return [
        *looks.values_list("tree__code", "seen_at", "by__email", "condition", "note"),
        *found.values_list("tree__code", "sign", "verdict", "rule", "note"),
        *tasks.values_list("tree__code", "kind", "key", "opens_on", "due_on"),
        *ends.values_list(
            "task__kind", "task__key", "how", "done_on", "by__email", "evidence"
        ),
        *Photo.objects.in_orchard(orchard)
        .order_by("pk", "trees__code")
        .values_list("trees__code", "sha256"),
    ]


def test_a_crate_was_picked_given_away_and_called_back(north):
    [lot] = Harvest.objects.current().filter(orchard=north)
    assert lot.harvested.get().tree.code == "A-07"
    recall = Recall.objects.get(orchard=north)
    picture = harvests.recall_picture(recall)
    assert [line.share.use for line in picture.calls] == ["given_away", "volunteers"]
    assert not picture.unanswered
    assert recall.closed_at is not None
    assert harvests.why_kept_back(lot)
    assert ids(Harvest) == written(Harvest, "record")


def test_nothing_comes_into_the_book_but_by_a_verb_that_writes_the_ledger(north, south):
    assert ids(Tree) == written(Tree, "plant") and len(ids(Tree)) == 12
    assert ids(Inspection) == written(Inspection, "record", "correct")
    closed = set(Closure.objects.values_list("task_id", flat=True))
    assert closed == written(Task, "close") and len(closed) > 50
    assert ids(Happening) == written(Happening)
    assert ids(StageNote) == written(StageNote)
    assert ids(Photo) == written(Photo, "keep") and ids(Photo)
    assert ids(SecondLook) == written(SecondLook, "ask")
    assert ids(Case) == written(Case, "open")
    assert ids(HouseRule) == written(HouseRule, "set")
    assert ids(Membership) == written(Membership, "join")
    assert ids(User) == set(Membership.objects.values_list("user_id", flat=True))


def test_every_thing_has_its_own_past_moment(north, south):
    for orchard in (north, south):
        today = NOW.astimezone(ZoneInfo(orchard.time_zone)).date()
        looks = Inspection.objects.in_orchard(orchard)
        assert not looks.filter(seen_at__gt=NOW).exists()
        assert not looks.filter(seen_on__gt=today).exists()
        assert looks.values("seen_on").distinct().count() >= 8
        closures = Closure.objects.filter(task__orchard=orchard)
        assert not closures.filter(closed_at__gt=NOW).exists()
        for tree in Tree.objects.in_orchard(orchard):
            assert not looks.filter(tree=tree, seen_on__lt=tree.planted_on).exists()
    assert not Change.objects.filter(at__gt=NOW).exists()


def test_the_lines_of_the_ledger_are_in_the_order_of_what_happened(north):
    moments = list(
        Change.objects.filter(orchard=north, subject_type="inspection", verb="record")
        .order_by("pk")
        .values_list("at", flat=True)
    )
    days = [moment.date() for moment in moments]
    # Within a morning several people walk; a few looks are entered two days later.
    backwards = sum(b < a for a, b in zip(days, days[1:], strict=False))
    assert backwards <= len(days) // 20


def test_the_demonstration_is_made_with_few_queries(made, north):
    assert made[3] <= 4_200


def test_the_same_seed_and_day_tell_the_same_story(made, north, south):
    for first, orchard in zip(made[2].stories, (north, south), strict=True):
        assert len(first) > 60
        assert story(orchard) == first


def test_the_south_has_southern_seasons(north, south):
    """March to May is spring in the north and autumn in the south.

    Source: the three-month seasons of the WMO, as the windows have them.
    """
    assert _seasons(north) == {"spring"}
    assert _seasons(south) == {"autumn"}
    spans = {"mulch": "SM3-01..SM4-15", "rodent_guard": "SM7-15..SM8-15"}
    jobs = guide.load().jobs
    for what, span in spans.items():
        spans_of_job = jobs[what].trigger.spans
        assert [one.code for one in spans_of_job] == [span]
    # Month 3 of the season year is May in the north; month 8 is April in the south.
    in_north = set(Task.objects.in_orchard(north).care().values_list("key", flat=True))
    in_south = set(Task.objects.in_orchard(south).care().values_list("key", flat=True))
    assert "mulch" in in_north and "mulch" not in in_south
    assert "rodent_guard" in in_south and "rodent_guard" not in in_north
    guard = Task.objects.in_orchard(south).care("rodent_guard").first()
    assert (guard.opens_on, guard.due_on) == (date(2026, 3, 15), date(2026, 4, 15))


def _seasons(orchard: Orchard) -> set[str]:
    facts = Finding.objects.in_orchard(orchard).values_list("facts", flat=True)
    return {said["season"] for said in facts}


@pytest.mark.parametrize("latitude", [38.41, -34.9])
def test_each_year_of_weather_has_its_hot_and_its_wet_days(latitude):
    # 25 mm in a day is heavy rain, 35 °C a hot day: common practice, no source.
    frost = NOW.date() - timedelta(days=200)
    skies = climate.days(
        NOW.date() - timedelta(days=735),
        NOW.date(),
        latitude=latitude,
        dice=Random(1),
        frosts=[frost],
    )
    told = [(sky.on, sky.tmin, sky.tmax, sky.rain) for sky in skies]
    for back in (0, 1):
        end = NOW.date() - timedelta(days=365 * back)
        days = [row for row in told if 0 <= (end - row[0]).days < 365]
        hot = [on for on, _low, high, _rain in days if high is not None and high >= 35]
        pairs = itertools.pairwise(sorted(hot))
        assert sum(b - a == timedelta(days=1) for a, b in pairs) >= 5, "a hot week"
        assert any(rain is not None and rain >= 25 for *_row, rain in days)
    assert [low for on, low, _high, _rain in told if on == frost][0] < 0


@pytest.mark.parametrize("latitude", ["38.41", "-34.90"])
def test_the_flush_after_each_bloom_is_noted(latitude):
    """BBCH 65 is full bloom, 31 the growing shoots that follow it."""
    site = Orchard(latitude=latitude, time_zone="UTC")
    starts_on = NOW.date() - timedelta(days=900)
    scene = scene_of(site, starts_on)
    notes = year.notes_of(scene, [])
    until = NOW.date() - timedelta(days=60)
    blooms = [one for one in notes if one.bbch == 65 and one.on < until]
    assert len({one.on.year for one in blooms}) >= 2
    for bloom in blooms:
        after = [
            one.on - bloom.on
            for one in notes
            if one.bbch == 31 and one.group == bloom.group and one.on > bloom.on
        ]
        assert min(after) <= timedelta(days=60), bloom


def test_every_pot_has_a_balance_of_water(north):
    pots = Tree.objects.in_orchard(north).looked_after().filter(setting="container")
    assert pots.exists()
    for pot in pots:
        found = water.ground_of_tree(north, pot, today=NOW.date())
        assert found.pot.is_known, (pot.code, found.why_not)


def test_one_person_belongs_to_both_orchards_and_roles_are_all_there(north, south):
    both = User.objects.filter(memberships__orchard=north).filter(
        memberships__orchard=south
    )
    assert [user.name for user in both] == ["Ruth Oakenfell"]
    roles = (
        Membership.objects.in_orchard(north).standing().values_list("role", flat=True)
    )
    assert set(roles) == set(Membership.Role.values)
    said = {(row.role, row.email) for row in demonstration.sign_ins()}
    assert len(said) == 15
    for row in demonstration.sign_ins():
        assert User.objects.get(email=row.email).check_password(row.password)
    # One set her own; the others have it from a coordinator, and the ledger says so.
    lines = Change.objects.filter(verb="set_password", at__gt=north.founded_at)
    assert lines.filter(by__name="Ilda Marrow").exclude(subject_id=F("by_id")).exists()
    assert not lines.filter(
        subject_id=F("by_id"), by__memberships__role=Membership.Role.VOLUNTEER
    ).exists()


def test_nobody_tastes_of_a_tree_that_is_left_alone(north):
    case = Case.objects.open().in_orchard(north).get()
    opened_on = case.opened_at.date()
    other = Tree.objects.in_orchard(north).looked_after().exclude(pk=case.tree_id)
    scene = scene_of(north, opened_on)
    trees = [case.tree, other.earliest("pk")]
    after = opened_on + timedelta(days=1)
    assert tasting.closed_trees(scene, trees, after) == {case.tree_id}


def test_the_story_has_its_open_case_and_its_waiting_second_looks(north):
    case = Case.objects.in_orchard(north).open().get()
    assert (case.tree.code, case.sign) == ("D-04", "one_branch_yellow")
    assert case.finding.private
    reported = Task.objects.in_orchard(north).get(kind=Task.Kind.REPORT)
    assert reported.closed_at is not None
    waiting = SecondLook.objects.filter(orchard=north, answered_at=None)
    assert {look.finding.tree.code for look in waiting} >= {"A-03", "B-04"}
    corrected = Inspection.objects.in_orchard(north).exclude(corrects=None)
    assert corrected.count() >= 2
    assert not corrected.filter(correction_reason="").exists()


def test_the_story_has_a_one_off_task_and_a_sheet_of_paper_to_look_at(north):
    asked = Task.objects.in_orchard(north).open().filter(kind=Task.Kind.ONCE)
    assert {task.title for task in asked} == {"Hang the name board for the open day"}
    assert {task.tree.code for task in asked} >= {"A-01"}
    assert north.crew_hours is not None
    paper = Inspection.objects.in_orchard(north).exclude(written_by=None).get()
    assert (paper.by.name, paper.written_by.name) == ("Mei Harrowan", "Tomas Pereval")


def test_the_educator_has_a_talk_that_may_leave(north):
    talk_set = TalkSet.objects.get(orchard=north)
    member = permissions.member_for(talk_set.by, north.slug)
    assert member.role == Membership.Role.EDUCATOR
    talk = talks.read(talk_set, member)
    talks.require_finished(talk)
    assert talk.photos


def test_visitors_find_a_page_a_story_and_a_picture(north):
    page = visitors.orchard_face(visitors.public_orchard(north.slug), now=NOW)
    assert page.words
    assert "Washington navel" in {row.name for row in page.kinds}
    tag = Tag.objects.get(tree__orchard=north, tree__code="A-01", retired_at=None)
    face = visitors.public_face(visitors.tag_for(tag.token), now=NOW)
    assert face.story and face.kind_story
    assert face.picture is not None
    assert face.picture.view == Photo.View.WHOLE_TREE


def test_a_demonstration_that_fails_leaves_nothing_behind(made, db):
    failed = made[2]
    assert failed.laid
    assert not failed.rows and not failed.files


def test_crews_come_on_wednesdays_before_today():
    site = Orchard(latitude="38.41", time_zone="UTC")
    # 6 May 2026 is a Wednesday by the Gregorian calendar (ISO 8601 weekday 3).
    assert date(2026, 5, 6).isoweekday() == 3
    # NOW is the Thursday a week later. The crew meets on the third day or after.
    came = {
        (begun, lately): scene_of(site, date(2026, 4, begun), lately).mornings()
        for begun, lately in ((12, 300), (13, 300), (12, 20))
    }
    weekly = [date(2026, 4, 15) + timedelta(days=7 * week) for week in range(5)]
    assert came[12, 300] == weekly and came[13, 300] == weekly[1:]
    assert came[12, 20] == [weekly[0], *weekly[3:]]


@pytest.mark.parametrize("habit", habits.HABITS, ids=lambda habit: habit.sign)
def test_a_habit_answers_what_its_sign_asks(habit):
    scene = SimpleNamespace(
        dice=Random(1),
        chance=lambda share: True,
        age=lambda tree, day: 3,
        standing={"A-1": 3.0},
    )
    tree = SimpleNamespace(code="A-1", rootstock="Carrizo / Troyer citrange")
    check_answers(guide.load().signs[habit.sign], habit.answers(scene, tree, NOW))
