"""Look-alike cards: which pairs a set has, and what stands on a card."""

from __future__ import annotations

import pytest

from orchard.records.models import Photo
from orchard.services import permissions, talks
from tests.conftest import NOW
from tests.services.talks.photos_to_show import photo_to_show
from tests.services.talks.test_purposes import alike_pair, with_sign


@pytest.fixture(autouse=True)
def own_store(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path / "photos"


def test_a_card_is_of_a_pair_whose_both_signs_the_set_shows(orchard, tree, vera, eddy):
    sign, other, _tell = alike_pair()
    member = permissions.member_for(eddy, orchard.slug)
    first = with_sign(photo_to_show(orchard, vera, links={"tree": tree}), sign.key)
    second = photo_to_show(orchard, vera, confirmed_sign=other.key)
    made = talks.start(orchard, title="T", photos=[first, second], by=eddy, now=NOW)
    [card] = talks.cards_of(talks.read(made, member))
    assert {card.sign.key, card.other.key} == {sign.key, other.key}
    assert card.photos == {sign.key: first, other.key: second}
    assert card.credits == ("Vera of the orchard",)
    # A photo that left the set is on no card; the guide's drawing takes its place.
    Photo.objects.filter(pk=first.pk).update(private=True)
    talk = talks.read(made, member)
    assert talks.cards_of(talk) == ()
    [card] = talks.cards_of(talk, [(other.key, sign.key)])
    assert card.photos == {other.key: second}


def test_each_pair_of_the_guide_is_offered_once():
    pairs = [frozenset((one.key, two.key)) for one, two, _ in talks.guide_pairs()]
    assert len(pairs) == len(set(pairs)) > 20
