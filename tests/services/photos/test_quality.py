"""Blurred, dark and bright photos and near doubles are pointed out, and stay."""

from __future__ import annotations

from io import BytesIO, StringIO

import pytest
from django.core.files.storage import default_storage
from django.core.management import call_command
from PIL import Image, ImageEnhance, ImageFilter

from orchard.records.models import Photo
from orchard.services import permissions, photos
from tests.conftest import make_tree
from tests.science.test_pictures import noise
from tests.services.photos.test_photos import file


@pytest.fixture(autouse=True)
def own_store(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path / "photos"


def scene(seed=7) -> Image.Image:
    return Image.fromarray(noise(1200, 900, seed)).convert("RGB")


def blurred(made):
    return made.filter(ImageFilter.GaussianBlur(8))


def shade(share):
    return lambda made: ImageEnhance.Brightness(made).enhance(share)


def pale(made):
    return Image.blend(made, Image.new("RGB", made.size, "white"), 0.9)


@pytest.fixture
def keep(orchard, vera, now):
    def kept(made, **options):
        links = {key: options.pop(key) for key in ("tree", "private") if key in options}
        return photos.store(
            file(made=made, **options), orchard=orchard, by=vera, now=now, **links
        )

    return kept


@pytest.mark.parametrize(
    ("change", "flaw"),
    [
        (lambda made: made, None),
        (blurred, "blurred"),
        (shade(0.25), "dark"),
        (pale, "bright"),
    ],
)
def test_what_is_hard_to_see_is_pointed_out(change, flaw, keep):
    """Poor light weakens edges: a dark or pale picture is not called blurred too."""
    assert photos.flaw_of(keep(change(scene()))) == flaw


def test_a_photo_that_was_never_measured_has_no_flaw(keep):
    kept = keep(blurred(scene()))
    kept.sharpness = kept.brightness = None
    assert photos.flaw_of(kept) is None


def test_a_picture_of_a_few_pixels_is_kept_and_not_called_blurred(keep):
    kept = keep(Image.new("RGB", (2, 2), (90, 90, 90)))
    assert kept.sharpness is None
    assert photos.flaw_of(kept) is None


def test_a_copy_made_smaller_is_nearly_the_same_and_another_scene_is_not(
    keep, orchard, tree, lee
):
    member = permissions.member_for(lee, orchard.slug)
    first = keep(scene(), tree=tree)
    copy = keep(scene().resize((700, 525)), tree=tree, quality=55)
    other = keep(scene(8), tree=tree)
    assert first.sha256 != copy.sha256
    assert photos.alike(first, member) == [copy]
    assert photos.alike(copy, member) == [first]
    assert photos.alike(other, member) == []
    assert Photo.objects.current().count() == 3


def test_they_are_looked_for_on_the_tree_and_among_those_of_the_day(
    keep, orchard, tree, lee, now
):
    member = permissions.member_for(lee, orchard.slug)
    first = keep(scene(), tree=tree)
    copy = keep(scene().resize((700, 525)), tree=make_tree(orchard, "A-2"))
    assert photos.alike(first, member) == [copy]
    Photo.objects.filter(pk=copy.pk).update(received_at=now.replace(year=2020))
    assert photos.alike(first, member) == []
    copy.trees.set([tree])
    assert photos.alike(first, member) == [copy]


def test_a_page_of_photos_names_the_nearest_of_each_in_two_queries(
    keep, orchard, tree, lee, olga, now, django_assert_num_queries
):
    member = permissions.member_for(lee, orchard.slug)
    first = keep(scene(), tree=tree)
    copy = keep(scene().resize((700, 525)), tree=tree, quality=55)
    other = keep(scene(8), tree=tree)
    late = keep(scene().resize((500, 375)), tree=tree)
    hidden = keep(scene(8).resize((600, 450)), tree=tree, private=True)
    long_ago = now.replace(year=2020)
    Photo.objects.filter(pk=late.pk).update(received_at=long_ago)
    late.refresh_from_db()
    with django_assert_num_queries(2):
        found = photos.doubles_of([first, other, copy, late], member)
    assert found == {first.pk: copy, copy.pk: first, other.pk: hidden}
    office = permissions.member_for(olga, orchard.slug)
    assert photos.doubles_of([other], office) == {}
    with django_assert_num_queries(0):
        assert photos.doubles_of([], member) == {}


def test_a_private_double_is_shown_to_none_who_may_not_see_it(
    keep, orchard, tree, lee, olga
):
    first = keep(scene(), tree=tree)
    hidden = keep(scene().resize((700, 525)), tree=tree, private=True)
    leader = permissions.member_for(lee, orchard.slug)
    office = permissions.member_for(olga, orchard.slug)
    assert photos.alike(first, leader) == [hidden]
    assert photos.alike(first, office) == []
    photos.withdraw(hidden, member=leader, now=first.received_at, reason="Twice")
    assert photos.alike(first, leader) == []


def not_measured_yet(*kept):
    numbers = [row.pk for row in kept]
    Photo.objects.filter(pk__in=numbers).update(
        sharpness=None, brightness=None, likeness=None
    )


def damage(photo, content=b"no picture"):
    path = photos.path_of(photo.name, "small")
    default_storage.delete(path)
    if content:
        default_storage.save(path, BytesIO(content))


def test_old_photos_are_measured_some_at_a_time_and_a_broken_one_stops_none(
    keep, caplog
):
    kept = [keep(scene(seed)) for seed in range(3)]
    known = {row.pk: (row.sharpness, row.likeness) for row in kept}
    not_measured_yet(*kept)
    damage(kept[2])
    assert photos.measure_old(most=2) == 1
    said = StringIO()
    call_command("nightly", stdout=said)
    assert "Photos measured: 1" in said.getvalue()
    assert kept[2].name.hex in caplog.text.replace("-", "")
    for row in Photo.objects.exclude(likeness=None):
        assert (row.sharpness, row.likeness) == known[row.pk]
    assert Photo.objects.filter(likeness=None).get() == kept[2]


def test_a_damaged_file_is_tried_once_and_the_photo_says_so(
    keep, caplog, orchard, tree, lee
):
    older, broken = keep(scene(), tree=tree), keep(scene(8), tree=tree)
    not_measured_yet(older, broken)
    whole = default_storage.open(photos.path_of(broken.name, "small")).read()
    damage(broken, whole[: len(whole) // 2])
    assert photos.measure_old(most=1) == 0
    caplog.clear()
    # One that can't be read does not keep the next from its turn.
    assert photos.measure_old(most=1) == 1
    assert photos.measure_old(most=1) == 0
    assert caplog.text == ""
    broken.refresh_from_db()
    assert photos.flaw_of(broken) == "unreadable"
    older.refresh_from_db()
    assert photos.alike(older, permissions.member_for(lee, orchard.slug)) == []


def test_a_file_that_is_missing_is_looked_for_again(keep, caplog):
    lost = keep(scene())
    not_measured_yet(lost)
    path = photos.path_of(lost.name, "small")
    whole = default_storage.open(path).read()
    damage(lost, b"")
    assert photos.measure_old(most=1) == 0
    assert "cannot be had" in caplog.text
    lost.refresh_from_db()
    assert photos.flaw_of(lost) is None
    default_storage.save(path, BytesIO(whole))
    assert photos.measure_old(most=1) == 1
