"""The pages of harvests: recorded, read, given away, called back, sent by a phone."""

from __future__ import annotations

import json
import uuid
from datetime import UTC, timedelta

import pytest
from django.utils import timezone

from orchard.records.models import Harvest, HarvestShare, Recall, RecallCall, Receipt
from orchard.services import harvests, treatments
from tests.conftest import make_tree
from tests.services.harvests.helpers import ALL_WELL, give, record
from tests.services.tasks.test_tasks import make_task
from tests.services.treatments.helpers import add, allow, use

pytestmark = pytest.mark.django_db
BASE = "/alderbrook/harvests/"


@pytest.fixture
def now():
    return timezone.now()


@pytest.fixture
def lot(orchard, tree, vera, now):
    at = now - timedelta(hours=2)
    return record(orchard, tree, by=vera, now=now, at=at, kg=4.0, count=20).harvest


def typed(now, **fields):
    local = (now - timedelta(minutes=5)).astimezone(UTC)
    values = {
        "part": "fruit",
        "trees": "A-1",
        "amount": "3.5",
        "unit": "kg",
        "picked_at": local.strftime("%Y-%m-%dT%H:%M"),
        "checks": ["well", "bins", "unsoiled", "sound", "animals", "paper"],
        "washed": "unwashed",
        **fields,
    }
    return {name: value for name, value in values.items() if value is not None}


def newest():
    return Harvest.objects.current().latest("id")


def test_pick_is_recorded_and_may_be_given_away(as_vera, tree, now):
    page = as_vera.post(f"{BASE}new/", typed(now), follow=True)
    lot = newest()
    assert page.redirect_chain == [(f"{BASE}{lot.pk}/", 302)]
    assert f"Lot {lot.lot} recorded." in page.content.decode()
    assert harvests.balance_of(lot).picked.kg == 3.5
    assert not harvests.why_kept_back(lot)


@pytest.mark.parametrize(
    ("fields", "kg"),
    [
        ({"amount": "12", "tare": "2"}, 10.0),
        ({"amount": "850", "unit": "g"}, 0.85),
        ({"amount": "10", "unit": "lb"}, 4.5359237),
        ({"amount": "", "count": "24"}, None),
    ],
)
def test_weights_are_kept_in_kilograms_without_the_crate(
    as_vera, tree, now, fields, kg
):
    as_vera.post(f"{BASE}new/", typed(now, **fields))
    picked = harvests.balance_of(newest()).picked
    assert picked.kg == (None if kg is None else pytest.approx(kg))


def test_trees_are_named_by_code_or_block(as_vera, orchard, tree, now):
    make_tree(orchard, "A-2")
    make_tree(orchard, "B-1")
    as_vera.post(f"{BASE}new/", typed(now, trees="a"))
    assert newest().harvested.count() == 2
    as_vera.post(f"{BASE}new/", typed(now, trees="A-1, B-1"))
    assert newest().harvested.count() == 2
    page = as_vera.post(f"{BASE}new/", typed(now, trees="A-1 Z-9 Q"))
    assert page.status_code == 422
    assert "no trees or blocks Z-9, Q here" in page.content.decode()
    assert Harvest.objects.count() == 2


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"trees": ""}, "This field is required"),
        ({"trees": "A-1\0"}, "Null characters are not allowed"),
        ({"amount": ""}, "Enter the weight, the number, or both."),
        ({"amount": "two"}, "Give a number."),
        ({"amount": "2", "tare": "2"}, "The crate can’t weigh as much"),
        ({"amount": "", "tare": "2"}, "Give the weight with the crate"),
        ({"amount": "-1"}, "Enter a weight above nothing."),
        ({"picked_at": "2999-01-01T10:00"}, "That is in the future."),
        ({"picked_at": "noon"}, "Give a day and a time."),
        ({"picked_at": "0001-01-01T00:00"}, "Give a day and a time."),
        ({"amount": "", "count": "9" * 400}, "That is too many. Check the number."),
        ({"amount": "1e300"}, "can’t be right"),
    ],
)
def test_what_is_wrong_stands_on_the_form(as_vera, tree, now, fields, words):
    page = as_vera.post(f"{BASE}new/", typed(now, **fields))
    assert page.status_code == 422
    shown = page.content.decode().replace("&#x27;", "’").replace("'", "’")
    assert words in shown
    assert not Harvest.objects.exists()


def test_hold_is_said_with_its_end_and_the_way_on(as_vera, orchard, tree, lee, now):
    allow(orchard)
    product = add(orchard, lee, now, fruit_days=5)
    done = use(product, tree, at=now - timedelta(hours=8))
    treatments.record(orchard, done, by=lee, now=now, today=now.date())
    # A phone carries it with the form, before anything is picked.
    form = as_vera.get(f"{BASE}new/").content.decode()
    assert "Not to be picked now" in form
    assert "<b>A-1</b>" in form
    page = as_vera.post(f"{BASE}new/", typed(now))
    assert page.status_code == 422
    text = page.content.decode()
    assert "No picking or tasting of fruit before" in text
    assert "tick that and say how it came about" not in text
    page = as_vera.post(
        f"{BASE}new/", typed(now, anyway="The tape was gone"), follow=True
    )
    assert "Nothing of it is given away" in page.content.decode()
    assert newest().is_blocked


def test_only_the_coordinator_is_asked_whether_it_may_go_all_the_same(
    as_vera, cora, tree
):
    name = 'name="allowed"'
    assert name not in as_vera.get(f"{BASE}new/").content.decode()
    as_vera.force_login(cora)
    assert name in as_vera.get(f"{BASE}new/").content.decode()


def test_correction_keeps_what_it_does_not_change(as_vera, orchard, vera, tree, now):
    other = make_tree(orchard, "A-2")
    at = now - timedelta(hours=2)
    lot = record(orchard, tree, other, by=vera, now=now, at=at, kg=4, count=5).harvest
    page = as_vera.get(f"{BASE}{lot.pk}/correction/")
    fields = {
        name: page.context["form"][name].value() or ""
        for name in page.context["form"].fields
    }
    fields |= {
        "picked_at": fields["picked_at"].strftime("%Y-%m-%dT%H:%M"),
        "note": "Sweet",
        "reason": "Forgot the note",
    }
    fields.pop("picked_clean"), fields.pop("ground"), fields.pop("tare")
    page = as_vera.post(f"{BASE}{lot.pk}/correction/", fields)
    assert page.status_code == 302, page.context["form"].errors
    new = newest()
    assert (new.note, new.lot, new.corrects) == ("Sweet", lot.lot, lot)
    assert list(new.harvested.order_by("id").values_list("kg", "count")) == [
        (2.0, 3),
        (2.0, 2),
    ]
    # One lands on the lot as it is now, and is told what is different about it.
    assert page.url == f"{BASE}{new.pk}/"
    text = as_vera.get(page.url).content.decode()
    assert "corrected. Note: – → Sweet." in text
    old = as_vera.get(f"{BASE}{lot.pk}/").content.decode()
    assert "This record was corrected." in old


def test_list_is_filtered_and_adds_up_yields(as_vera, orchard, lot, vera, now):
    lemon = make_tree(orchard, "B-1", kind="Eureka lemon")
    record(orchard, lemon, by=vera, now=now, at=now - timedelta(days=400), kg=9)
    page = as_vera.get(BASE)
    assert [line.codes for line in page.context["lots"]] == ["A-1", "B-1"]
    assert "<svg" in page.content.decode()
    page = as_vera.get(BASE, {"kind": lemon.kind_id})
    assert [line.codes for line in page.context["lots"]] == ["B-1"]
    page = as_vera.get(BASE, {"tree": "a-1", "year": lot.picked_at.year})
    assert [line.codes for line in page.context["lots"]] == ["A-1"]
    assert "Nothing matches" in as_vera.get(BASE, {"year": "1990"}).content.decode()
    for odd in ({"year": "9" * 40}, {"kind": "x"}, {"tree": "\0"}, {"after": "x.y"}):
        assert as_vera.get(BASE, odd).status_code == 200


def test_share_is_recorded_and_never_more_than_there_is(as_vera, lot, now):
    url = f"{BASE}{lot.pk}/shares/"
    fields = {
        "use": "given_away",
        "receiver": "Food bank",
        "contact": "0170 5",
        "kg": "3",
        "unit": "kg",
        "given_on": now.date().isoformat(),
    }
    page = as_vera.post(url, fields, follow=True)
    assert "3 kg of lot" in page.content.decode()
    page = as_vera.post(url, fields)
    assert page.status_code == 422
    assert "more than is left of the lot: 1 kg" in page.content.decode()
    share = HarvestShare.objects.get()
    change = f"/alderbrook/shares/{share.pk}/correction/"
    mended = fields | {"kg": "2", "reason": "Scale"}
    assert as_vera.post(change, mended).status_code == 302
    newer = HarvestShare.objects.current().get()
    withdrawal = f"/alderbrook/shares/{newer.pk}/withdrawal/"
    assert as_vera.post(withdrawal, {"reason": "It came back"}).status_code == 302
    assert not harvests.shares_of(lot)


def test_contact_of_a_receiver_is_shown_to_those_who_lead(as_vera, lot, vera, lee, now):
    give(lot, vera, now, kg=1, contact="0170 999")
    assert "0170 999" not in as_vera.get(f"{BASE}{lot.pk}/").content.decode()
    as_vera.force_login(lee)
    assert "0170 999" in as_vera.get(f"{BASE}{lot.pk}/").content.decode()


def test_label_names_the_lot_and_says_what_is_not_eaten(as_vera, orchard, lot, now):
    page = as_vera.get(f"{BASE}{lot.pk}/label/").content.decode()
    assert lot.lot in page
    assert "NOT TO BE EATEN" not in page
    Harvest.objects.update(checks=sorted(ALL_WELL | {"ground"}), is_blocked=True)
    page = as_vera.get(f"{BASE}{lot.pk}/label/").content.decode()
    assert "NOT TO BE EATEN" in page


def test_recall_is_opened_called_and_closed(client, lee, lot, vera, now):
    share = give(lot, vera, now, kg=1)
    client.force_login(lee)
    page = client.post(
        f"{BASE}{lot.pk}/recall/", {"reason": "", "because": "Wrong label"}, follow=True
    )
    recall = Recall.objects.get()
    text = page.content.decode()
    assert "1 has not answered yet." in text
    assert "Food bank" in text
    assert "0170 55" in text
    url = f"{BASE}recalls/{recall.pk}/"
    client.post(url, {"share": share.pk, "words": "No answer"})
    page = client.post(
        url, {"share": share.pk, "words": "Eaten", "is_answered": "on"}, follow=True
    )
    assert "Closed: all have answered." in page.content.decode()
    assert RecallCall.objects.count() == 2
    assert lot.lot in client.get(f"{BASE}recalls/").content.decode()


def test_task_to_pick_and_tree_lead_to_the_form(as_vera, tree):
    task = make_task(tree, kind="care", key="harvest", title="Pick what is ready")
    page = as_vera.get(f"/alderbrook/tasks/{task.pk}/").content.decode()
    assert f'href="{BASE}new/?tree=A-1"' in page
    other = make_task(tree, kind="care", key="sucker_round")
    page = as_vera.get(f"/alderbrook/tasks/{other.pk}/").content.decode()
    assert f"{BASE}new/" not in page
    page = as_vera.get("/alderbrook/trees/A-1/").content.decode()
    assert f'href="{BASE}new/?tree=A-1"' in page
    assert f'href="{BASE}?tree=A-1"' in page
    form = as_vera.get(f"{BASE}new/?tree=A-1").context["form"]
    assert form["trees"].value() == "A-1"


# -- Sent by a phone ---------------------------------------------------------------


def send(client, person, now, kind, form, **about):
    entry = {
        "version": 1,
        "key": str(uuid.uuid4()),
        "kind": kind,
        "orchard": "alderbrook",
        "person": person.pk,
        "made_at": now.isoformat(),
        "sent_at": now.isoformat(),
        "fields": {"form": form, **about},
    }
    return client.post("/inbox/", {"entry": json.dumps(entry)})


def pairs(fields):
    return [
        [name, each]
        for name, value in fields.items()
        for each in (value if isinstance(value, list) else [value])
    ]


def test_pick_and_share_of_a_phone_come_in(as_vera, vera, tree, now):
    answer = send(as_vera, vera, now, "harvest", pairs(typed(now))).json()
    assert answer["answer"] == "kept"
    lot = newest()
    assert answer["url"].startswith(BASE)
    assert not harvests.why_kept_back(lot)
    share = {"use": "volunteers", "kg": "1", "unit": "kg",
             "given_on": now.date().isoformat()}  # fmt: skip
    answer = send(
        as_vera, vera, now, "harvest_share", pairs(share), harvest=str(lot.pk)
    )
    assert answer.json()["answer"] == "kept"
    assert harvests.shares_of(lot)[0].kg == 1
    assert set(Receipt.objects.values_list("kind", flat=True)) == {
        "harvest",
        "harvest_share",
    }


def test_pick_of_a_phone_under_a_hold_stays_there_with_the_reason(
    as_vera, vera, orchard, tree, lee, now
):
    allow(orchard)
    product = add(orchard, lee, now, fruit_days=5)
    done = use(product, tree, at=now - timedelta(hours=8))
    treatments.record(orchard, done, by=lee, now=now, today=now.date())
    answer = send(as_vera, vera, now, "harvest", pairs(typed(now)))
    assert answer.status_code == 422
    assert "No picking or tasting of fruit before" in answer.json()["reason"]
    assert not Receipt.objects.exists()
    mended = pairs(typed(now, anyway="The tape was gone"))
    assert send(as_vera, vera, now, "harvest", mended).json()["answer"] == "kept"
    assert newest().is_blocked


def test_what_a_phone_cannot_have_meant_is_refused(as_vera, vera, tree, now):
    odd = [["part", "wood"], ["trees", "A-1\0"]]
    assert send(as_vera, vera, now, "harvest", odd).status_code == 422
    nowhere = send(as_vera, vera, now, "harvest_share", [], harvest="77")
    assert nowhere.status_code == 422
