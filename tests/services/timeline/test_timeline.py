"""All of a tree's life in one view: what is told, to whom, and page by page."""

from __future__ import annotations

import random
import re
from datetime import UTC, date, datetime, time, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from orchard.records.models import (
    Case,
    Closure,
    Finding,
    Happening,
    Inspection,
    Membership,
    Photo,
    StageNote,
    Stay,
    Task,
    Tree,
)
from orchard.services import timeline
from orchard.services.timeline import Lane, Mark
from tests.conftest import NOW, TODAY, make_person, make_spot, make_tree
from tests.refusals import refused

pytestmark = pytest.mark.django_db


def member_of(user) -> Membership:
    return Membership.objects.select_related("orchard", "user").get(user=user)


def look(tree, by, at=NOW, **fields) -> Inspection:
    return Inspection.objects.create(
        orchard=tree.orchard,
        tree=tree,
        by=by,
        seen_on=at.date(),
        seen_at=at,
        made_at=at,
        received_at=fields.pop("received_at", at),
        **fields,
    )


def find(inspection, sign="aphids", verdict="watch", **fields) -> Finding:
    return Finding.objects.create(
        inspection=inspection,
        tree=inspection.tree,
        sign=sign,
        verdict=verdict,
        rule=f"{sign}/1",
        edition="test",
        because=["Because it was seen."],
        **fields,
    )


def close(tree, by, on=TODAY, how="done", **fields) -> Closure:
    number = Task.objects.count()
    at = datetime.combine(on, time(15), UTC)
    task = Task.objects.create(
        orchard=tree.orchard,
        tree=tree,
        rank=2,
        kind="care",
        key="whitewash",
        occurrence=str(number),
        title="Whitewash the trunk",
        opens_on=on,
        due_on=on,
        rhythm_days=365,
        made_at=at,
        closed_at=None if fields.get("undone_at") else at,
        private=fields.pop("private", False),
    )
    return Closure.objects.create(
        task=task, how=how, by=by, done_on=on, closed_at=at, **fields
    )


def note(tree, by, what="potted", on=TODAY, orchard_wide=False, **fields) -> Happening:
    return Happening.objects.create(
        orchard=tree.orchard,
        tree=None if orchard_wide else tree,
        what=what,
        happened_on=on,
        by=by,
        received_at=NOW,
        **fields,
    )


def snap(tree, by, at=NOW, inspection=None, **fields) -> Photo:
    photo = Photo.objects.create(
        orchard=tree.orchard,
        by=by,
        sha256=f"{Photo.objects.count():064d}",
        file_format="JPEG",
        width=640,
        height=480,
        size_bytes=1,
        received_at=at,
        **fields,
    )
    photo.trees.add(tree)
    if inspection is not None:
        photo.inspections.add(inspection)
    return photo


def titles(found) -> list[str]:
    return [event.title for event in found.events]


def told(tree, user, **options):
    return timeline.timeline_of(tree, member_of(user), today=TODAY, **options)


def test_a_life_is_told_newest_first(orchard, tree, vera):
    look(tree, vera, all_well=True, condition=4)
    close(tree, vera, evidence="Two coats", on=date(2026, 4, 1))
    note(tree, vera, "frost_night", on=date(2026, 2, 1), orchard_wide=True)
    StageNote.objects.create(
        orchard=orchard, tree=tree, bbch=65, seen_on=date(2026, 4, 10), by=vera,
        received_at=NOW,
    )  # fmt: skip
    snap(tree, vera, at=datetime(2025, 7, 1, 10, tzinfo=UTC))
    said = titles(told(tree, vera))
    assert said[0] == "All well"
    assert said[1].startswith("Growth stage 65")
    assert said[2:] == [
        "Done: Whitewash the trunk",
        "Frost night, whole orchard",
        "Photo",
        "Planted in A-1",
        "Grafted or sown",
    ]


def test_a_photo_without_a_word_is_told_as_that(tree, vera):
    look(tree, vera, photo_only=True)
    look(tree, vera, note="Thin at the top.")
    assert titles(told(tree, vera))[:2] == ["Looked at", "Photo only"]


def test_turns_of_life_name_places_and_kin(orchard, tree, vera):
    there = make_spot(orchard, "9")
    Stay.objects.filter(tree=tree).update(ended=True, until_on=date(2020, 2, 1))
    Stay.objects.create(
        tree=tree, spot=there, since_on=date(2020, 2, 1), reason="Too dark there"
    )
    Tree.objects.filter(pk=tree.pk).update(
        state="removed",
        died_on=date(2025, 1, 1),
        removed_on=date(2025, 2, 1),
        removal_reason="Dead",
        spot=there,
    )
    heir = make_tree(
        orchard, "A-9b", spot=there, replaces=tree, planted_on=date(2025, 3, 1)
    )
    tree.refresh_from_db()
    assert titles(told(tree, vera)) == [
        "Replaced by A-9b",
        "Removed",
        "Died",
        "Moved from A-1 to A-9",
        "Planted in A-1",
        "Grafted or sown",
    ]
    planted = told(heir, vera).events[0]
    assert (planted.note, planted.target) == ("In the place of A-1", ("tree", "A-1"))


def test_of_an_heir_planted_in_a_year_the_year_alone_is_told(orchard, tree, vera):
    made = {"replaces": tree, "planted_on": date(2025, 1, 1)}
    make_tree(orchard, "A-9b", planted_precision=Tree.Precision.YEAR, **made)
    (event,) = (
        event for event in told(tree, vera).events if event.title == "Replaced by A-9b"
    )
    assert event.year_only


def test_what_the_orchard_met_before_the_tree_came_is_not_its_life(orchard, tree, vera):
    note(tree, vera, "frost_night", on=date(2015, 1, 1), orchard_wide=True)
    note(tree, vera, "frost_night", on=date(2017, 1, 1), orchard_wide=True)
    assert titles(told(tree, vera, lanes=[Lane.WEATHER])) == [
        "Frost night, whole orchard"
    ]


def test_a_stage_of_the_group_is_told_of_its_trees_alone(orchard, tree, vera):
    StageNote.objects.create(
        orchard=orchard, group="navel", bbch=60, seen_on=TODAY, by=vera,
        received_at=NOW,
    )  # fmt: skip
    StageNote.objects.create(
        orchard=orchard, group="lemon", bbch=70, seen_on=TODAY, by=vera,
        received_at=NOW,
    )  # fmt: skip
    [event] = told(tree, vera, lanes=[Lane.WEATHER]).events
    assert event.title.startswith("Growth stage 60")


def test_another_tree_tells_nothing(orchard, tree, vera):
    other = make_tree(orchard, "A-2")
    look(other, vera, all_well=True)
    close(other, vera)
    note(other, vera)
    snap(other, vera)
    assert titles(told(tree, vera)) == ["Planted in A-1", "Grafted or sown"]


class TestPrivate:
    """A suspected regulated pest is seen by those who lead and who recorded it."""

    @pytest.fixture
    def suspicion(self, orchard, tree, vera):
        seen = look(tree, vera, has_private=True, note="Waxy strings on the tips")
        finding = find(seen, "psyllid_nymph", "report", private=True)
        find(seen, "sooty_mould", "leave")
        snap(tree, vera, inspection=seen, private=True)
        snap(tree, vera, private=True)
        close(tree, vera, how="done", private=True, evidence="Rang them")
        return Case.objects.create(
            orchard=orchard, tree=tree, sign="psyllid_nymph", finding=finding,
            opened_at=NOW, opened_by=vera,
        )  # fmt: skip

    def events(self, tree, user):
        found = told(tree, user).events
        return found, next(event for event in found if event.target and
                           event.target[0] == "inspection")  # fmt: skip

    def test_a_lead_sees_all_of_it(self, suspicion, tree, lee):
        found, seen = self.events(tree, lee)
        assert [one.sign for one in seen.seen] == ["psyllid_nymph", "sooty_mould"]
        assert seen.note and seen.private and len(seen.shots) == 1
        assert any(event.target == ("case", suspicion.pk) for event in found)
        assert any(event.lane is Lane.PHOTOS for event in found)
        assert any(event.lane is Lane.WORK for event in found)

    def test_who_recorded_it_sees_the_finding_but_not_the_case(
        self, suspicion, tree, vera
    ):
        found, seen = self.events(tree, vera)
        assert [one.sign for one in seen.seen] == ["psyllid_nymph", "sooty_mould"]
        assert seen.note and len(seen.shots) == 1
        assert not any(event.target and event.target[0] == "case" for event in found)
        assert not any(event.lane is Lane.WORK for event in found)

    def test_another_volunteer_sees_that_someone_looked_and_no_more(
        self, suspicion, orchard, tree
    ):
        other = make_person("Vito", orchard, "volunteer")
        found, seen = self.events(tree, other)
        assert [one.sign for one in seen.seen] == ["sooty_mould"]
        assert (seen.note, seen.shots, seen.private) == ("", (), False)
        assert {event.lane for event in found} == {Lane.LOOKS, Lane.LIFE}

    def test_why_a_suspicion_was_corrected_away_is_not_told_to_the_others(
        self, suspicion, orchard, tree, vera, lee
    ):
        old = Inspection.objects.get()
        Inspection.objects.update(superseded_at=NOW)
        look(tree, vera, corrects=old, correction_reason="No psyllid, only aphids")
        other = make_person("Vito", orchard, "volunteer")
        [hidden] = told(tree, other, lanes=[Lane.LOOKS]).events
        assert (hidden.old, hidden.correction_reason) == (old.pk, "")
        shown = told(tree, lee, lanes=[Lane.LOOKS]).events
        assert "No psyllid, only aphids" in [one.correction_reason for one in shown]

    def test_nor_through_the_work_that_fell_away_with_it(
        self, suspicion, orchard, tree, vera, lee
    ):
        fell = close(tree, lee, how="cancelled", reason="No psyllid, only aphids")
        fell.task.finding = Finding.objects.get(sign="sooty_mould")
        fell.task.save()
        other = make_person("Vito", orchard, "volunteer")
        [hidden] = told(tree, other, lanes=[Lane.WORK]).events
        assert hidden.note == ""
        notes = [one.note for one in told(tree, lee, lanes=[Lane.WORK]).events]
        assert "No psyllid, only aphids" in notes

    def test_a_withdrawal_tells_no_reason_to_the_others(
        self, suspicion, orchard, tree, lee
    ):
        Inspection.objects.update(
            withdrawn_at=NOW, withdrawn_by=lee, withdrawn_reason="No psyllid after all"
        )
        other = make_person("Vito", orchard, "volunteer")
        [hidden] = told(tree, other, lanes=[Lane.LOOKS], undone=True).events
        assert hidden.undone == "Withdrawn"
        shown = told(tree, lee, lanes=[Lane.LOOKS], undone=True).events[-1]
        assert "No psyllid" in shown.undone


class TestCorrections:
    def test_the_newer_version_is_told_with_the_way_to_the_old_one(self, tree, vera):
        old = look(tree, vera, note="left limb", superseded_at=NOW)
        look(tree, vera, corrects=old, correction_reason="Wrong limb", note="right")
        [event] = told(tree, vera, lanes=[Lane.LOOKS]).events
        assert (event.note, event.old) == ("right", old.pk)
        assert event.correction_reason == "Wrong limb"

    def test_withdrawn_and_undone_are_hidden_until_asked_for(self, tree, vera, lee):
        look(
            tree, vera, all_well=True, withdrawn_at=NOW, withdrawn_by=vera,
            withdrawn_reason="Tapped the wrong tree",
        )  # fmt: skip
        close(tree, vera, undone_at=NOW, undone_by=lee)
        lanes = [Lane.LOOKS, Lane.WORK]
        assert told(tree, vera, lanes=lanes).events == ()
        undone, withdrawn = told(tree, vera, lanes=lanes, undone=True).events
        assert withdrawn.undone == "Withdrawn: Tapped the wrong tree"
        assert undone.undone == "Undone by Lee"


def test_work_says_how_it_ended_and_whether_it_is_proven(tree, vera):
    close(tree, vera, on=date(2026, 5, 3))
    close(tree, vera, on=date(2026, 5, 2), evidence="Photo taken")
    close(tree, None, on=date(2026, 5, 1), how="cancelled", reason="The tree died")
    bare, proven, fell = told(tree, vera, lanes=[Lane.WORK]).events
    assert (bare.unproven, proven.unproven, fell.unproven) == (True, False, False)
    assert proven.note == "Photo taken"
    assert fell.title == "Cancelled: Whitewash the trunk"
    assert (fell.note, fell.by) == ("The tree died", "")


def test_a_late_entry_says_how_late(tree, vera):
    look(tree, vera, at=NOW - timedelta(days=3), received_at=NOW, all_well=True)
    [event] = told(tree, vera, lanes=[Lane.LOOKS]).events
    assert event.days_late == 3


def test_an_override_shows_beside_what_was_computed(tree, vera, lee):
    find(
        look(tree, vera), verdict="watch", override="act", override_by=lee,
        override_reason="Young tree", override_at=NOW, answers={"pct": 25},
    )  # fmt: skip
    [event] = told(tree, vera, lanes=[Lane.LOOKS]).events
    assert (event.seen[0].verdict, event.seen[0].computed) == ("act", "watch")


def test_photos_of_looks_stand_under_photos_and_once_where_looks_are_shown(tree, vera):
    inspection = look(tree, vera)
    snap(tree, vera, inspection=inspection, caption="of a finding")
    [event] = told(tree, vera, lanes=[Lane.PHOTOS]).events
    assert [shot.caption for shot in event.shots] == ["of a finding"]
    [both] = told(tree, vera, lanes=[Lane.PHOTOS, Lane.LOOKS]).events
    assert both.lane is Lane.LOOKS
    assert [shot.caption for shot in both.shots] == ["of a finding"]


def test_photos_of_one_person_and_day_stand_together(tree, vera, lee):
    for minute in range(3):
        snap(tree, vera, at=NOW + timedelta(minutes=minute), caption=f"{minute}")
    snap(tree, lee, at=NOW + timedelta(minutes=9))
    first, second = told(tree, vera, lanes=[Lane.PHOTOS]).events
    assert (first.by, len(first.shots)) == ("Lee", 1)
    assert second.by == "Vera"
    assert {shot.caption for shot in second.shots} == {"0", "1", "2"}


def test_a_year_is_a_year_of_the_orchards_own_clock(southbank, otto):
    """Adelaide is 10.5 hours ahead in January: 31 December 14:00 UTC is New Year."""
    tree = make_tree(southbank, "A-1")
    look(tree, otto, at=datetime(2025, 12, 31, 13, 0, tzinfo=UTC), note="old")
    look(tree, otto, at=datetime(2025, 12, 31, 14, 0, tzinfo=UTC), note="new")
    in_2026 = told(tree, otto, lanes=[Lane.LOOKS], year=2026).events
    in_2025 = told(tree, otto, lanes=[Lane.LOOKS], year=2025).events
    assert [event.note for event in in_2026] == ["new"]
    assert [event.note for event in in_2025] == ["old"]


def test_the_years_run_from_the_first_record_to_today(tree, vera):
    assert told(tree, vera).years == tuple(range(2026, 2013, -1))
    Tree.objects.filter(pk=tree.pk).update(born_on=None, planted_on=None)
    tree.refresh_from_db()
    assert told(tree, vera).years == (2026,)
    close(tree, vera, on=date(2024, 12, 31))
    assert told(tree, vera).years == (2026, 2025, 2024)


def busy_life(tree, people, *, count, seed=1) -> None:
    """Fill a tree's life with all sorts of events, many of them at the same moment."""
    dice = random.Random(seed)
    for _ in range(count):
        day = date(2024, 1, 1) + timedelta(days=dice.randrange(40))
        who = dice.choice(people)
        at = datetime.combine(day, time(dice.randrange(3) * 8), UTC)
        match dice.randrange(6):
            case 0:
                find(look(tree, who, at=at))
            case 1:
                look(tree, who, at=at, all_well=True, condition=dice.randrange(1, 6))
            case 2:
                close(tree, who, on=day)
            case 3:
                what = dice.choice(["potted", "frost_night", "heavy_rain"])
                note(tree, who, what, on=day, orchard_wide=dice.random() < 0.5)
            case 4:
                StageNote.objects.create(
                    orchard=tree.orchard, tree=tree, bbch=dice.randrange(99),
                    seen_on=day, by=who, received_at=at,
                )  # fmt: skip
            case _:
                snap(tree, who, at=at)


def marks(found) -> list[Mark]:
    return [event.mark for event in found.events]


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("size", [1, 3, 7])
def test_pages_neither_skip_nor_repeat(tree, vera, lee, seed, size):
    busy_life(tree, [vera, lee], count=30, seed=seed)
    whole = told(tree, lee, size=500)
    assert whole.older is None
    # Photos are joined for reading only, so they are counted one by one.
    events = sum(max(1, len(e.shots)) for e in whole.events)
    assert events == 30 + 2
    assert marks(whole) == sorted(marks(whole), reverse=True)
    shots, rest, before = 0, [], None
    for _page in range(200):
        page = told(tree, lee, size=size, before=before)
        shots += sum(len(e.shots) for e in page.events)
        rest += [e.mark for e in page.events if not e.shots]
        before = page.older and Mark.read(str(page.older))
        if before is None:
            break
    assert rest == [e.mark for e in whole.events if not e.shots]
    assert shots == sum(len(e.shots) for e in whole.events)


def test_what_is_added_on_top_does_not_shift_the_older_pages(tree, vera, lee):
    busy_life(tree, [vera], count=30)
    first = told(tree, vera, size=10)
    before = marks(told(tree, vera, size=10, before=first.older))
    look(tree, lee, all_well=True)
    assert marks(told(tree, vera, size=10, before=first.older)) == before


def test_the_number_of_queries_does_not_grow_with_the_life(
    tree, vera, lee, django_assert_num_queries
):
    member = member_of(lee)
    busy_life(tree, [vera, lee], count=5)
    find(look(tree, vera))
    with django_assert_num_queries(9):
        timeline.timeline_of(tree, member, today=TODAY)
    busy_life(tree, [vera, lee], count=200, seed=2)
    with django_assert_num_queries(9):
        timeline.timeline_of(tree, member, today=TODAY)


@pytest.mark.parametrize(
    "text", ["", "1", "1.2", "1.10.x", "1.99.4", "9" * 18 + ".10.1", "1.10.1;--"]
)
def test_a_mark_that_no_timeline_gave_is_refused_in_words(text):
    with refused("unknown_mark", match="Start from its top"):
        Mark.read(text)


def test_a_mark_comes_back_as_it_was_written():
    mark = Mark(NOW + timedelta(microseconds=7), timeline.Rank.LOOK, 12)
    assert Mark.read(str(mark)) == mark


def test_scores_are_the_last_ones_in_their_order(tree, vera):
    for day in range(130):
        look(tree, vera, at=NOW - timedelta(days=day), condition=1 + day % 5)
    look(tree, vera, condition=5, superseded_at=NOW)
    found = timeline.scores(tree)
    assert len(found) == 120
    assert found[-1].on == TODAY
    assert found[0].on < found[1].on


@pytest.mark.parametrize("undone", [False, True])
def test_no_source_reads_a_whole_table(tree, vera, undone):
    """Open and closed tasks lie in partial indexes that are easily missed."""
    if connection.vendor != "sqlite":
        pytest.skip("the planner of PostgreSQL goes by the size of the tables")
    busy_life(tree, [vera], count=30)
    member = member_of(vera)
    before = timeline.timeline_of(tree, member, today=TODAY, size=5).older
    with CaptureQueriesContext(connection) as asked:
        timeline.timeline_of(
            tree, member, today=TODAY, size=5, before=before, undone=undone
        )
    tables = "inspection|closure|task|happening|stagenote|photo|finding|stay|case"
    for query in asked.captured_queries:
        with connection.cursor() as cursor:
            cursor.execute(f"EXPLAIN QUERY PLAN {query['sql']}")
            plan = [row[-1] for row in cursor.fetchall()]
        scans = [line for line in plan if re.match(rf"SCAN records_({tables})", line)]
        assert not scans, (query["sql"], plan)
