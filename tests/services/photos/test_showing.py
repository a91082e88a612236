"""What may be shown beyond the orchard, and consents, noted and taken back."""

from __future__ import annotations

from datetime import timedelta
from itertools import product

import pytest

from orchard.records.models import Case, Change, Photo, PhotoConsent
from orchard.services import permissions, photos
from tests.conftest import NOW, TODAY, make_tree
from tests.refusals import refused
from tests.services.photos.test_photos import file, image
from tests.web.test_who_may import make_finding, make_inspection, make_task

USES = ("talks", "public")


@pytest.fixture(autouse=True)
def own_store(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path / "photos"


@pytest.fixture
def photo(orchard, tree, vera, now) -> Photo:
    return photos.store(
        file(made=image(90, 60)), orchard=orchard, by=vera, now=now, tree=tree
    )


@pytest.fixture
def keeper(eddy, orchard):
    return permissions.member_for(eddy, orchard.slug)


def let_go(photo, keeper, **words):
    ready = {
        "caption": "A trail in the leaf",
        "alt_text": "A leaf with a silver line winding through it",
        "credit": "Vera",
        "people": "nobody",
        "audience": "public",
    }
    return photos.describe(photo, member=keeper, now=NOW, **{**ready, **words})


def note(photo, keeper, person="Ann", use="talks", given_on=TODAY):
    return photos.note_consent(
        photo, member=keeper, now=NOW, person=person, use=use, given_on=given_on
    )


def take_back(consent, keeper, reason="Asked to", on=TODAY):
    return photos.withdraw_consent(
        consent, member=keeper, now=NOW, withdrawn_on=on, reason=reason
    )


def free(photo) -> set[str]:
    return {use for use in USES if photos.is_free(photo, use)}


def lacking(photo, use, keeper) -> list[str]:
    return photos.lacking([photo], [use], keeper)[use][photo.pk]


def test_a_photo_that_came_in_stays_inside(photo, keeper):
    assert free(photo) == set()
    assert lacking(photo, "talks", keeper) == [
        "Let it be seen in talks and slides.",
        "Say whether people are in view.",
        "Write a caption.",
        "Enter the credit: who is named with it.",
        "Write the description for people who can't see it.",
    ]


def test_a_photo_without_people_goes_as_far_as_somebody_lets_it(photo, keeper):
    for audience, uses in {
        "inside": set(),
        "talks": {"talks"},
        "public": {"talks", "public"},
    }.items():
        let_go(photo, keeper, audience=audience)
        assert free(photo) == uses
    photo.refresh_from_db()
    assert lacking(photo, "public", keeper) == []


def test_words_that_are_missing_are_named_and_do_not_bar(photo, keeper):
    photo = let_go(photo, keeper, credit="", alt_text="")
    assert free(photo) == {"talks", "public"}
    assert lacking(photo, "public", keeper) == [
        "Enter the credit: who is named with it.",
        "Write the description for people who can't see it.",
    ]


def test_people_unknown_or_never_asked_keep_a_photo_in(photo, keeper):
    for people in ("unknown", "somebody"):
        photo = let_go(photo, keeper, people=people)
        assert free(photo) == set()
    assert lacking(photo, "talks", keeper) == [
        "Note the consent of the people in view."
    ]


# What two people agreed to, and to what a photo of both may go.
AGREED = {
    (("talks",), ()): {"talks"},
    (("public",), ()): {"talks", "public"},
    (("talks", "public"), ()): {"talks", "public"},
    (("talks",), ("talks",)): {"talks"},
    (("public",), ("talks",)): {"talks"},
    (("public",), ("public",)): {"talks", "public"},
}


@pytest.mark.parametrize("uses", AGREED)
def test_everybody_who_was_asked_has_to_agree(uses, photo, keeper):
    let_go(photo, keeper)
    for person, agreed in zip(("Ann", "Bea"), uses, strict=True):
        for use in agreed:
            note(photo, keeper, person, use)
    assert free(photo) == AGREED[uses]


def test_consent_taken_back_ends_the_use_at_once_and_stays_on_record(photo, keeper):
    let_go(photo, keeper)
    consent = note(photo, keeper, use="public", given_on=TODAY - timedelta(days=9))
    note(photo, keeper, "Bea", "public")
    assert free(photo) == {"talks", "public"}
    take_back(consent, keeper)
    assert free(photo) == set()
    photo.refresh_from_db()
    assert lacking(photo, "talks", keeper) == ["Ann withdrew the consent."]
    row = PhotoConsent.objects.get(person="Ann")
    assert (row.withdrawn_on, row.withdrawn_by, row.withdrawn_reason) == (
        TODAY,
        keeper.user,
        "Asked to",
    )
    line = Change.objects.get(subject_type="photoconsent", verb="withdraw")
    assert (line.subject_id, line.reason) == (row.pk, "Asked to")
    # Whoever agrees again is asked anew, in a row of its own.
    note(photo, keeper, use="talks")
    assert free(photo) == {"talks"}
    assert PhotoConsent.objects.filter(person="Ann").count() == 2


def test_who_takes_back_talks_takes_back_what_reaches_farther(photo, keeper):
    let_go(photo, keeper)
    narrow, wide = note(photo, keeper), note(photo, keeper, use="public")
    assert {row.pk for row in take_back(narrow, keeper)} == {narrow.pk, wide.pk}
    assert free(photo) == set()


def test_who_takes_back_the_wide_use_may_leave_the_narrow_one(photo, keeper):
    let_go(photo, keeper)
    note(photo, keeper)
    take_back(note(photo, keeper, use="public"), keeper)
    assert free(photo) == {"talks"}
    photo.refresh_from_db()
    assert lacking(photo, "public", keeper) == ["Ann agreed to talks and slides only."]


def test_a_consent_makes_it_a_photo_with_people(photo, keeper):
    let_go(photo, keeper, people="nobody")
    note(photo, keeper)
    photo.refresh_from_db()
    assert photo.people == "somebody"
    assert free(photo) == {"talks"}


def test_the_same_person_however_typed_is_noted_once(photo, keeper):
    first = note(photo, keeper, "Ann  Lee ")
    assert first.person == "Ann Lee"
    assert note(photo, keeper, "ann lee").pk == first.pk
    take_back(first, keeper)
    again = note(photo, keeper, "ANN LEE")
    assert again.pk != first.pk
    assert again.person == "Ann Lee"


def test_what_is_wrong_with_a_consent_is_said(photo, keeper, vera, orchard):
    tomorrow = TODAY + timedelta(days=1)
    with refused("person_missing"):
        note(photo, keeper, "  ")
    with refused("in_future"):
        note(photo, keeper, given_on=tomorrow)
    consent = note(photo, keeper)
    with refused("reason_missing"):
        take_back(consent, keeper, reason=" ")
    with refused("in_future"):
        take_back(consent, keeper, on=tomorrow)
    with refused("before_given"):
        take_back(consent, keeper, on=TODAY - timedelta(days=1))
    take_back(consent, keeper)
    with refused("already_withdrawn"):
        take_back(consent, keeper)
    volunteer = permissions.member_for(vera, orchard.slug)
    with refused("may_not"):
        note(photo, volunteer)
    with refused("may_not"):
        take_back(consent, volunteer)
    photos.withdraw(photo, member=keeper, now=NOW, reason="Blurred")
    with refused("photo_is_withdrawn"):
        note(photo, keeper, "Bea")


def test_only_keepers_let_a_photo_out(photo, keeper, vera, orchard):
    author = permissions.member_for(vera, orchard.slug)
    photos.describe(photo, member=author, now=NOW, credit="Vera", view="close_up")
    with refused("not_yours", match="who may see"):
        photos.describe(photo, member=author, now=NOW, audience="talks")
    photo.refresh_from_db()
    assert (photo.credit, photo.view, photo.audience) == ("Vera", "close_up", "inside")


def test_what_is_said_again_writes_no_line(photo, keeper):
    let_go(photo, keeper)
    lines = Change.objects.count()
    let_go(photo, keeper)
    assert Change.objects.count() == lines
    photos.describe(photo, member=keeper, now=NOW, caption=" Another ")
    line = Change.objects.order_by("pk").last()
    assert line.before == {"caption": "A trail in the leaf"}
    assert line.after == {"caption": "Another"}


DAY_BEFORE, DAY_AFTER = NOW - timedelta(days=1), NOW + timedelta(days=1)


def open_case(tree, by, look=None, *, at=NOW, sign="psyllid_nymph") -> Case:
    look = look or make_inspection(tree.orchard, tree, by)
    return Case.objects.create(
        orchard=tree.orchard,
        tree=tree,
        sign=sign,
        finding=make_finding(look, private=True),
        opened_at=at,
        opened_by=by,
    )


def close_case(case, by) -> None:
    Case.objects.filter(pk=case.pk).update(
        closed_at=DAY_AFTER, closed_by=by, outcome="Not found"
    )


@pytest.mark.parametrize(
    ("what", "received_at", "stays_in"),
    [
        ("tree", DAY_BEFORE, False),
        ("tree", NOW, True),
        ("tree", DAY_AFTER, True),
        ("work", DAY_BEFORE, False),
        ("work", DAY_AFTER, True),
        ("look", DAY_BEFORE, True),
        ("sign", DAY_BEFORE, True),
        ("other sign of the look", DAY_BEFORE, True),
        ("other look", DAY_BEFORE, False),
        ("other look", DAY_AFTER, True),
        ("other tree", DAY_AFTER, False),
    ],
)
def test_a_case_keeps_in_what_it_shows_and_what_came_since_and_no_older_photo(
    what, received_at, stays_in, orchard, tree, keeper, lee
):
    """Who compares a page of before and after learns nothing by what is gone."""
    looks = [make_inspection(orchard, tree, lee) for _ in range(2)]
    case = open_case(tree, lee, looks[0])
    work = make_task(orchard, tree, 7)
    links = {
        "tree": {"tree": tree},
        "work": {},
        "look": {"tree": tree, "inspection": looks[0]},
        "sign": {"tree": tree, "finding": case.finding},
        "other sign of the look": {"finding": make_finding(looks[0])},
        "other look": {"tree": tree, "inspection": looks[1]},
        "other tree": {"tree": make_tree(orchard, "A-2")},
    }[what]
    made = file(made=image(80, 60))
    photo = photos.store(made, orchard=orchard, by=lee, now=received_at, **links)
    if what == "work":
        closure = work.closures.create(
            how="done", by=lee, done_on=TODAY, closed_at=received_at
        )
        photo.closures.add(closure)
    photo = let_go(photo, keeper)
    assert free(photo) == (set() if stays_in else set(USES))
    sentences = lacking(photo, "public", keeper)
    assert ["left alone" in each for each in sentences] == [True] * stays_in
    close_case(case, lee)
    assert free(photo) == set(USES)


def test_photos_come_back_with_the_answer_to_the_oldest_open_case(
    photo, keeper, tree, lee
):
    photo = let_go(photo, keeper)
    first = open_case(tree, lee, at=DAY_BEFORE)
    open_case(tree, lee, at=DAY_AFTER, sign="plant_hopper")
    assert free(photo) == set()
    close_case(first, lee)
    assert free(photo) == set(USES)


def test_what_is_private_or_removed_never_leaves(photo, keeper):
    photo = let_go(photo, keeper)
    Photo.objects.update(private=True)
    assert free(photo) == set()
    Photo.objects.update(private=False)
    photos.withdraw(photo, member=keeper, now=NOW, reason="Blurred")
    assert free(photo) == set()
    photo.refresh_from_db()
    assert lacking(photo, "talks", keeper) == ["It was removed."]


def test_a_photo_is_free_just_where_nothing_but_words_is_lacking(photo, keeper):
    """The query and the sentences are two tellers of one rule."""
    let_go(photo, keeper)
    ann, bea = note(photo, keeper), note(photo, keeper, "Bea", "public")
    gone = {
        "withdrawn_on": TODAY,
        "withdrawn_by": keeper.user,
        "withdrawn_at": NOW,
        "withdrawn_reason": "Asked to",
    }
    standing = dict.fromkeys(gone) | {"withdrawn_reason": ""}
    for people, audience, private, first, second in product(
        Photo.People.values,
        Photo.Audience.values,
        (False, True),
        (standing, gone),
        (standing, gone),
    ):
        Photo.objects.update(people=people, audience=audience, private=private)
        PhotoConsent.objects.filter(pk=ann.pk).update(**first)
        PhotoConsent.objects.filter(pk=bea.pk).update(**second)
        photo.refresh_from_db()
        for use in USES:
            assert photos.is_free(photo, use) == (not lacking(photo, use, keeper))


@pytest.mark.parametrize(
    ("who", "private", "says"),
    [
        ("eddy", False, "Ann withdrew the consent."),
        ("olga", False, "Somebody in view withdrew the consent."),
        ("cora", True, "It belongs to a suspected regulated pest and never leaves."),
        ("olga", True, "It may not be shown at present."),
        ("eddy", True, "It may not be shown at present."),
    ],
)
def test_why_a_photo_is_kept_in_is_said_as_far_as_one_may_know(
    who, private, says, photo, keeper, orchard, request
):
    photo = let_go(photo, keeper)
    take_back(note(photo, keeper), keeper)
    take_back(note(photo, keeper, "Bea"), keeper)
    Photo.objects.update(private=private)
    photo.refresh_from_db()
    reader = permissions.member_for(request.getfixturevalue(who), orchard.slug)
    sentences = photos.why_not_free([photo], "talks", reader)[photo.pk]
    assert sentences[0] == says
    if not permissions.may(reader, permissions.Deed.KEEP_PHOTOS):
        assert len(sentences) == 1


def test_the_sentences_for_many_photos_and_uses_cost_no_more_queries(
    orchard, vera, keeper, django_assert_num_queries
):
    for size in range(1, 6):
        made = file(made=image(90 + size, 60))
        photos.store(made, orchard=orchard, by=vera, now=NOW)
    every = list(Photo.objects.all())
    with django_assert_num_queries(2):
        photos.lacking(every[:1], ["talks"], keeper)
    with django_assert_num_queries(2):
        found = photos.lacking(every, USES, keeper)
    assert {use: len(rows) for use, rows in found.items()} == {"talks": 5, "public": 5}
