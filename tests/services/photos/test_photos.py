"""Photos: what is taken in, what is refused, what a served file must not carry."""

from __future__ import annotations

import os
import shutil
from datetime import UTC, datetime, timedelta
from io import BytesIO

import pillow_heif
import pytest
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.db import connection
from django.test.utils import CaptureQueriesContext
from PIL import Image

from orchard import settings as orchard_settings
from orchard.records.models import Change, Photo
from orchard.services import audit, inspections, permissions, photos
from orchard.services.errors import NotThere
from orchard.services.photos import images
from orchard.services.photos.storage import PhotoStore
from tests.conftest import make_tree
from tests.refusals import refused

# Tag numbers of the Exif standard, CIPA DC-008 (from memory).
GPS, EXIF, ORIENTATION, MAKE = 0x8825, 0x8769, 0x0112, 0x010F
TAKEN_AT, TAKEN_OFFSET = 0x9003, 0x9011


@pytest.fixture(autouse=True)
def own_store(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path / "photos"


def camera_exif(orientation=1, offset="+02:00"):
    exif = Image.Exif()
    exif[ORIENTATION] = orientation
    exif[MAKE] = "INVENTED-CAMERA"
    exif.get_ifd(GPS).update(
        {1: "N", 2: (38.0, 30.0, 0.0), 3: "W", 4: (8.0, 30.0, 0.0)}
    )
    exif.get_ifd(EXIF)[TAKEN_AT] = "2026:05:11 17:20:05"
    if offset:
        exif.get_ifd(EXIF)[TAKEN_OFFSET] = offset
    return exif


def image(width=900, height=600):
    """Left half red, right half blue, so that a turn shows."""
    made = Image.new("RGB", (width, height), (200, 20, 20))
    made.paste((20, 20, 200), (width // 2, 0, width, height))
    return made


def file(form="JPEG", *, made=None, **options):
    out = BytesIO()
    (made or image()).save(out, form, **options)
    out.seek(0)
    return out


def heic(orientation=1):
    out = BytesIO()
    held = pillow_heif.from_pillow(image())
    held.save(out, quality=80, exif=camera_exif(orientation).tobytes())
    out.seek(0)
    return out


def stored(photo, size):
    with default_storage.open(photos.path_of(photo.name, size)) as kept:
        return kept.read()


def keep(content, orchard, by, now, **links):
    return photos.store(content, orchard=orchard, by=by, now=now, **links)


@pytest.mark.parametrize("form", ["JPEG", "PNG", "WEBP"])
def test_three_sizes_are_made_and_the_original_is_kept(form, orchard, tree, vera, now):
    content = file(form, made=image(3000, 1500))
    photo = keep(content, orchard, vera, now, tree=tree)
    assert (photo.width, photo.height, photo.file_format) == (3000, 1500, form)
    for size, side in {"large": 2048, "middle": 1024, "small": 320}.items():
        shown = Image.open(BytesIO(stored(photo, size)))
        assert shown.format == "JPEG"
        assert shown.size == (side, side // 2)
        assert shown.info["progressive"]
    assert stored(photo, "original") == content.getvalue()
    assert Change.objects.filter(verb="keep", subject_id=photo.pk).count() == 1


def test_nobody_is_asked_whether_a_random_name_is_new(orchard, vera, now):
    with CaptureQueriesContext(connection) as queries:
        keep(file(made=image(200, 100)), orchard, vera, now)
    asked = [row["sql"].partition(" WHERE ")[2] for row in queries]
    assert any('"sha256" = ' in where for where in asked)
    assert not any('"name" = ' in where for where in asked)


def test_a_small_photo_is_not_blown_up(orchard, vera, now):
    photo = keep(file(made=image(200, 100)), orchard, vera, now)
    assert Image.open(BytesIO(stored(photo, "large"))).size == (200, 100)


@pytest.mark.parametrize("orientation", range(1, 9))
def test_a_turned_jpeg_is_shown_as_the_camera_meant_it(orientation, orchard, vera, now):
    # Exif orientation, CIPA DC-008: value 6 means "row 0 is the right-hand side", 3
    # the bottom and so on; PIL's own transpose of the raw raster is the reference.
    turns = {
        2: Image.Transpose.FLIP_LEFT_RIGHT,
        3: Image.Transpose.ROTATE_180,
        4: Image.Transpose.FLIP_TOP_BOTTOM,
        5: Image.Transpose.TRANSPOSE,
        6: Image.Transpose.ROTATE_270,
        7: Image.Transpose.TRANSVERSE,
        8: Image.Transpose.ROTATE_90,
    }
    raw = image()
    expected = raw.transpose(turns[orientation]) if orientation > 1 else raw
    content = file(exif=camera_exif(orientation), quality=95)
    photo = keep(content, orchard, vera, now)
    shown = Image.open(BytesIO(stored(photo, "large"))).convert("RGB")
    assert shown.size == expected.size == (photo.width, photo.height)
    for place in ((0.2, 0.2), (0.8, 0.2), (0.2, 0.8), (0.8, 0.8)):
        at = (int(place[0] * shown.width), int(place[1] * shown.height))
        is_red = shown.getpixel(at)[0] > 100
        assert is_red == (expected.getpixel(at)[0] > 100)


def test_a_heic_is_turned_once_and_not_twice(orchard, vera, now):
    photo = keep(heic(orientation=6), orchard, vera, now)
    assert photo.file_format == "HEIC"
    assert (photo.width, photo.height) == (600, 900)
    shown = Image.open(BytesIO(stored(photo, "large"))).convert("RGB")
    assert shown.size == (600, 900)
    # Turned clockwise by a quarter the red left half comes to lie on top.
    assert shown.getpixel((300, 200))[0] > 100
    assert shown.getpixel((300, 700))[2] > 100


@pytest.mark.parametrize("make", ["jpeg", "heic", "png", "webp"])
def test_no_served_file_carries_place_or_camera(make, orchard, vera, now):
    exif = camera_exif()
    content = {
        "jpeg": lambda: file(exif=exif, comment=b"38.5 N 8.5 W SECRET"),
        "heic": heic,
        "png": lambda: file("PNG", exif=exif),
        "webp": lambda: file("WEBP", exif=exif),
    }[make]()
    raw = content.getvalue()
    assert b"INVENTED-CAMERA" in raw, "the test must start from a file that tells"
    assert GPS in Image.open(BytesIO(raw)).getexif()
    photo = keep(content, orchard, vera, now)
    for size in photos.SIZES:
        served = stored(photo, size)
        for mark in (b"Exif", b"INVENTED", b"SECRET", b"GPS", b"http", b"ICC_PROF"):
            assert mark not in served
        assert not Image.open(BytesIO(served)).getexif()


def test_capture_time_is_read_before_the_data_goes(orchard, vera, now):
    photo = keep(file(exif=camera_exif()), orchard, vera, now)
    assert photo.taken_at == datetime(2026, 5, 11, 15, 20, 5, tzinfo=UTC)


def test_a_camera_without_zone_is_on_the_orchards_time(orchard, vera, now):
    # Lisbon keeps UTC+1 in May (IANA time zone database).
    photo = keep(file(exif=camera_exif(offset="")), orchard, vera, now)
    assert photo.taken_at == datetime(2026, 5, 11, 16, 20, 5, tzinfo=UTC)


def test_a_camera_whose_clock_runs_ahead_by_years_is_not_believed(orchard, vera, now):
    exif = camera_exif()
    exif.get_ifd(EXIF)[TAKEN_AT] = "2036:01:01 00:00:00"
    assert keep(file(exif=exif), orchard, vera, now).taken_at is None


def test_the_same_content_twice_is_linked_and_not_copied(orchard, tree, vera, now):
    first = keep(file(), orchard, vera, now)
    second = keep(file(), orchard, vera, now, tree=tree)
    assert second.pk == first.pk
    assert second.tree == tree
    assert Photo.objects.count() == 1
    folders, _files = default_storage.listdir(first.name.hex[:2])
    assert folders == [first.name.hex]
    assert Change.objects.filter(verb="link").count() == 1


def test_a_photo_of_one_tree_does_not_move_to_another(orchard, tree, vera, now):
    other = make_tree(orchard, "A-2")
    first = keep(file(), orchard, vera, now, tree=tree)
    assert keep(file(), orchard, vera, now, tree=other).tree == first.tree == tree


def test_two_orchards_keep_a_photo_each(orchard, southbank, vera, otto, now):
    one = keep(file(), orchard, vera, now)
    assert keep(file(), southbank, otto, now).pk != one.pk


SVG = b'<svg xmlns="http://www.w3.org/2000/svg"><circle r="4"/></svg>'
PDF = b"%PDF-1.4\n1 0 obj\n<<>>\nendobj\ntrailer\n<<>>\n%%EOF"


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "empty file"),
        (SVG, "not a photo"),
        (PDF, "not a photo"),
        (file("GIF", made=image().convert("P")).getvalue(), "not a photo"),
        (file("TIFF").getvalue(), "not a photo"),
        (b"MZ" + bytes(400), "not a photo"),
        (file().getvalue()[:900], "damaged"),
        (file("PNG").getvalue()[:200], "damaged"),
        (file("WEBP").getvalue()[:120], "damaged"),
        (heic().getvalue()[:-200], "or it is damaged"),
    ],
)
def test_what_is_no_photo_is_refused_in_words(content, said, orchard, vera, now):
    with refused("bad_picture", match=said):
        keep(BytesIO(content), orchard, vera, now)
    assert not Photo.objects.exists()


def test_too_many_bytes_and_too_many_pixels_are_refused(
    orchard, vera, now, settings, monkeypatch
):
    settings.PHOTO_MAX_BYTES = 1000
    with refused("bad_picture", match="larger than"):
        keep(file(), orchard, vera, now)
    settings.PHOTO_MAX_BYTES = 25_000_000
    monkeypatch.setattr(images, "MOST_PIXELS", {"JPEG": 900 * 600 - 1})
    with refused("bad_picture", match="million pixels"):
        keep(file(), orchard, vera, now)
    monkeypatch.setattr(images, "MOST_PIXELS", {"JPEG": 900 * 600})
    assert keep(file(), orchard, vera, now).pk


@pytest.mark.parametrize(
    ("form", "options", "limit"),
    [
        ("JPEG", {}, 60_000_000),
        ("JPEG", {"progressive": True}, 16_000_000),
        ("PNG", {}, 8_500_000),
        ("WEBP", {"quality": 1}, 4_500_000),
    ],
)
def test_what_must_be_held_whole_to_be_read_may_have_fewer_pixels(
    form, options, limit, monkeypatch
):
    # Held against the setting in the same proportion: a thousandth of the pixels.
    small = {sort: most // 1000 for sort, most in images.MOST_PIXELS.items()}
    monkeypatch.setattr(images, "MOST_PIXELS", small)
    high = limit // 1000 // 100
    fits = file(form, made=Image.new("RGB", (100, high)), **options)
    assert photos.read_picture(fits).height == high
    above = file(form, made=Image.new("RGB", (100, high + 1)), **options)
    with refused("bad_picture", match="million pixels"):
        photos.read_picture(above)


def test_a_small_file_that_unpacks_to_a_giant_picture_is_refused(
    orchard, vera, now, monkeypatch
):
    no_limit = dict.fromkeys(images.MOST_PIXELS, 10**12)
    monkeypatch.setattr(images, "MOST_PIXELS", no_limit)
    bomb = file("PNG", made=Image.new("1", (14000, 14000)))
    assert len(bomb.getvalue()) < 100_000
    with refused("bad_picture", match="million pixels"):
        keep(bomb, orchard, vera, now)


def test_nothing_stays_in_the_store_when_the_book_refuses(
    orchard, vera, now, monkeypatch
):
    def fails(*args, **kwargs):
        raise RuntimeError("the database is gone")

    monkeypatch.setattr(audit, "write", fails)
    with pytest.raises(RuntimeError):
        keep(file(), orchard, vera, now)
    assert not Photo.objects.exists()
    left = [path for path in _walk("") if path]
    assert left == []


def test_nothing_stays_when_the_disk_fills_up_half_way(orchard, vera, now, monkeypatch):
    save = default_storage.save
    written = []

    def fills(path, content):
        if len(written) == 2:
            raise OSError("No space left on device")
        written.append(path)
        return save(path, content)

    monkeypatch.setattr(default_storage, "save", fills)
    with pytest.raises(OSError, match="No space"):
        keep(file(), orchard, vera, now)
    assert len(written) == 2
    assert list(_walk("")) == []


def _walk(folder):
    if not default_storage.exists(folder or "."):
        return
    folders, files = default_storage.listdir(folder)
    yield from (f"{folder}/{name}" for name in files)
    for name in folders:
        yield from _walk(f"{folder}/{name}" if folder else name)


def test_words_of_a_photo_are_its_authors_and_the_keepers(
    orchard, tree, vera, lee, olga, now
):
    photo = keep(file(), orchard, vera, now, tree=tree)
    said = {"caption": "Trail in the leaf", "people": "nobody", "now": now}
    author = permissions.member_for(vera, orchard.slug)
    assert photos.describe(photo, member=author, **said).caption == said["caption"]
    with refused("not_yours"):
        photos.describe(
            photo, member=permissions.member_for(olga, orchard.slug), **said
        )
    with refused("not_yours", match="crew lead"):
        photos.describe(photo, member=author, confirmed_sign="leafminer", **said)


def test_a_private_photo_is_nobodys_example(orchard, tree, vera, lee, now):
    photo = keep(file(), orchard, vera, now, tree=tree, private=True)
    lead = permissions.member_for(lee, orchard.slug)
    with refused("photo_is_private"):
        photos.describe(
            photo,
            member=lead,
            now=now,
            caption="",
            people="nobody",
            confirmed_sign="leafminer",
        )


def test_a_withdrawn_photo_stays_on_record_and_out_of_sight(
    orchard, tree, vera, lee, now
):
    photo = keep(file(), orchard, vera, now, tree=tree)
    author = permissions.member_for(vera, orchard.slug)
    with refused("reason_missing"):
        photos.withdraw(photo, member=author, now=now, reason="  ")
    photos.withdraw(photo, member=author, now=now, reason="A face in view")
    with pytest.raises(NotThere):
        permissions.photo_for(author, photo.name)
    lead = permissions.member_for(lee, orchard.slug)
    assert permissions.photo_for(lead, photo.name).withdrawn_reason == "A face in view"
    with refused("photo_is_withdrawn"):
        photos.withdraw(photo, member=lead, now=now, reason="again")
    # The same picture may come into the book again, as a new photo.
    assert keep(file(), orchard, vera, now, tree=tree).pk != photo.pk


def test_a_photo_is_on_the_disk_before_it_is_kept(tmp_path, monkeypatch):
    """A new file outlives a power cut when it and the folders that name it are synced
    (the manual page of fsync in POSIX and Linux, from memory)."""
    synced = []
    real = os.fsync
    monkeypatch.setattr(
        os, "fsync", lambda held: (synced.append(os.fstat(held).st_ino), real(held))
    )
    name = PhotoStore(location=tmp_path).save("ab/abcd/original", ContentFile(b"photo"))
    wanted = [tmp_path / "ab/abcd/original", tmp_path / "ab/abcd", tmp_path / "ab"]
    assert name == "ab/abcd/original"
    assert synced == [path.stat().st_ino for path in wanted]
    assert wanted[0].read_bytes() == b"photo"
    backend = orchard_settings.STORAGES["default"]["BACKEND"]
    assert backend == f"{PhotoStore.__module__}.{PhotoStore.__name__}"


def test_one_picture_belongs_to_all_that_it_shows(orchard, tree, vera, now):
    first, second = (
        inspections.record(
            tree,
            by=vera,
            now=now,
            seen_at=now,
            note="x",
            pictures=[photos.read_picture(file())],
        )
        for _look in range(2)
    )
    photo = Photo.objects.get()
    assert (first.photos_elsewhere, second.photos_elsewhere) == ((), ())
    assert set(photo.inspections.all()) == {first.inspection, second.inspection}
    assert photo.trees.get() == tree
    assert photo.links.count() == 3


def test_linking_twice_links_once(orchard, tree, vera, now):
    keep(file(), orchard, vera, now, tree=tree)
    photo = keep(file(), orchard, vera, now, tree=tree)
    assert photo.links.count() == 1
    assert Change.objects.filter(verb="link").count() == 0


def test_files_that_never_came_into_the_book_are_set_aside_when_old(
    orchard, vera, now, settings
):
    photo = keep(file(), orchard, vera, now)
    [(abandoned, _)] = photos.lay_down([photos.read_picture(file(made=image(90, 60)))])
    (settings.MEDIA_ROOT / "notes.txt").write_text("put here by somebody")
    hour = timedelta(hours=1)
    written_at = datetime.now(tz=UTC)
    assert photos.set_aside_abandoned(before=written_at - hour) == 0
    assert stored_sizes(abandoned) == {*photos.SIZES, "original"}
    assert photos.set_aside_abandoned(before=written_at + hour) == 1
    assert stored_sizes(abandoned) == set()
    folder = f"{abandoned.hex[:2]}/{abandoned.hex}"
    aside = settings.MEDIA_ROOT / "aside" / folder
    assert {path.stem for path in aside.iterdir()} == {*photos.SIZES, "original"}
    assert stored_sizes(photo.name) == {*photos.SIZES, "original"}
    assert (settings.MEDIA_ROOT / "notes.txt").exists()
    assert photos.set_aside_abandoned(before=written_at + hour) == 0


def test_what_was_brought_back_from_aside_can_be_set_aside_again(orchard, settings):
    [(name, _)] = photos.lay_down([photos.read_picture(file(made=image(90, 60)))])
    later = datetime.now(tz=UTC) + timedelta(hours=1)
    assert photos.set_aside_abandoned(before=later) == 1
    root = settings.MEDIA_ROOT
    # As the book for developers has it, and as a copy that leaves `aside` there.
    for leave in (True, False):
        shutil.copytree(root / "aside", root, dirs_exist_ok=True)
        if not leave:
            shutil.rmtree(root / "aside")
        assert stored_sizes(name) == {*photos.SIZES, "original"}
        assert photos.set_aside_abandoned(before=later) == 1
        assert stored_sizes(name) == set()
        aside = root / "aside" / name.hex[:2] / name.hex
        assert {path.stem for path in aside.iterdir()} == {*photos.SIZES, "original"}


def test_a_folder_that_cannot_be_moved_stops_no_other(orchard, settings, caplog):
    pictures = [photos.read_picture(file(made=image(w, 60))) for w in (90, 80, 70)]
    names = [name for name, _picture in photos.lay_down(pictures)]
    stuck = names[1]
    # A file where its folder has to lie.
    place = settings.MEDIA_ROOT / "aside" / stuck.hex[:2] / stuck.hex
    place.parent.mkdir(parents=True)
    place.write_text("in the way")
    later = datetime.now(tz=UTC) + timedelta(hours=1)
    assert photos.set_aside_abandoned(before=later) == 2
    assert [name for name in names if stored_sizes(name)] == [stuck]
    assert stuck.hex in caplog.text
    place.unlink()
    assert photos.set_aside_abandoned(before=later) == 1


def test_an_empty_book_beside_a_full_store_moves_nothing(db):
    [(name, _)] = photos.lay_down([photos.read_picture(file(made=image(90, 60)))])
    later = datetime.now(tz=UTC) + timedelta(hours=1)
    assert photos.set_aside_abandoned(before=later) == 0
    assert stored_sizes(name) == {*photos.SIZES, "original"}


def test_a_store_without_photos_has_nothing_to_set_aside(settings, tmp_path, db):
    settings.MEDIA_ROOT = tmp_path / "never made"
    assert photos.set_aside_abandoned(before=datetime.now(tz=UTC)) == 0


def stored_sizes(name) -> set[str]:
    return {
        size
        for size in (*photos.SIZES, "original")
        if default_storage.exists(photos.path_of(name, size))
    }
