"""The files of a set, read back by others than wrote them."""

from __future__ import annotations

import re
from datetime import timedelta
from io import BytesIO
from xml.etree import ElementTree
from zipfile import ZipFile

import pytest
from PIL import Image, IptcImagePlugin
from pptx import Presentation

from orchard.records.models import Slide
from orchard.services import permissions, talks
from orchard.services.talks import NewSlide, PlaceWords
from tests.conftest import NOW
from tests.services.photos.test_photos import camera_exif, file, image
from tests.services.talks.photos_to_show import photo_to_show

Kind = Slide.Kind
LATER = NOW + timedelta(minutes=5)
# Namespaces as their standards give them: IPTC, Adobe, Dublin Core (from memory).
DC = "{http://purl.org/dc/elements/1.1/}"
PHOTOSHOP = "{http://ns.adobe.com/photoshop/1.0/}"
IPTC = "{http://iptc.org/std/Iptc4xmpCore/1.0/xmlns/}"
RDF = "{http://www.w3.org/1999/02/22-rdf-syntax-ns#}"
# Office Open XML: drawings (ISO/IEC 29500-1).
DRAWING = "{http://schemas.openxmlformats.org/drawingml/2006/main}"
PART = "{http://schemas.openxmlformats.org/presentationml/2006/main}"


@pytest.fixture(autouse=True)
def own_store(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path / "photos"


@pytest.fixture
def member(eddy, orchard):
    return permissions.member_for(eddy, orchard.slug)


@pytest.fixture
def talk(orchard, eddy, vera, member):
    photos = [photo_to_show(orchard, vera, size=(900, 600)) for _ in range(7)]
    made = talks.start(
        orchard,
        title="Citrus & friends <2026>",
        slides=[
            NewSlide(Kind.TEXT, title="Look first", text="Then touch.\nThen smell."),
            NewSlide(Kind.PICTURE, title="A leaf", photos=(photos[0],)),
            NewSlide(Kind.BEFORE_AFTER, photos=tuple(photos[1:3])),
            NewSlide(Kind.SERIES, title="Four", photos=tuple(photos[3:7])),
        ],
        by=eddy,
        now=NOW,
    )
    leaf = made.slides.get(position=3)
    talks.edit(
        leaf,
        title="A leaf",
        text="",
        note="Ask what they see.",
        words={
            leaf.places.get().pk: PlaceWords(
                'Trail & "mine" <b>', "A leaf with a silver trail"
            )
        },
        by=eddy,
        now=LATER,
    )
    made.refresh_from_db()
    return talks.read(made, member)


def texts(slide):
    return {
        shape.placeholder_format.idx: shape.text_frame.text
        for shape in slide.placeholders
    }


def pictures_on(slide):
    return [shape for shape in slide.shapes if shape.shape_type == 13]


def test_the_deck_reads_back_as_it_was_arranged(talk):
    deck = Presentation(talks.deck_of(talk))
    assert deck.slide_width * 9 == pytest.approx(deck.slide_height * 16, rel=1e-3)
    slides = list(deck.slides)
    assert len(slides) == 6
    assert texts(slides[0]) == {0: "Citrus & friends <2026>", 1: "Alderbrook"}
    assert texts(slides[1]) == {0: "Look first", 1: "Then touch.\nThen smell."}
    assert texts(slides[2]) == {
        0: "A leaf",
        10: 'Trail & "mine" <b>',
        20: "Photo: Vera of the orchard",
    }
    assert slides[2].notes_slide.notes_text_frame.text == "Ask what they see."
    [picture] = pictures_on(slides[2])
    marks = picture._element.find(f"./{PART}nvPicPr/{PART}cNvPr")
    assert marks.get("descr") == "A leaf with a silver trail"
    before_after = texts(slides[3])
    assert before_after[10].startswith("Before: Photo number")
    assert before_after[11].startswith("After: Photo number")
    assert [len(pictures_on(slide)) for slide in slides] == [0, 0, 1, 2, 4, 0]
    assert texts(slides[5]) == {0: "Photos", 1: "Vera of the orchard"}


def test_every_text_stands_in_a_placeholder_and_every_picture_on_the_slide(talk):
    deck = Presentation(talks.deck_of(talk))
    for slide in deck.slides:
        layout = {
            field.placeholder_format.idx for field in slide.slide_layout.placeholders
        }
        for shape in slide.shapes:
            assert shape.left >= 0
            assert shape.top >= 0
            assert shape.left + shape.width <= deck.slide_width
            assert shape.top + shape.height <= deck.slide_height
            if shape.shape_type != 13:
                assert shape.placeholder_format.idx in layout


def test_no_picture_is_stretched_or_covered_by_another_shape(talk):
    for slide in Presentation(talks.deck_of(talk)).slides:
        shapes = list(slide.shapes)
        for picture in pictures_on(slide):
            assert picture.width / picture.height == pytest.approx(1.5, rel=1e-2)
            for other in shapes:
                if other.shape_id == picture.shape_id:
                    continue
                apart = (
                    other.left >= picture.left + picture.width
                    or other.left + other.width <= picture.left
                    or other.top >= picture.top + picture.height
                    or other.top + other.height <= picture.top
                )
                assert apart, (other.name, picture.name)


def test_the_deck_tells_nothing_of_the_machine_it_was_made_on(talk):
    written = talks.deck_of(talk)
    properties = Presentation(written).core_properties
    assert properties.author == properties.last_modified_by == "Alderbrook"
    assert properties.created == properties.modified == LATER.replace(tzinfo=None)
    written.seek(0)
    with ZipFile(written) as pack:
        names = pack.namelist()
        assert {info.date_time for info in pack.infolist()} == {LATER.timetuple()[:6]}
        assert not [name for name in names if "printer" in name.lower()]
        assert not [name for name in names if "thumbnail" in name.lower()]
        assert "docProps/app.xml" not in names
        for name in names:
            if name.endswith((".xml", ".rels")):
                ElementTree.fromstring(pack.read(name))  # noqa: S314
        faces = {
            element.get("typeface")
            for name in names
            if name.endswith(".xml")
            for element in ElementTree.fromstring(pack.read(name)).iter(  # noqa: S314
                f"{DRAWING}latin"
            )
        }
    assert faces <= {"Arial", "+mn-lt", "+mj-lt"}


def test_the_same_set_gives_the_same_file(talk):
    assert talks.deck_of(talk).read() == talks.deck_of(talk).read()
    assert talks.pictures_of(talk).read() == talks.pictures_of(talk).read()


def in_any_language(description, name):
    return description.find(f"{name}/{RDF}Alt/{RDF}li").text


def test_each_photo_carries_its_words_inside_and_beside(talk):
    with ZipFile(talks.pictures_of(talk)) as pack:
        names = pack.namelist()
        # The rows of a database are not always numbered from one.
        first, *pair = (re.sub(r"\d+\.jpg$", "N.jpg", name) for name in names[:3])
        assert first == "03-trail-mine-b.jpg"
        assert pair == ["04a-photo-number-N.jpg", "04b-photo-number-N.jpg"]
        assert len(names) == 8
        said = pack.read("captions.txt").decode()
        first = pack.read(names[0])
    assert '03-trail-mine-b.jpg\r\nTrail & "mine" <b>\r\nPhoto: Vera' in said
    with Image.open(BytesIO(first)) as picture:
        assert picture.size == (900, 600)
        assert picture.getexif() == {}
        packet = picture.info["xmp"]
    root = ElementTree.fromstring(packet)  # noqa: S314
    description = root.find(f".//{RDF}Description")
    assert in_any_language(description, f"{DC}title") == "A leaf"
    assert in_any_language(description, f"{DC}description") == 'Trail & "mine" <b>'
    assert description.find(f"{PHOTOSHOP}Credit").text == "Vera of the orchard"
    assert (
        in_any_language(description, f"{IPTC}AltTextAccessibility")
        == "A leaf with a silver trail"
    )
    # Nothing but what was written there, least of all a place.
    assert len(list(description)) == 4


def datasets(file: bytes) -> dict[tuple[int, int], bytes]:
    """Return the IPTC-IIM datasets of a picture, as Pillow reads them."""
    with Image.open(BytesIO(file)) as picture:
        return IptcImagePlugin.getiptcinfo(picture)


def test_older_readers_find_title_caption_and_credit_in_the_iptc_block(talk):
    with ZipFile(talks.pictures_of(talk)) as pack:
        found = datasets(pack.read(pack.namelist()[0]))
    # IPTC-IIM 4: character set, headline, credit, caption; 2:00 is the model's version.
    assert found == {
        (1, 90): b"\x1b%G",
        (2, 0): b"\x00\x04",
        (2, 105): b"A leaf",
        (2, 110): b"Vera of the orchard",
        (2, 120): b'Trail & "mine" <b>',
    }


@pytest.mark.parametrize("letters", [299, 300])
def test_words_too_long_for_the_iptc_block_are_neither_lost_nor_cut_in_a_letter(
    orchard, eddy, vera, member, letters
):
    credit, caption = "Vera of the orchard, for Alderbrook", "Ä" * letters
    photo = photo_to_show(orchard, vera, caption=caption, credit=credit)
    made = talks.start(orchard, title="T", photos=[photo], by=eddy, now=NOW)
    with ZipFile(talks.pictures_of(talks.read(made, member))) as pack:
        found = datasets(pack.read(pack.namelist()[0]))
    # A credit has at most 32 bytes, a headline 256.
    assert (2, 110) not in found
    assert found[2, 120].decode() == f"{caption}\nPhoto: {credit}"
    assert found[2, 105].decode() == "Ä" * 128


def test_a_camera_s_place_reaches_no_file(orchard, eddy, vera, member):
    content = file(made=image(400, 300), exif=camera_exif())
    assert b"INVENTED-CAMERA" in content.getvalue()
    photo = photo_to_show(orchard, vera, content=content)
    made = talks.start(orchard, title="T", photos=[photo], by=eddy, now=NOW)
    talk = talks.read(made, member)
    for pack in (talks.deck_of(talk), talks.pictures_of(talk)):
        with ZipFile(pack) as parts:
            pictures = [name for name in parts.namelist() if name.endswith(".jpg")]
            assert pictures
            for name in pictures:
                inside = parts.read(name)
                assert b"INVENTED-CAMERA" not in inside
                assert b"exif:GPS" not in inside
                with Image.open(BytesIO(inside)) as picture:
                    assert picture.getexif() == {}


def test_a_photo_that_left_is_in_no_file(talk, eddy, member):
    gone = talk.photos[0]
    gone.audience = "inside"
    gone.save()
    talks.clear_empty(talk.talk_set, by=eddy, now=LATER)
    after = talks.read(talk.talk_set, member)
    with ZipFile(talks.pictures_of(after)) as pack:
        assert len(pack.namelist()) == 7
        assert b"mine" not in pack.read("captions.txt")
    slides = Presentation(talks.deck_of(after)).slides
    assert sum(len(pictures_on(slide)) for slide in slides) == 6
    assert not any("mine" in str(texts(slide)) for slide in slides)
