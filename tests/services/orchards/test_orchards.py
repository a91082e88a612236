from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest

from orchard.records.models import CarePlan, Change, Kind, Membership, Orchard
from orchard.science import guide
from orchard.services import guide_sync, orchards
from tests.conftest import NOW, make_person
from tests.refusals import refused

DETAILS = {
    "name": "Alder Brook Teaching Orchard",
    "place": "Nowhere-on-the-Water",
    "time_zone": "Europe/Lisbon",
    "latitude": "38.5",
    "longitude": "-8.5",
    "frost_from": "SM9-01",
    "frost_to": "SM1-15",
}


def found(person, **changes):
    return orchards.found(**{**DETAILS, **changes}, coordinator=person, now=NOW)


def test_a_founded_orchard_has_all_that_the_guide_brings(otto):
    orchard = found(otto)
    book = guide.load()
    assert orchard.slug == "alder-brook-teaching-orchard"
    assert Membership.objects.get(orchard=orchard).role == "coordinator"
    assert set(orchard.kinds.values_list("guide_key", flat=True)) == set(book.cultivars)
    statuses = dict(orchard.pest_statuses.values_list("code", "status"))
    assert statuses == {code: pest.usual_status for code, pest in book.pests.items()}
    assert set(orchard.care_plan.values_list("job", flat=True)) == set(book.jobs)
    verbs = Change.objects.filter(orchard=orchard).values_list("verb", flat=True)
    assert set(verbs) == {"found", "join", "bring_up_to_date"}


def test_jobs_that_make_no_sense_here_stand_switched_off_and_say_why(otto):
    plan = {row.job: row for row in found(otto).care_plan.all()}
    for job in ("gall_prune", "sun_survey"):
        assert not plan[job].active
        assert plan[job].reason
    assert plan["sucker_round"].active
    assert plan["frost_kit"].active
    off = [row for row in plan.values() if not row.active]
    assert all(row.reason for row in off)
    assert len(off) < len(plan) / 2


def test_without_a_frost_season_no_frost_job_is_asked_for_until_one_is_set(otto):
    orchard = found(otto, frost_from="", frost_to="")
    assert not orchard.care_plan.get(job="frost_kit").active
    orchards.correct_details(
        orchard, by=otto, now=NOW, frost_from="SM9-01", frost_to="SM1-15"
    )
    row = orchard.care_plan.get(job="frost_kit")
    assert row.active
    assert row.reason == ""


def test_what_a_person_set_in_the_care_plan_is_left_alone(otto):
    orchard = found(otto)
    CarePlan.objects.filter(orchard=orchard, job="gall_prune").update(
        active=True, reason="seen in block B", set_by=otto
    )
    assert guide_sync.bring_up_to_date(orchard, NOW) == {}
    assert orchard.care_plan.get(job="gall_prune").active


def test_bringing_up_to_date_twice_adds_nothing_and_writes_no_line(otto):
    orchard = found(otto)
    lines = Change.objects.count()
    assert guide_sync.bring_up_to_date(orchard, NOW) == {}
    assert Change.objects.count() == lines


def test_what_the_guide_gained_is_added_to_an_older_orchard(otto):
    orchard = found(otto)
    key = next(iter(guide.load().cultivars))
    Kind.objects.filter(orchard=orchard, guide_key=key).delete()
    CarePlan.objects.filter(orchard=orchard, job="sucker_round").delete()
    gained = guide_sync.bring_up_to_date(orchard, NOW + timedelta(days=1))
    assert gained == {"kinds": 1, "care_plan": 1}
    assert orchard.kinds.filter(guide_key=key).exists()


def test_a_kind_the_orchard_named_itself_is_not_added_a_second_time(otto):
    orchard = found(otto)
    key = next(iter(guide.load().cultivars))
    own = Kind.objects.get(orchard=orchard, guide_key=key)
    Kind.objects.filter(pk=own.pk).update(guide_key="", name=own.name.upper())
    assert guide_sync.bring_up_to_date(orchard, NOW) == {}


@pytest.mark.parametrize(
    ("changes", "field", "words"),
    [
        ({"time_zone": "Europe/Lisbonn"}, "time_zone", "Europe/Lisbon"),
        ({"time_zone": ""}, "time_zone", "isn't a time zone"),
        ({"latitude": "95"}, "latitude", "-90 to 90"),
        ({"latitude": "nan"}, "latitude", "-90 to 90"),
        ({"latitude": "north"}, "latitude", "-90 to 90"),
        ({"longitude": "-181"}, "longitude", "-180 to 180"),
        ({"units": "cubits"}, "units", "cubits"),
        ({"name": "   "}, "slug", "short name"),
        ({"name": "果樹園"}, "slug", "short name"),
        ({"name": "Account"}, "slug", "is reserved"),
        ({"slug": "Alder Brook"}, "slug", "small letters"),
        ({"slug": "southbank"}, "slug", "already an orchard"),
        ({"place": ""}, "place", "blank"),
        ({"name": "A" * 121}, "name", "120"),
        ({"name": "Alder\nBrook"}, "name", "on one line"),
        ({"name": "Alder\u2028Brook"}, "name", "on one line"),
        ({"place": "Nowhere\r\non the Water"}, "place", "on one line"),
        ({"authority_name": "Plant\tHealth"}, "authority_name", "on one line"),
        ({"frost_to": ""}, "frost_from", "both ends"),
        ({"frost_from": "November"}, "frost_from", "SM9-01"),
    ],
)
def test_what_cannot_be_meant_is_refused_with_a_sentence(otto, changes, field, words):
    with refused("bad_details", match=words) as refusal:
        found(otto, **changes)
    assert refusal.value.field == field
    assert Orchard.objects.count() == 1
    assert not Change.objects.exists()


def test_two_orchards_of_one_name_need_two_short_names(otto):
    found(otto)
    with refused("bad_details", match="already an orchard"):
        found(otto)
    assert found(otto, slug="second").slug == "second"


def test_corrected_details_leave_before_and_after_in_the_ledger(orchard, cora, now):
    orchards.correct_details(
        orchard, by=cora, now=now, latitude="-34.8", time_zone="Australia/Adelaide"
    )
    line = Change.objects.get(verb="correct_details")
    assert line.before == {"latitude": "38.50000", "time_zone": "Europe/Lisbon"}
    assert line.after == {"latitude": "-34.80000", "time_zone": "Australia/Adelaide"}


def test_correcting_nothing_writes_no_line(orchard, cora, now):
    orchards.correct_details(orchard, by=cora, now=now, latitude=Decimal("38.5"))
    assert not Change.objects.exists()


def test_a_correction_that_cannot_be_meant_changes_nothing(orchard, cora, now):
    with refused("bad_details"):
        orchards.correct_details(orchard, by=cora, now=now, latitude="200")
    orchard.refresh_from_db()
    assert orchard.latitude == Decimal("38.5")


def test_an_unknown_detail_is_a_bug_not_a_refusal(orchard, cora, now):
    with pytest.raises(TypeError, match="slug"):
        orchards.correct_details(orchard, by=cora, now=now, slug="new")


def test_crossing_the_equator_turns_the_seasons(orchard):
    assert orchards.turns_hemisphere(orchard, "-34.8")
    assert not orchards.turns_hemisphere(orchard, "0")


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("lisbon", "Europe/Lisbon"),
        ("adelaide", "Australia/Adelaide"),
        ("europe/lisbon", "Europe/Lisbon"),
        ("Phenix", "America/Phoenix"),
        ("new york", "America/New_York"),
    ],
)
def test_near_time_zones_are_offered(typed, meant):
    assert meant in orchards.zones_like(typed)


def test_several_orchards_share_no_rows(otto, southbank):
    first = found(otto)
    second = found(make_person("Pia", southbank, "lead"), slug="second")
    assert not set(first.kinds.values_list("pk")) & set(second.kinds.values_list("pk"))
