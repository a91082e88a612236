"""Photos without a record wait, with suggestions, until somebody says their tree."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import pytest
from django.core.files.storage import default_storage

from orchard.records.models import Change, Membership, Photo
from orchard.services import inbox, inspections, photos, rounds
from orchard.services.errors import MayNot, Refused
from orchard.services.inspections import Arrival, SeenSign
from orchard.services.paging import Page
from orchard.services.photos import keeping, unassigned
from tests.conftest import NOW, TODAY, make_orchard, make_tree
from tests.refusals import refused
from tests.services.inbox.test_inbox import an_entry, send
from tests.services.photos.test_photos import file as a_photo
from tests.services.photos.test_photos import image


@pytest.fixture(autouse=True)
def own_store(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path / "photos"


def member_of(user) -> Membership:
    return Membership.objects.select_related("orchard", "user").get(user=user)


def stray(by, *, minutes=0, taken=True, row=None, **fields) -> Photo:
    at = NOW + timedelta(minutes=minutes)
    photo = Photo.objects.create(
        orchard=member_of(by).orchard,
        by=by,
        sha256=f"{Photo.objects.count():064d}",
        file_format="JPEG",
        width=640,
        height=480,
        size_bytes=1,
        taken_at=at if taken else None,
        received_at=NOW + timedelta(hours=6),
        **fields,
    )
    if row is not None:
        photo.rounds.add(row)
    return photo


def look(tree, by, minutes=0, *, row=None, **said):
    at = NOW + timedelta(minutes=minutes)
    logged = inspections.record(
        tree,
        by=by,
        now=NOW + timedelta(hours=6),
        seen_at=at,
        arrival=Arrival(round=row),
        **(said or {"all_well": True}),
    )
    return logged.inspection


def told(photo, user):
    return [
        (one.inspection.tree.code, one.minutes)
        for one in unassigned.suggested(photo, member_of(user))
    ]


def assign(photo, user, **where):
    return unassigned.assign(photo, member=member_of(user), now=NOW, **where)


@pytest.fixture
def trees(orchard):
    return [make_tree(orchard, f"A-{number}") for number in range(1, 7)]


# Suggestions


def test_looks_within_half_an_hour_are_suggested_the_nearest_first(trees, vera):
    for tree, minutes in zip(trees, (-31, -30, 5, 12, -1, 31), strict=True):
        look(tree, vera, minutes)
    assert told(stray(vera), vera) == [
        ("A-5", 1), ("A-3", 5), ("A-4", 12), ("A-2", 30),
    ]  # fmt: skip


def test_anothers_looks_and_withdrawn_ones_are_not_suggested(trees, vera, lee):
    look(trees[0], lee, 1)
    gone = look(trees[1], vera, 1)
    inspections.withdraw(gone, by=vera, now=NOW + timedelta(hours=7), reason="Not mine")
    photo = stray(vera)
    assert told(photo, vera) == []
    assert told(photo, lee) == []


def test_looks_of_the_same_round_come_after_those_near_in_time(trees, vera, lee):
    row = rounds.make_round(
        trees[0].orchard, by=lee, now=NOW, today=TODAY, name="Morning",
        walk_on=TODAY, trees=trees, to=vera,
    )  # fmt: skip
    look(trees[0], vera, 60, row=row)
    look(trees[1], vera, 90, row=row)
    look(trees[2], vera, 3)
    assert told(stray(vera, row=row), vera) == [
        ("A-3", 3), ("A-2", None), ("A-1", None),
    ]  # fmt: skip
    assert told(stray(vera, taken=False, row=row), vera) == [
        ("A-2", None), ("A-1", None),
    ]  # fmt: skip


def test_a_photo_without_time_or_round_has_no_suggestion(trees, vera):
    look(trees[0], vera)
    assert told(stray(vera, taken=False), vera) == []


# The tray


def test_one_sees_ones_own_and_who_keeps_the_photos_sees_all(
    trees, vera, lee, eddy, otto
):
    mine, others = stray(vera), stray(lee)
    stray(vera).trees.add(trees[0])
    stray(lee, private=True)

    def seen(user):
        page, count = unassigned.unassigned_photos(member_of(user))
        assert count == len(page.rows)
        return [one.photo for one in page.rows]

    assert seen(vera) == [mine]
    assert seen(eddy) == [mine, others]
    assert len(seen(lee)) == 3
    assert seen(otto) == []


def test_the_oldest_stand_first_and_none_is_left_out_of_the_count(vera, monkeypatch):
    monkeypatch.setattr(unassigned, "PAGE", 2)
    made = [stray(vera) for _n in range(3)]
    page, count = unassigned.unassigned_photos(member_of(vera))
    assert [one.photo for one in page.rows] == made[:2]
    assert count == 3
    rest, count = unassigned.unassigned_photos(member_of(vera), after=page.next_key)
    assert [one.photo for one in rest.rows] == made[2:]
    assert (rest.next_key, count) == ("", 3)


def test_the_number_of_queries_is_fixed(trees, vera, django_assert_num_queries):
    member = member_of(vera)
    stray(vera)
    look(trees[0], vera)
    with django_assert_num_queries(4):
        unassigned.unassigned_photos(member)
    for minutes in range(20):
        stray(vera, minutes=minutes)
        look(trees[minutes % 6], vera, minutes)
    with django_assert_num_queries(4):
        unassigned.unassigned_photos(member)


# Given their tree


def test_a_photo_is_given_to_a_look_and_to_its_tree(trees, vera):
    seen = look(trees[0], vera)
    photo = assign(stray(vera), vera, inspection=seen)
    assert (photo.trees.get(), photo.inspections.get()) == (trees[0], seen)
    line = Change.objects.get(verb="link")
    assert (line.tree, line.by) == (trees[0], vera)
    assert unassigned.unassigned_photos(member_of(vera)) == (Page((), ""), 0)


def test_a_photo_may_belong_to_a_tree_alone(trees, vera, lee):
    photo = assign(stray(vera), lee, tree=trees[1])
    assert (photo.trees.get(), *photo.inspections.all()) == (trees[1],)


def test_a_photo_of_a_private_record_becomes_private(trees, vera):
    seen = look(trees[0], vera, findings=[SeenSign("psyllid_nymph", {"count": 2})])
    photo = assign(stray(vera, confirmed_sign="aphids"), vera, inspection=seen)
    assert photo.private
    assert photo.confirmed_sign == ""


def test_the_second_of_two_is_told_and_changes_nothing(trees, vera, lee):
    photo = stray(vera)
    assign(photo, vera, tree=trees[0])
    with refused("already_assigned"):
        assign(photo, lee, tree=trees[1])
    assert Photo.objects.get().tree == trees[0]


def test_a_photo_goes_nowhere_it_cannot_belong(trees, vera, lee):
    photo = stray(lee)
    far = make_tree(make_orchard("far"), "Z-1")
    gone = look(trees[0], vera)
    inspections.withdraw(gone, by=vera, now=NOW + timedelta(hours=7), reason="Not mine")
    gone.refresh_from_db()
    with pytest.raises(MayNot):
        assign(photo, vera, tree=trees[0])
    for where, refusal in [
        ({}, Refused),
        ({"tree": far}, Refused),
        ({"inspection": gone}, Refused),
    ]:
        with pytest.raises(refusal):
            assign(photo, lee, **where)
    assert Photo.objects.get().tree is None


def test_a_withdrawn_photo_leaves_the_tray(vera):
    photo = stray(vera)
    photos.withdraw(photo, member=member_of(vera), now=NOW, reason="Blurred")
    assert unassigned.unassigned_photos(member_of(vera)) == (Page((), ""), 0)
    with refused("already_assigned"):
        assign(photo, vera)


# Brought


def test_photos_are_brought_together_and_each_is_kept_once(orchard, vera, lee):
    row = rounds.make_round(
        orchard, by=lee, now=NOW, today=TODAY, name="x", walk_on=TODAY,
        trees=[make_tree(orchard)],
    )  # fmt: skip
    files = [a_photo(), a_photo(made=image(300, 200)), a_photo()]
    said = {"orchard": orchard, "by": vera, "now": NOW}
    assert unassigned.bring(files, **said, round=row) == (2, 1)
    assert {photo.rounds.get() for photo in Photo.objects.all()} == {row}
    assert unassigned.bring([a_photo()], **said) == (0, 1)
    assert Photo.objects.count() == 2
    root = Path(default_storage.location)
    assert len(list(root.rglob(keeping.ORIGINAL))) == 2


def test_one_file_that_is_no_photo_keeps_all_from_coming_in(orchard, vera, tmp_path):
    text = a_photo()
    text.seek(0)
    text.truncate(20)
    said = {"orchard": orchard, "by": vera, "now": NOW}
    with refused("bad_picture"):
        unassigned.bring([a_photo(), text], **said)
    with refused("no_photos"):
        unassigned.bring([], **said)
    with refused("too_many_photos"):
        unassigned.bring([a_photo()] * 21, **said)
    assert not Photo.objects.exists()


def test_a_photo_from_a_phone_finds_the_look_by_the_phones_own_time(tree, vera, now):
    hour = timedelta(hours=1)
    look_then = an_entry(vera, now, made_at=now - hour, sent_at=now)
    send(look_then, vera, now)
    # The phone that took the photo is an hour slow; the server mends it.
    photo = an_entry(
        vera, now, kind=inbox.EntryKind.PHOTO, form=(), tree="", file=a_photo(),
        sent_at=now - hour, taken_at=now - 2 * hour + timedelta(minutes=4),
    )  # fmt: skip
    assert send(photo, vera, now).answer is inbox.Answer.KEPT
    kept = Photo.objects.get()
    assert kept.taken_at == now - hour + timedelta(minutes=4)
    assert told(kept, vera) == [("A-1", 4)]
