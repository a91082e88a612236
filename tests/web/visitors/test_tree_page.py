"""The page behind a tag: what anybody reads, on any signal, with no script."""

from __future__ import annotations

from pathlib import Path

import pytest
from django.conf import settings
from django.urls import reverse

from orchard.services import guide_sync, inspections, trees
from orchard.services.inspections import SeenSign
from orchard.web import joined
from tests.conftest import NOW

pytestmark = pytest.mark.django_db
MOST_BYTES = 30_000


@pytest.fixture
def tag(tree, cora):
    return trees.tag_of(tree, now=NOW, by=cora)


def page(client, tag, query=""):
    response = client.get(reverse("tag", args=[tag.token]) + query)
    assert response.status_code == 200
    return response.content.decode()


def test_the_page_and_its_sheet_are_light_however_much_there_is_to_tell(
    client, orchard, tree, tag, vera
):
    guide_sync.bring_up_to_date(orchard, NOW)
    tree.story = tree.kind.story = "Word " * 299
    tree.save()
    tree.kind.save()
    seen = [SeenSign("sucker", {"graft": "below", "woody": False})]
    inspections.record(tree, by=vera, now=NOW, seen_at=NOW, findings=seen)
    html = page(client, tag)
    sheet = joined.joined_styles(Path(settings.BASE_DIR) / "static")["css/visitors.css"]
    assert len(html.encode()) + len(sheet.encode()) <= MOST_BYTES
    assert html.count('rel="stylesheet"') == 1


def test_it_says_what_is_seen_what_is_done_and_what_is_planned(
    client, orchard, tree, tag, vera
):
    guide_sync.bring_up_to_date(orchard, NOW)
    inspections.record(
        tree,
        by=vera,
        now=NOW,
        seen_at=NOW,
        findings=[SeenSign("sucker", {"graft": "below", "woody": False})],
    )
    html = page(client, tag)
    assert "We are dealing with it." in html
    assert "We take off the shoots that come from below its graft:" in html
    assert "Vera" not in html


def test_a_story_is_plain_text(client, tree, tag):
    tree.story = "<b>Bold</b>\n\nSecond"
    tree.save()
    html = page(client, tag)
    assert "<p>&lt;b&gt;Bold&lt;/b&gt;</p>" in html
    assert "<p>Second</p>" in html


def test_a_member_can_look_at_it_too(client, tree, tag, eddy, orchard):
    client.force_login(eddy)
    address = reverse("tag", args=[tag.token])
    assert client.get(address).status_code == 302
    html = page(client, tag, "?as-visitor")
    assert "Back to its record" in html


def test_an_educator_writes_the_story_and_sees_the_page(client, tree, tag, eddy):
    client.force_login(eddy)
    address = reverse("tree-story", args=["alderbrook", "A-1"])
    assert "Story of A-1" in client.get(address).content.decode()
    response = client.post(address, {"story": "Grew from a pip."}, follow=True)
    html = response.content.decode()
    assert "Grew from a pip." in html
    assert "Story of A-1 saved." in html
    long = client.post(address, {"story": "a" * 1501})
    assert long.status_code == 422
    assert "a" * 1501 in long.content.decode()


def test_a_cultivars_story_stands_at_each_of_its_trees(client, tree, tag, eddy):
    client.force_login(eddy)
    address = reverse("kind-story", args=["alderbrook", tree.kind_id])
    client.post(address, {"story": "Seedless since ever."})
    client.logout()
    assert "Seedless since ever." in page(client, tag)
