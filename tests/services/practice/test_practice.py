"""Practice: what is asked next, what an answer does, and what stays a person's own.

The rule of the boxes is held against Leitner (1972) in tests/science/test_practice.py.
"""

from __future__ import annotations

import uuid
from datetime import timedelta

import pytest

from orchard.records.models import Change, Photo, PracticeAnswer
from orchard.science import guide
from orchard.science.words import PracticeLevel
from orchard.services import inspections, permissions, photos, practice
from orchard.services.errors import MayNot
from orchard.services.inspections import SeenSign
from tests.conftest import NOW, TODAY, make_person
from tests.refusals import refused
from tests.services.photos.test_photos import file, image

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def grown(tree):
    """Something grows here."""


def member(orchard, person):
    return permissions.member_for(person, orchard.slug)


def give(
    who, sign, taken_for=None, *, now=NOW, level=PracticeLevel.DRAWING, photo=None
):
    return practice.answer(
        who, key=uuid.uuid4(), sign=sign, level=level, photo=photo, now=now,
        taken_for=sign if taken_for is None else taken_for,
    )  # fmt: skip


def learn(who, sign, times):
    """Name a sign right so many times, as long before as it waits."""
    for turn in range(times):
        give(who, sign, now=NOW - timedelta(days=400 - turn))


def test_the_commonest_sign_is_asked_first_by_a_drawing(orchard, vera):
    asked = practice.next_question(member(orchard, vera), today=TODAY)
    assert asked.sign == guide.load().common_signs()[0]
    assert (asked.level, asked.photo) == (PracticeLevel.DRAWING, None)
    assert asked.sign in asked.choices
    assert len(asked.choices) == 4
    alike = {row.sign for row in asked.sign.alike}
    assert not alike & {row.key for row in asked.choices}


def test_the_same_question_looks_the_same_again(orchard, vera):
    key, who = uuid.uuid4(), member(orchard, vera)
    first = practice.next_question(who, today=TODAY, key=key)
    assert practice.next_question(who, today=TODAY, key=key) == first


def test_a_sign_that_was_missed_comes_back_before_new_ones(orchard, vera):
    who = member(orchard, vera)
    missed, known = (row.key for row in guide.load().common_signs()[:2])
    give(who, missed, "water_sprout")
    give(who, known)
    assert practice.next_question(who, today=TODAY).sign.key not in (missed, known)
    tomorrow = TODAY + timedelta(days=1)
    assert practice.next_question(who, today=tomorrow).sign.key == missed
    progress = practice.progress_of(who, today=tomorrow)
    assert progress.boxes[:2] == (1, 1)
    assert (progress.met, progress.due) == (2, 1)


def test_questions_grow_harder(orchard, vera):
    """Look-alikes from box 3 on; without a photo they stay look-alikes."""
    who = member(orchard, vera)
    learn(who, "sucker", 2)
    asked = practice.next_question(who, today=TODAY)
    assert (asked.sign.key, asked.level) == ("sucker", PracticeLevel.ALIKE)
    alike = {row.sign for row in asked.sign.alike if row.sign}
    assert alike & {row.key for row in asked.choices}
    learn(who, "sucker", 4)
    assert practice.next_question(who, today=TODAY).level is PracticeLevel.ALIKE


def test_a_phone_takes_along_what_comes_next_easy_and_hard(orchard, vera):
    who = member(orchard, vera)
    first, second = (row.key for row in guide.load().common_signs()[:2])
    learn(who, first, 2)
    give(who, second)
    taken = practice.questions_to_take(who, today=TODAY, most=200)
    asked = practice.next_question(who, today=TODAY)
    # What is due comes first, what was answered today last.
    assert taken[0].sign == asked.sign == guide.load().signs[first]
    assert taken[-1].sign.key == second
    assert [row.box for row in (taken[0], taken[1], taken[-1])] == [3, 1, 2]
    assert [row.asked_from for row in (taken[0], taken[1], taken[-1])] == [3, 1, 1]
    for row in taken:
        easy, hard = row.choices[1], row.choices[3]
        assert (easy.level, hard.level) == (PracticeLevel.DRAWING, PracticeLevel.ALIKE)
        alike = {each.sign for each in row.sign.alike if each.sign}
        assert not alike & {each.key for each in easy.choices}
        here = {each.sign.key for each in taken}
        most = min(3, len(alike & here))
        assert len(alike & {each.key for each in hard.choices}) >= most
    assert taken == practice.questions_to_take(who, today=TODAY, most=200)


@pytest.fixture
def keep(orchard, tree, vera):
    def kept(side=90, **said):
        row = photos.store(
            file(made=image(side, 60)), orchard=orchard, by=vera, now=NOW, tree=tree
        )
        Photo.objects.filter(pk=row.pk).update(**said)
        row.refresh_from_db()
        return row

    return kept


def test_a_confirmed_photo_is_asked_once_the_drawing_is_known(orchard, vera, keep):
    who = member(orchard, vera)
    photo = keep(confirmed_sign="sucker")
    learn(who, "sucker", 3)
    asked = practice.next_question(who, today=TODAY)
    assert (asked.level, asked.photo) == (PracticeLevel.PHOTO, photo)
    kept = give(who, "sucker", level=PracticeLevel.PHOTO, photo=photo.name)
    assert kept.photo == photo


def test_no_photo_is_asked_that_is_private_or_came_in_since_a_case_opened(
    orchard, vera, lee, tree, keep
):
    who = member(orchard, vera)
    hidden = keep(confirmed_sign="sucker", private=True)
    gone = keep(91, confirmed_sign="sucker", withdrawn_at=NOW,
                withdrawn_by=lee, withdrawn_reason="blurred")  # fmt: skip
    learn(who, "sucker", 4)
    assert practice.next_question(who, today=TODAY).photo is None
    for photo in (hidden, gone):
        kept = give(who, "sucker", level=PracticeLevel.PHOTO, photo=photo.name)
        assert (kept.photo, kept.level) == (None, PracticeLevel.ALIKE)
    keep(92, confirmed_sign="sucker")
    later = TODAY + timedelta(days=17)
    assert practice.next_question(who, today=later).photo is not None
    inspections.record(
        tree, by=lee, now=NOW, seen_at=NOW,
        findings=[SeenSign("psyllid_nymph", {"count": 2})],
    )  # fmt: skip
    assert practice.next_question(who, today=later).photo is None
    older = keep(93, confirmed_sign="sucker", received_at=NOW - timedelta(days=1))
    assert practice.next_question(who, today=later).photo == older


def test_the_same_answer_sent_twice_is_one(orchard, vera, lee):
    who, key = member(orchard, vera), uuid.uuid4()
    given = {
        "key": key, "sign": "sucker", "taken_for": "", "photo": None,
        "level": PracticeLevel.DRAWING, "now": NOW,
    }  # fmt: skip
    assert practice.answer(who, **given) == practice.answer(who, **given)
    assert PracticeAnswer.objects.count() == 1
    with refused("key_taken"):
        practice.answer(member(orchard, lee), **given)


def test_a_sign_that_the_guide_does_not_have_is_refused(orchard, vera):
    for names in (("no_such", "sucker"), ("sucker", "no_such")):
        with refused("unknown_sign"):
            give(member(orchard, vera), *names)


def test_no_line_of_the_ledger_tells_of_an_answer(orchard, vera):
    before = Change.objects.count()
    give(member(orchard, vera), "sucker", "water_sprout")
    assert Change.objects.count() == before


def test_a_mix_up_is_told_once_three_people_made_it(orchard, cora, vera, lee, eddy):
    who = member(orchard, cora)
    for person in (vera, vera, vera, lee):
        give(member(orchard, person), "sucker", "water_sprout")
    assert practice.mix_ups(who, now=NOW) == []
    give(member(orchard, eddy), "sucker", "water_sprout")
    [told] = practice.mix_ups(who, now=NOW)
    assert (told.sign.key, told.taken_for.key, told.times) == (
        "sucker", "water_sprout", 5,
    )  # fmt: skip
    assert practice.mix_ups(who, now=NOW + timedelta(days=366)) == []


def test_neither_a_right_answer_nor_i_dont_know_is_a_mix_up(orchard, cora):
    for number in range(3):
        person = member(orchard, make_person(f"P{number}", orchard, "volunteer"))
        give(person, "sucker")
        give(person, "sucker", "")
    assert practice.mix_ups(member(orchard, cora), now=NOW) == []


def test_only_the_coordinator_sees_what_is_mixed_up(orchard, lee, olga):
    for person in (lee, olga):
        with pytest.raises(MayNot):
            practice.mix_ups(member(orchard, person), now=NOW)
