"""Nobody who is not named learns of a case by the library, or by a search of the site.

Every page that finds something answers the same as before the case: that the case came
changes neither what is found nor how much of it, by whatever one asks.
"""

from __future__ import annotations

import re
from datetime import timedelta
from difflib import ndiff
from urllib.parse import urlencode

import pytest
from django.test import Client
from PIL import Image

from orchard.records.models import Finding, Photo
from orchard.science.words import Season, Verdict
from orchard.services import inspections, permissions, photos, talks
from orchard.services.inspections import SeenSign
from tests.conftest import NOW
from tests.science.test_pictures import noise
from tests.services.photos.test_photos import file
from tests.web.test_who_may import make_finding, make_inspection

pytestmark = pytest.mark.django_db
HOME = "/alderbrook/"
LIBRARY, CHOSEN = f"{HOME}photos/", f"{HOME}photos/chosen/"
SECRET = "Curly strings on the tip"
EARLIER = NOW - timedelta(hours=2)


@pytest.fixture(autouse=True)
def on_the_day(monkeypatch, settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path / "photos"
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW)


def scene(width=800, height=600) -> Image.Image:
    return Image.fromarray(noise(800, 600)).convert("RGB").resize((width, height))


@pytest.fixture
def open_photo(orchard, tree, vera, lee) -> Photo:
    """A photo of a sign on the same tree, free for talks.

    The tree was seen that day and is in as poor a state as the case's look finds it.
    """
    look = make_inspection(orchard, tree, vera)
    tree.last_seen_on, tree.condition, look.condition = NOW.date(), 1, 1
    tree.save()
    look.save()
    photo = photos.store(
        file(made=scene()), orchard=orchard, by=vera, now=EARLIER, tree=tree,
        inspection=look, finding=make_finding(look),
    )  # fmt: skip
    words = {"people": "nobody", "audience": "public", "caption": "A sucker"}
    member = permissions.member_for(lee, orchard.slug)
    return photos.describe(photo, member=member, now=NOW, **words)


@pytest.fixture
def talk_set(orchard, open_photo, cora):
    return talks.start(orchard, title="Signs", photos=[open_photo], by=cora, now=NOW)


@pytest.fixture
def open_case(orchard, tree, lee):
    """Open a case by a look with a photo that is nearly the same as the open one."""

    def opened() -> Photo:
        picture = photos.read_picture(file(made=scene(500, 375), quality=60))
        record = inspections.record(
            tree, by=lee, now=NOW, seen_at=NOW, condition=1,
            findings=[
                SeenSign("psyllid_nymph", {"count": 2}, pictures=(picture,))
            ],
        )  # fmt: skip
        assert record.cases
        photo = record.inspection.photos.get()
        words = {"caption": SECRET, "alt_text": SECRET, "view": "close_up"}
        words |= {"people": "nobody", "audience": "public", "credit": "Lee"}
        member = permissions.member_for(lee, orchard.slug)
        return photos.describe(photo, member=member, now=NOW, **words)

    return opened


def questions(tree, lee) -> list[dict[str, str]]:
    """List all that the library can be asked of which the private photo has part."""
    day = NOW.date().isoformat()
    filters = {
        "tree": [tree.code],
        "kind": [tree.kind_id],
        "sign": ["psyllid_nymph", "sucker"],
        "part": ["shoot", "leaf", "bud", "trunk"],
        "verdict": Verdict,
        "sureness": Finding.Sureness.values,
        "condition": ["poor"],
        "season": Season,
        "view": ["close_up"],
        "by": [lee.pk],
        "since": [day],
        "until": [day],
        "use": ["talks", "public", "unknown"],
        "new": ["on"],
        "q": [
            SECRET,
            "psyllid",
            "curly",
            "white curly strings",
            f"psyllid {tree.code}",
        ],
    }
    return [{name: str(value)} for name, values in filters.items() for value in values]


def addresses(tree, lee, open_photo, talk_set, hidden) -> list[str]:
    """List the pages that find photos, trees or signs."""
    asked = [urlencode(each) for each in questions(tree, lee)]
    words = ("psyllid", "curly", tree.code, "report", "leave alone")
    adding = f"{HOME}talks/{talk_set.pk}/photos/"
    return [
        LIBRARY,
        *(f"{LIBRARY}?{each}" for each in asked),
        f"{CHOSEN}?chosen={hidden}.{open_photo.pk}",
        f"{LIBRARY}{open_photo.name}/",
        f"{adding}?text=curly",
        f"{adding}?tree={tree.code}",
        *(f"{HOME}trees/?{urlencode({'q': word})}" for word in words),
        *(f"{HOME}trees/?{urlencode({'q': word, 'go': 1})}" for word in words[:2]),
        *(f"{HOME}guide/?{urlencode({'q': word})}" for word in words[:2]),
    ]


def answer(client, address) -> list[str]:
    """Return what a page answers: its status, and its lines."""
    found = client.get(address)
    each_time_new = r'csrfmiddlewaretoken" value="\w+"|data-rendered-at="[^"]+"'
    page = re.sub(each_time_new, "", found.content.decode())
    return [str(found.status_code), *page.splitlines()]


def changes(before: list[str], after: list[str]) -> list[str]:
    return [line for line in ndiff(before, after) if line[0] in "+-"]


@pytest.mark.parametrize("role", ["vera", "eddy", "olga", "otto", "nobody"])
def test_no_search_tells_who_is_not_named_of_a_case(
    role, request, orchard, tree, lee, cora, open_photo, talk_set, open_case
):
    client = Client()
    if role != "nobody":
        client.force_login(request.getfixturevalue(role))
    # The number that its photo will have.
    hidden = open_photo.pk + 1
    every = addresses(tree, lee, open_photo, talk_set, hidden)
    before = {address: answer(client, address) for address in every}
    photo = open_case()
    assert (photo.pk, photo.private) == (hidden, True)
    assert photo.likeness is not None
    for address in every:
        after = answer(client, address)
        assert after == before[address], (address, changes(before[address], after))
    for size in ("small", "middle", "large"):
        got = client.get(f"{LIBRARY}{photo.name}/{size}/")
        assert got.status_code in (302, 404), size
    form = {"at": f"chosen={hidden}", "caption": "Anything", "credit": "Anybody"}
    asked = [(CHOSEN, form), (f"{CHOSEN}talk/", {**form, "title": "New"})]
    for address, body in asked:
        assert SECRET not in client.post(address, body).content.decode()
    photo.refresh_from_db()
    assert photo.credit == "Lee"
    # And it can be seen that there was something to find.
    named = Client()
    named.force_login(cora)
    pages = {address: str(answer(named, address)) for address in every}
    found = [address for address in every if str(photo.name) in pages[address]]
    telling = {address.split("?")[-1].split("=")[0] for address in found}
    assert telling >= {"tree", "sign", "verdict", "condition", "q", "view", "chosen"}
    assert f"{LIBRARY}{open_photo.name}/" in found
