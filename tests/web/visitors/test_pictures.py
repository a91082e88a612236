"""A tree's picture: none until somebody lets everybody see one, and asked each time."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse

from orchard.records.models import Photo, PhotoConsent
from orchard.services import cases, inspections, photos, trees
from orchard.services.inspections import SeenSign
from tests.conftest import NOW
from tests.services.photos.test_photos import file, image

pytestmark = pytest.mark.django_db


@pytest.fixture
def keep(orchard, tree, vera):
    """Keep a photo of the tree that everybody may see, unless said otherwise."""

    def kept(side=90, **said):
        row = photos.store(
            file(made=image(side, 60)), orchard=orchard, by=vera, now=NOW, tree=tree
        )
        values = {
            "audience": "public", "people": "nobody", "credit": "Alderbrook crew",
            "alt_text": "A round crown", "caption": "In May", **said,
        }  # fmt: skip
        Photo.objects.filter(pk=row.pk).update(**values)
        row.refresh_from_db()
        return row

    return kept


@pytest.fixture
def page(tree):
    address = reverse("tag", args=[trees.tag_of(tree, now=NOW).token])
    return lambda: Client().get(address).content.decode()


def address_of(photo, size="middle"):
    return reverse("public-photo", args=[photo.name, size])


def seen(photo):
    return Client().get(address_of(photo)).status_code == 200


def test_a_photo_that_everybody_may_see_stands_with_credit_and_description(keep, page):
    assert "<img" not in page()
    photo = keep()
    html = page()
    assert address_of(photo) in html
    assert 'alt="A round crown"' in html
    assert "Photo: Alderbrook crew" in html
    assert "Vera" not in html
    answer = Client().get(address_of(photo, "small"))
    assert answer.status_code == 200
    assert answer["Content-Type"] == "image/jpeg"
    assert answer["Cache-Control"] == "private, no-cache"
    assert Client().get(address_of(photo, "original")).status_code == 404


@pytest.mark.parametrize(
    "said",
    [
        {"audience": "inside"},
        {"audience": "talks"},
        {"people": "unknown"},
        {"people": "somebody"},
        {"private": True},
        {"withdrawn_at": NOW, "withdrawn_reason": "blurred"},
    ],
)
def test_no_other_photo_is_shown_or_sent(keep, page, cora, said):
    if "withdrawn_at" in said:
        said = {**said, "withdrawn_by": cora}
    photo = keep(**said)
    assert "<img" not in page()
    assert not seen(photo)


@pytest.mark.parametrize("said", [{"credit": ""}, {"alt_text": ""}])
def test_one_without_credit_or_description_is_no_portrait(keep, page, said):
    keep(**said)
    assert "<img" not in page()


def test_the_whole_tree_comes_before_what_is_newer(keep, page):
    whole, close = keep(view="whole_tree"), keep(91, view="close_up")
    html = page()
    assert address_of(whole) in html
    assert address_of(close) not in html


def test_a_consent_that_is_withdrawn_takes_the_photo_away_at_once(keep, page, cora):
    photo = keep(people="somebody")
    assert not seen(photo)
    consent = PhotoConsent.objects.create(
        photo=photo, person="Ada", use="public", given_on=NOW.date(), noted_by=cora,
        noted_at=NOW,
    )  # fmt: skip
    assert seen(photo)
    assert address_of(photo) in page()
    PhotoConsent.objects.filter(pk=consent.pk).update(
        withdrawn_on=NOW.date(), withdrawn_by=cora, withdrawn_at=NOW,
        withdrawn_reason="Changed her mind",
    )  # fmt: skip
    assert not seen(photo)
    assert "<img" not in page()


def test_a_photo_that_came_in_since_a_suspicion_is_sent_to_nobody(
    keep, page, tree, lee, cora
):
    """And the page is the one of before, with the portrait it had."""
    portrait = keep(view="branch", received_at=NOW - timedelta(days=1))
    before = page()
    record = inspections.record(
        tree, by=lee, now=NOW, seen_at=NOW,
        findings=[SeenSign("psyllid_nymph", {"count": 2})],
    )  # fmt: skip
    later = keep(91, view="whole_tree")
    assert seen(portrait)
    assert not seen(later)
    assert page() == before
    cases.close(record.cases[0], by=cora, now=NOW, outcome="Not found")
    assert seen(later)
    assert address_of(later) in page()
