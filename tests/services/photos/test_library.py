"""The library: who finds what, by what it shows and by everyday words."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest
from django.db import connection

from orchard.records.models import Case, Finding, Photo, SecondLook
from orchard.services import permissions, photos
from orchard.services.photos import PhotoFilters
from orchard.services.photos.library import photos_that_fit
from tests.conftest import NOW, TODAY, make_orchard, make_person, make_tree
from tests.refusals import refused
from tests.web.test_who_may import make_finding, make_inspection, make_photo

EVERYTHING = {
    "words": "below the graft",
    "tree": "A-1",
    "sign": "sucker",
    "part": "trunk",
    "verdict": "act",
    "sureness": "one",
    "condition": "fair",
    "season": "spring",
    "view": "close_up",
    "since": TODAY,
    "until": TODAY,
    "received_since": TODAY,
}


@pytest.fixture
def keeper(orchard):
    return permissions.member_for(
        make_person("Eddy", orchard, "educator"), "alderbrook"
    )


@pytest.fixture
def leader(orchard):
    return permissions.member_for(make_person("Lee", orchard, "lead"), "alderbrook")


@pytest.fixture
def volunteer(orchard):
    user = make_person("Vera", orchard, "volunteer")
    return permissions.member_for(user, "alderbrook")


@pytest.fixture
def look(orchard, tree, volunteer):
    look = make_inspection(orchard, tree, volunteer.user)
    look.condition = 3
    look.save()
    return look


@pytest.fixture
def finding(look):
    return make_finding(look)


@pytest.fixture
def shot(orchard, tree, look, finding, volunteer, tmp_path):
    photo = make_photo(
        orchard,
        tree,
        volunteer.user,
        tmp_path,
        finding,
        caption="Below the graft",
        view="close_up",
    )
    photo.inspections.add(look)
    return photo


def found(member, **asked) -> list[Photo]:
    page = photos.library(member, PhotoFilters(**asked))
    return [shown.photo for shown in page.rows]


def test_each_filter_finds_what_fits_and_nothing_else(orchard, keeper, shot, tmp_path):
    """A second photo fits none of them."""
    far = datetime(2025, 1, 5, 9, tzinfo=UTC)
    other = make_photo(
        orchard, make_tree(orchard, "B-2", kind="Meyer"), keeper.user, tmp_path
    )
    Photo.objects.filter(pk=other.pk).update(received_at=far, view="branch")
    asked = EVERYTHING | {"by": shot.by_id, "kind": shot.tree.kind_id}
    for name, value in asked.items():
        if name == "until":
            # The other is older, so it fits as well; days have a test of their own.
            continue
        assert found(keeper, **{name: value}) == [shot], name
    assert found(keeper, **asked) == [shot]
    assert PhotoFilters(**asked).count == len(asked) - 1
    assert found(keeper) == [shot, other]
    assert found(keeper, tree="B-2", sign="sucker") == []


def test_what_is_asked_of_findings_is_asked_of_one(keeper, look, shot):
    """It shows a sucker to act on and aphids to watch, and no sucker to watch."""
    aphids = make_finding(look)
    Finding.objects.filter(pk=aphids.pk).update(sign="aphids", verdict="watch")
    shot.findings.add(aphids)
    assert found(keeper, sign="aphids", verdict="watch") == [shot]
    assert found(keeper, sign="sucker", verdict="watch") == []


def test_a_persons_verdict_stands_before_the_books(keeper, finding, shot):
    Finding.objects.filter(pk=finding.pk).update(
        override="leave", override_reason="Seen", override_by=keeper.user
    )
    assert found(keeper, verdict="act") == []
    assert found(keeper, verdict="leave") == [shot]


def test_what_was_taken_back_is_no_sign_of_a_photo(keeper, look, shot):
    look.withdrawn_at, look.withdrawn_by, look.withdrawn_reason = NOW, keeper.user, "x"
    look.save()
    assert found(keeper, sign="sucker") == []
    [shown] = photos.depicted([shot], keeper)
    assert shown.signs == ()


@pytest.mark.parametrize(("south", "season"), [(False, "spring"), (True, "autumn")])
def test_seasons_follow_the_hemisphere(south, season, tmp_path, db):
    """12 May is spring north of the equator and autumn south of it (WMO's quarters)."""
    place = make_orchard("elsewhere", south=south)
    member = permissions.member_for(make_person("Nia", place, "lead"), "elsewhere")
    shot = make_photo(place, None, member.user, tmp_path)
    for each in ("spring", "summer", "autumn", "winter"):
        assert found(member, season=each) == ([shot] if each == season else [])
    [shown] = photos.depicted([shot], member)
    assert shown.season == season


def test_days_are_the_orchards_and_of_the_camera(keeper, shot):
    """23:30 UTC on 3 June is half past midnight of the 4th in Lisbon (UTC+1)."""
    Photo.objects.update(taken_at=datetime(2025, 6, 3, 23, 30, tzinfo=UTC))
    fourth = date(2025, 6, 4)
    assert found(keeper, since=fourth, until=fourth) == [shot]
    assert found(keeper, until=fourth - timedelta(days=1)) == []
    assert found(keeper, season="summer") == [shot]


def sureness(member, shot) -> str:
    """Ask both ways: what a photo shows, and what it is found by."""
    [shown] = photos.depicted([shot], member)
    [sign] = shown.signs
    by_filter = [
        each
        for each in Finding.Sureness.values
        if found(member, sureness=each) == [shot]
    ]
    assert by_filter == [sign.sureness]
    return str(sign.sureness)


@pytest.mark.parametrize(
    ("given", "sure"),
    [("", "doubt"), ("unsettled", "doubt"), ("agreed", "two"), ("nothing", "one")],
)
def test_a_second_look_makes_a_name_surer_or_leaves_it_open(
    given, sure, orchard, leader, finding, shot
):
    assert sureness(leader, shot) == "one"
    whole = (
        {"answered_at": NOW, "answered_by": leader.user, "answer": given}
        if given
        else {}
    )
    SecondLook.objects.create(finding=finding, orchard=orchard, asked_at=NOW, **whole)
    assert sureness(leader, shot) == sure


def test_who_was_not_sure_and_asked_nobody_is_in_doubt(leader, finding, shot):
    Finding.objects.filter(pk=finding.pk).update(sure=False)
    assert sureness(leader, shot) == "doubt"


def test_a_sign_that_the_second_look_named_is_named_by_two(
    orchard, tree, leader, volunteer, look, finding, shot
):
    SecondLook.objects.create(
        finding=finding,
        orchard=orchard,
        asked_at=NOW,
        answered_at=NOW,
        answered_by=leader.user,
        answer="other",
    )
    look.superseded_at = NOW
    look.save()
    newer = make_inspection(orchard, tree, volunteer.user)
    newer.corrects, newer.correction_reason = look, "Second look"
    newer.save()
    aphids = make_finding(newer)
    Finding.objects.filter(pk=aphids.pk).update(sign="aphids")
    shot.findings.add(aphids)
    assert sureness(leader, shot) == "two"


def test_only_those_who_see_cases_learn_of_an_answer(
    orchard, tree, leader, keeper, finding, shot
):
    Case.objects.create(
        orchard=orchard,
        tree=tree,
        sign=finding.sign,
        finding=finding,
        opened_at=NOW,
        opened_by=leader.user,
        closed_at=NOW,
        closed_by=leader.user,
        outcome="Not found",
    )
    assert sureness(leader, shot) == "authority"
    assert sureness(keeper, shot) == "one"


def test_each_role_sees_what_it_may(
    orchard, tree, volunteer, keeper, leader, shot, tmp_path
):
    private = make_photo(orchard, tree, leader.user, tmp_path, private=True)
    loose = make_photo(orchard, None, volunteer.user, tmp_path)
    assert set(found(volunteer)) == {shot}
    assert set(found(keeper)) == {shot, loose}
    assert set(found(leader)) == {shot, loose, private}
    numbers = [loose.pk, private.pk, shot.pk]
    chosen = [shown.photo for shown in photos.chosen_photos(keeper, numbers)]
    assert chosen == [loose, shot]
    Photo.objects.filter(pk=shot.pk).update(
        withdrawn_at=NOW, withdrawn_by=leader.user, withdrawn_reason="Blurred"
    )
    assert set(found(leader)) == {loose, private}


def test_free_photos_of_a_tree_are_those_from_before_its_open_case(
    orchard, tree, keeper, leader, finding, shot, tmp_path
):
    rows = [shot, make_photo(orchard, tree, keeper.user, tmp_path)]
    for photo, days in zip(rows, (1, -1), strict=True):
        at = NOW - timedelta(days=days)
        Photo.objects.filter(pk=photo.pk).update(
            received_at=at, people="nobody", audience="public"
        )
    shot.findings.clear()
    shot.inspections.clear()
    assert found(keeper, use="public") == rows[::-1]
    Case.objects.create(
        orchard=orchard, tree=tree, sign=finding.sign, finding=finding,
        opened_at=NOW, opened_by=leader.user,
    )  # fmt: skip
    assert found(keeper, use="public") == found(leader, use="talks") == [shot]
    assert found(keeper) == rows[::-1]


@pytest.mark.parametrize(
    "words",
    [
        "sucker",
        "below graft",
        "shoots from below the graft",
        "a-1",
        "navel",
        "Washington oranges suckers",
        "sucker A-1",
        "silver",
    ],
)
def test_everyday_words_find_sign_tree_cultivar_and_caption(words, keeper, shot):
    Photo.objects.filter(pk=shot.pk).update(alt_text="A silver coin beside a shoot")
    assert found(keeper, words=words) == [shot]


@pytest.mark.parametrize("words", ["sucker B-7", "meyer", "hailstones", "sucker meyer"])
def test_words_that_fit_nothing_of_a_photo_find_none(words, keeper, orchard, shot):
    make_tree(orchard, "B-7", kind="Meyer")
    assert found(keeper, words=words) == []


def test_pages_go_on_by_key(orchard, tree, keeper, tmp_path):
    every = [make_photo(orchard, tree, keeper.user, tmp_path) for _ in range(30)]
    first = photos.library(keeper, PhotoFilters())
    second = photos.library(keeper, PhotoFilters(), after=first.next_key)
    shown = [row.photo for row in (*first.rows, *second.rows)]
    assert shown == every[::-1]
    assert (len(first.rows), second.next_key) == (24, "")


def test_a_page_costs_the_same_queries_whatever_it_holds(
    orchard, tree, keeper, shot, tmp_path, django_assert_num_queries
):
    with django_assert_num_queries(3):
        found(keeper)
    for _ in range(9):
        photo = make_photo(orchard, tree, keeper.user, tmp_path)
        photo.findings.add(make_finding(make_inspection(orchard, tree, keeper.user)))
    with django_assert_num_queries(3):
        assert len(found(keeper)) == 10


def test_many_are_described_at_once_or_none(
    orchard, tree, keeper, volunteer, shot, tmp_path
):
    other = make_photo(orchard, tree, keeper.user, tmp_path, credit="Eddy")
    rows = [shot, other]
    said = {"member": keeper, "now": NOW}
    assert photos.describe_many(rows, view="branch", audience="talks", **said) == 2
    for photo in rows:
        photo.refresh_from_db()
    assert [(row.view, row.audience) for row in rows] == [("branch", "talks")] * 2
    assert (shot.caption, other.credit) == ("Below the graft", "Eddy")
    with refused("nothing_said"):
        photos.describe_many(rows, **said)
    with refused("no_photos"):
        photos.describe_many([], view="branch", **said)
    with refused("may_not"):
        photos.describe_many(rows, view="branch", member=volunteer, now=NOW)
    Photo.objects.filter(pk=other.pk).update(
        withdrawn_at=NOW, withdrawn_by=keeper.user, withdrawn_reason="Blurred"
    )
    with refused("photo_is_withdrawn"):
        photos.describe_many(rows, view="close_up", **said)
    shot.refresh_from_db()
    assert shot.view == "branch"


def test_a_consent_to_many_is_withdrawn_from_all_at_once(
    orchard, tree, keeper, shot, tmp_path
):
    other = make_photo(orchard, tree, keeper.user, tmp_path)
    third = make_photo(orchard, tree, keeper.user, tmp_path)
    rows, said = [shot, other, third], {"member": keeper, "now": NOW}
    photos.describe_many(rows, audience="talks", **said)
    agreed = {"person": "Ann", "use": "talks", "given_on": TODAY, **said}
    assert photos.note_consent_to_many(rows, **agreed) == 3
    assert set(Photo.objects.free_to_show("talks")) == set(rows)
    taken_back = {"withdrawn_on": TODAY, "reason": "Asked to", **said}
    photos.withdraw_consent(shot.consents.get(), **taken_back)
    assert set(Photo.objects.free_to_show("talks")) == {other, third}
    photos.withdraw_consent(other.consents.get(), everywhere=True, **taken_back)
    assert not Photo.objects.free_to_show("talks").exists()


@pytest.mark.parametrize(
    "asked", [{"sign": "sucker"}, {"part": "trunk"}, {"words": "below the graft"}]
)
def test_sqlite_asks_the_links_of_each_photo_for_its_sign(keeper, asked):
    """A list of all findings, gone through for each photo, took it half a minute."""
    if connection.vendor != "sqlite":
        pytest.skip("PostgreSQL hashes the list.")
    found = photos_that_fit(keeper, PhotoFilters(**asked))
    plan = found.order_by("-received_at", "-id")[:25].explain()
    assert "records_photolink_photo_id" in plan
    assert "photolink_once_per_finding" not in plan
    # In the order of the index, as far as the page goes.
    assert "photo_current" in plan
    assert "TEMP B-TREE" not in plan
