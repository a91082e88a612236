"""A place under quarantine: what is picked there doesn't leave it."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.test import Client

from orchard.services import harvests, orchards
from tests.conftest import NOW, TODAY
from tests.refusals import refused
from tests.services.harvests.helpers import give, record

pytestmark = pytest.mark.django_db
ORDER = {"quarantine_from": TODAY, "quarantine_words": "Order 7/2026: no fruit out"}


def test_nothing_picked_leaves_a_place_under_quarantine(orchard, tree, vera, cora):
    lot = record(orchard, tree, by=vera, at=NOW - timedelta(days=2)).harvest
    place = orchards.correct_details(orchard, by=cora, now=NOW, **ORDER)
    for use in ("given_away", "show", "volunteers"):
        with refused("quarantine", match="Order 7/2026"):
            give(lot, vera, use=use, kg=1)
    # What left the day before had left by then; tasting and compost stay here.
    give(lot, vera, kg=1, given_on=TODAY - timedelta(days=1))
    give(lot, vera, use="tasting", kg=1)
    give(lot, vera, use="compost", kg=1)
    assert "12 May 2026" in harvests.quarantine_words(place, on=TODAY)
    assert harvests.quarantine_words(place, on=TODAY - timedelta(days=1)) == ""
    lifted = {"quarantine_from": None, "quarantine_words": ""}
    orchards.correct_details(place, by=cora, now=NOW, **lifted)
    give(lot, vera, kg=1)


def test_a_quarantine_has_its_day_and_the_words_of_the_authority(orchard, cora):
    with refused("bad_details", match="in its words"):
        orchards.correct_details(orchard, by=cora, now=NOW, quarantine_from=TODAY)
    with refused("bad_details", match="since when"):
        orchards.correct_details(orchard, by=cora, now=NOW, quarantine_words="Order")


def test_the_pages_of_picking_and_recall_say_it(orchard, tree, cora):
    lot = record(orchard, tree, by=cora).harvest
    client = Client()
    client.force_login(cora)
    pages = (
        "harvests/new/", f"harvests/{lot.pk}/", f"harvests/{lot.pk}/shares/",
        f"harvests/{lot.pk}/recall/", "harvests/recalls/", "details/",
    )  # fmt: skip
    for page in pages:
        assert "Order 7" not in client.get(f"/alderbrook/{page}").content.decode()
    order = ORDER | {"quarantine_from": TODAY - timedelta(days=90)}
    orchards.correct_details(orchard, by=cora, now=NOW, **order)
    for page in pages:
        assert "Order 7" in client.get(f"/alderbrook/{page}").content.decode(), page
