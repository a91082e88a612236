"""Sets of slides: filled, ordered, edited, undone, and what leaves them by itself."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from orchard.records.models import (
    Case,
    Change,
    Photo,
    PhotoConsent,
    Slide,
    SlidePhoto,
    TalkSet,
)
from orchard.services import audit, permissions, talks
from orchard.services.talks import NewSlide, PlaceWords
from tests.conftest import NOW, TODAY
from tests.refusals import refused
from tests.services.talks.photos_to_show import photo_to_show
from tests.web.test_who_may import make_finding, make_inspection

Kind = Slide.Kind
LATER = NOW + timedelta(minutes=5)


@pytest.fixture(autouse=True)
def own_store(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path / "photos"


@pytest.fixture
def shown(orchard, tree, vera):
    return [photo_to_show(orchard, vera, links={"tree": tree}) for _ in range(5)]


@pytest.fixture
def talk_set(orchard, eddy, shown) -> TalkSet:
    return talks.start(orchard, title="Citrus", photos=shown[:3], by=eddy, now=NOW)


@pytest.fixture
def member(eddy, orchard):
    return permissions.member_for(eddy, orchard.slug)


def kinds(talk_set, member):
    return [slide.kind for slide in talks.read(talk_set, member).slides]


def numbers(talk_set, member):
    return [slide.number for slide in talks.read(talk_set, member).slides]


def slide_at(talk_set, position):
    return talk_set.slides.get(position=position, removed_at=None)


def test_a_set_starts_with_a_title_its_photos_and_the_credits(talk_set, member, shown):
    talk = talks.read(talk_set, member)
    assert [slide.kind for slide in talk.slides] == [
        Kind.TITLE, Kind.PICTURE, Kind.PICTURE, Kind.PICTURE, Kind.CREDITS
    ]  # fmt: skip
    assert [slide.position for slide in talk.slides] == [1, 2, 3, 4, 5]
    assert [photo.pk for photo in talk.photos] == [photo.pk for photo in shown[:3]]
    assert talk.credits == ("Vera of the orchard",)
    assert talk.unfinished == ()
    assert talks.last_step(talk_set) is None


@pytest.mark.parametrize(
    ("count", "kind", "found"),
    [
        (2, Kind.PAIR, [Kind.PAIR]),
        (2, Kind.BEFORE_AFTER, [Kind.BEFORE_AFTER]),
        (5, Kind.SERIES, [Kind.SERIES]),
        (2, Kind.SERIES, [Kind.PAIR]),
    ],
)
def test_photos_are_laid_out_as_asked(orchard, eddy, member, shown, count, kind, found):
    made = talks.start(
        orchard, title="T", photos=shown[:count], kind=kind, by=eddy, now=NOW
    )
    assert kinds(made, member) == [Kind.TITLE, *found, Kind.CREDITS]


def test_more_than_six_photos_of_a_series_go_on_to_the_next_slide(
    orchard, eddy, vera, member
):
    many = [photo_to_show(orchard, vera) for _ in range(8)]
    slides = talks.slides_from(many, Kind.SERIES)
    assert [(each.kind, len(each.photos)) for each in slides] == [
        (Kind.SERIES, 6),
        (Kind.PAIR, 2),
    ]


def test_a_pair_is_of_two(shown):
    with refused("wrong_count"):
        talks.slides_from(shown[:3], Kind.PAIR)


def test_slides_move_to_a_number_and_the_others_make_way(talk_set, eddy, member):
    first, second, third, fourth, last = numbers(talk_set, member)
    moved = Slide.objects.get(pk=fourth)
    assert talks.move(moved, to=2, by=eddy, now=LATER) == 2
    assert numbers(talk_set, member) == [first, fourth, second, third, last]
    [line] = Change.objects.filter(verb="move")
    assert (line.subject_id, line.before, line.after) == (
        fourth, {"position": 4}, {"position": 2}
    )  # fmt: skip
    assert talks.move(moved, to=99, by=eddy, now=LATER) == 5
    assert numbers(talk_set, member) == [first, second, third, last, fourth]


def test_photos_of_a_slide_stand_in_the_order_somebody_gives_them(
    orchard, eddy, member, shown
):
    made = talks.start(
        orchard, title="T", photos=shown[:3], kind=Kind.SERIES, by=eddy, now=NOW
    )
    slide = slide_at(made, 2)

    def order():
        return [shown.index(photo) + 1 for photo in talks.read(made, member).photos]

    last = slide.places.get(position=3)
    assert talks.move_photo(slide, last.pk, to=1, by=eddy, now=LATER) == 1
    assert order() == [3, 1, 2]
    [line] = Change.objects.filter(verb="move", subject_type="slidephoto")
    assert (line.subject_id, line.before, line.after) == (
        last.pk, {"position": 3}, {"position": 1}
    )  # fmt: skip
    assert talks.move_photo(slide, last.pk, to=99, by=eddy, now=LATER) == 3
    assert order() == [1, 2, 3]
    talks.undo(made, by=eddy, now=LATER)
    assert order() == [3, 1, 2]
    talks.undo(made, by=eddy, now=LATER)
    assert order() == [1, 2, 3]
    with refused("photo_gone"):
        talks.move_photo(slide_at(made, 1), last.pk, to=1, by=eddy, now=LATER)


def test_every_step_is_undone_in_turn(talk_set, eddy, member, shown):
    def state():
        talk = talks.read(talk_set, member)
        return talk.talk_set.title, talk.slides

    states = [state()]
    talks.move(slide_at(talk_set, 4), to=2, by=eddy, now=LATER)
    states.append(state())
    talks.remove(slide_at(talk_set, 3), by=eddy, now=LATER)
    states.append(state())
    second = slide_at(talk_set, 2)
    place = second.places.get()
    talks.edit(
        second,
        title="A leaf",
        text="",
        note="Ask what they see",
        words={place.pk: PlaceWords("Caption", "Description")},
        by=eddy,
        now=LATER,
    )
    states.append(state())
    talks.add_photos(second, shown[3:], by=eddy, now=LATER)
    states.append(state())
    talks.remove_photo(second, place.pk, by=eddy, now=LATER)
    states.append(state())
    talks.add(talk_set, [NewSlide(Kind.TEXT, title="Thanks")], by=eddy, now=LATER)
    states.append(state())
    talks.rename(talk_set, title="Lemons", by=eddy, now=LATER)
    talk_set.refresh_from_db()
    assert talk_set.title == "Lemons"
    while states:
        talks.undo(talk_set, by=eddy, now=LATER)
        talk_set.refresh_from_db()
        assert state() == states.pop()
    with refused("nothing_to_undo"):
        talks.undo(talk_set, by=eddy, now=LATER)


def test_nothing_is_erased_and_the_ledger_tells_each_step(talk_set, eddy, member):
    before = Slide.objects.count(), SlidePhoto.objects.count()
    second = slide_at(talk_set, 2)
    talks.remove(second, by=eddy, now=LATER)
    assert (Slide.objects.count(), SlidePhoto.objects.count()) == before
    lines = Change.objects.filter(verb="remove").order_by("id")
    assert [line.subject_type for line in lines] == ["slide", "slidephoto"]
    assert lines[1].before["caption"] == second.places.get().caption
    talks.undo(talk_set, by=eddy, now=LATER)
    assert Change.objects.get(verb="undo").subject_label == "Citrus"


def test_a_step_to_a_removed_slide_or_set_is_refused(talk_set, eddy):
    second = slide_at(talk_set, 2)
    talks.remove(second, by=eddy, now=LATER)
    with refused("slide_gone"):
        talks.move(second, to=1, by=eddy, now=LATER)
    talks.remove_set(talk_set, by=eddy, now=LATER)
    with refused("set_removed"):
        talks.undo(talk_set, by=eddy, now=LATER)
    talks.bring_back(talk_set, by=eddy, now=LATER)
    talks.undo(talk_set, by=eddy, now=LATER)


def test_a_photo_that_may_not_be_shown_does_not_come_in(talk_set, orchard, eddy, vera):
    inside = photo_to_show(orchard, vera, audience="inside")
    with refused("not_free"):
        talks.add(
            talk_set,
            talks.slides_from([inside], Kind.PICTURE),
            by=eddy,
            now=LATER,
        )
    with refused("not_free"):
        talks.add_photos(slide_at(talk_set, 2), [inside], by=eddy, now=LATER)
    with refused("not_free"):
        talks.start(orchard, title="T", photos=[inside], by=eddy, now=LATER)
    assert TalkSet.objects.count() == 1


def consent_withdrawn(photo, eddy):
    Photo.objects.filter(pk=photo.pk).update(people="somebody")
    PhotoConsent.objects.create(
        photo=photo, person="Ann", use="talks", given_on=TODAY, noted_by=eddy,
        noted_at=NOW, withdrawn_on=TODAY, withdrawn_by=eddy, withdrawn_at=NOW,
        withdrawn_reason="Asked to",
    )  # fmt: skip


def became_private(photo, eddy):
    Photo.objects.filter(pk=photo.pk).update(private=True)


def case_opened(photo, eddy):
    tree = photo.tree
    finding = make_finding(make_inspection(tree.orchard, tree, eddy), private=True)
    Case.objects.create(
        orchard=tree.orchard, tree=tree, sign="psyllid_nymph", finding=finding,
        opened_at=NOW, opened_by=eddy,
    )  # fmt: skip


def was_withdrawn(photo, eddy):
    Photo.objects.filter(pk=photo.pk).update(
        withdrawn_at=NOW, withdrawn_by=eddy, withdrawn_reason="Blurred"
    )


def inside_again(photo, eddy):
    Photo.objects.filter(pk=photo.pk).update(audience="inside")


@pytest.mark.parametrize(
    ("happens", "educator_reads", "lead_reads"),
    [
        (consent_withdrawn, "Ann withdrew the consent", "Ann withdrew the consent"),
        (became_private, "may not be shown at present", "suspected regulated pest"),
        (was_withdrawn, "was removed", "was removed"),
        (inside_again, "Let it be seen in talks", "Let it be seen in talks"),
    ],
)
def test_a_photo_leaves_every_set_at_once_and_its_place_says_why(
    talk_set, orchard, eddy, lee, member, shown, happens, educator_reads, lead_reads
):
    happens(shown[1], eddy)
    talk = talks.read(talk_set, member)
    assert shown[1] not in talk.photos
    [place] = talk.slides[2].places
    assert educator_reads in place.why_empty
    # What was said of it went with it.
    assert (place.photo, place.caption, place.alt_text) == (None, "", "")
    lead = permissions.member_for(lee, orchard.slug)
    assert lead_reads in talks.read(talk_set, lead).slides[2].places[0].why_empty
    with refused("not_finished", match="Slide 3"):
        talks.require_finished(talk)
    assert (
        shown[1]
        not in talks.read(talks.copy(talk_set, by=eddy, now=LATER), member).photos
    )
    talks.clear_empty(talk_set, by=eddy, now=LATER)
    talk = talks.read(talk_set, member)
    assert len(talk.slides) == 4
    talks.require_finished(talk)


def test_photos_of_a_tree_leave_while_its_case_is_open_but_for_older_ones(
    talk_set, eddy, member, shown
):
    older = NOW - timedelta(days=1)
    Photo.objects.filter(pk=shown[0].pk).update(received_at=older)
    case_opened(shown[0], eddy)
    talk = talks.read(talk_set, member)
    assert talk.photos == (shown[0],)
    reasons = [place.why_empty for each in talk.slides for place in each.places]
    left_alone = "It stays inside as long as its tree is to be left alone."
    assert reasons == ["", left_alone, left_alone]
    Case.objects.update(closed_at=NOW, closed_by=eddy, outcome="Not it")
    assert len(talks.read(talk_set, member).photos) == 3


def test_a_pair_that_loses_one_becomes_a_photo(orchard, eddy, member, shown):
    made = talks.start(
        orchard, title="T", photos=shown[:2], kind=Kind.PAIR, by=eddy, now=NOW
    )
    inside_again(shown[0], eddy)
    talks.clear_empty(made, by=eddy, now=LATER)
    assert kinds(made, member) == [Kind.TITLE, Kind.PICTURE, Kind.CREDITS]


def test_what_is_missing_is_said_slide_by_slide(orchard, eddy, vera, member):
    bare = photo_to_show(orchard, vera, caption="", credit="", alt_text="")
    made = talks.start(orchard, title="T", photos=[bare], by=eddy, now=NOW)
    SlidePhoto.objects.update(caption="")
    talk = talks.read(made, member)
    [slide] = talk.unfinished
    assert slide.position == 2
    assert slide.lacks == (
        "The caption is missing.",
        "The description is missing.",
        "The credit is missing.",
    )
    with refused("not_finished", match="Slide 2: The caption is missing"):
        talks.require_finished(talk)


def test_a_copy_is_independent(talk_set, eddy, member):
    copied = talks.copy(talk_set, by=eddy, now=LATER)
    assert copied.title == "Copy of Citrus"
    assert kinds(copied, member) == kinds(talk_set, member)
    talks.remove(slide_at(copied, 2), by=eddy, now=LATER)
    assert len(talks.read(talk_set, member).slides) == 5


def test_reading_takes_as_many_queries_however_long_a_set_is(
    talk_set, orchard, eddy, vera, member
):
    def queries():
        with CaptureQueriesContext(
            connection,
        ) as captured:
            talks.read(talk_set, member)
        return len(captured)

    few = queries()
    more = [photo_to_show(orchard, vera) for _ in range(6)]
    slides = talks.slides_from(more, Kind.PICTURE)
    talks.add(talk_set, slides, by=eddy, now=LATER)
    assert queries() == few <= 5


def test_captions_of_private_photos_leave_the_ledger_of_others(
    talk_set, orchard, eddy, olga, shown
):
    became_private(shown[0], eddy)
    office = permissions.member_for(olga, orchard.slug)
    told = audit.changes_page(office).rows
    assert not any(shown[0].caption in str(line.differences) for line in told)
    assert any(shown[1].caption in str(line.differences) for line in told)
