"""A tree with an open case, page by page and role by role: left alone, and why not."""

from __future__ import annotations

import json
from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from orchard.records.models import Task
from orchard.services import inspections, ripeness, rounds
from orchard.services.inspections import SeenSign
from tests.conftest import make_person, make_tree

pytestmark = pytest.mark.django_db
REASON = "asked to leave this tree alone"
SECRETS = ("psyllid", "suspect", "Case ", "/cases/", "authority has not")
ROLES = ("volunteer", "lead", "educator", "office", "coordinator")
WHO_MAY_KNOW = ("lead", "coordinator")
# Page, whose roles may open it, and whether it has to say the reason.
PAGES = [
    ("home", "volunteer lead educator office coordinator", False),
    ("board", "volunteer lead educator office coordinator", True),
    ("tree-show", "volunteer lead educator office coordinator", True),
    ("task-show", "volunteer lead educator office coordinator", True),
    ("task-closure", "volunteer lead educator coordinator", True),
    ("inspection-new", "volunteer lead educator coordinator", True),
    ("round-show", "volunteer lead educator coordinator", True),
    ("outlook", "volunteer lead educator office coordinator", False),
    ("outlook-ripeness", "volunteer lead educator office coordinator", True),
    ("ripeness-test-new", "volunteer lead educator coordinator", False),
    ("round-pages", "volunteer lead educator coordinator", True),
]
CASES = [
    (page, role, says)
    for page, roles, says in PAGES
    for role in ROLES
    if role in roles.split()
]


@pytest.fixture
def world(orchard, tree, vera, lee):
    """Make a tree under suspicion with a cut to do, ripe, on a round."""
    now = timezone.now()
    today = timezone.localdate()
    orchard.founded_at = now - timedelta(days=800)
    orchard.save()
    task = Task.objects.create(
        orchard=orchard, tree=tree, block_id=tree.spot.block_id, kind="care",
        rank=Task.RANKS["care"], key="sucker_round", title="Take off suckers",
        opens_on=today, due_on=today, rhythm_days=30, occurrence="1", made_at=now,
    )  # fmt: skip
    for number, grown in enumerate([tree, make_tree(orchard, "B-1")]):
        ripeness.note_test(
            grown, tested_on=today, fruits=5, brix_read=11.4, acid_percent=1.2,
            juice_percent=40.0, taste=4, tasters=3, by=lee, now=now, today=today,
            note=str(number),
        )  # fmt: skip
    # Somebody else saw it: no role meets a finding of its own.
    finder = make_person("Fay", orchard, "volunteer")
    inspections.record(
        tree,
        by=finder,
        now=now,
        seen_at=now,
        findings=[SeenSign("psyllid_nymph", {"count": 2})],
    )
    row = rounds.make_round(
        orchard, by=lee, now=now, today=today, name="Block A", walk_on=today,
        trees=[tree],
    )  # fmt: skip
    return {"task": task.pk, "round": row.pk, "tree": tree.code}


def address(orchard, world, page):
    own = {
        "tree-show": [world["tree"]],
        "inspection-new": [world["tree"]],
        "task-show": [world["task"]],
        "task-closure": [world["task"]],
        "round-show": [world["round"]],
        "round-pages": [world["round"]],
    }
    url = reverse(page, args=[orchard.slug, *own.get(page, [])])
    queries = {"round-pages": "?part=cards", "board": "?open=due-care-sucker_round"}
    return url + queries.get(page, "")


@pytest.mark.parametrize(("page", "role", "says"), CASES)
def test_a_page_says_to_leave_it_alone_and_tells_the_reason_to_nobody_else(
    client, orchard, world, page, role, says
):
    client.force_login(make_person("Reader", orchard, role))
    answer = client.get(address(orchard, world, page))
    assert answer.status_code == 200
    text = answer.content.decode()
    if page == "round-pages":
        # The cards of all signs name every pest of the guide: only steps count here.
        texts = json.loads(text)["texts"]
        assert any(REASON in part for part in texts)
        return
    if says:
        assert REASON in text
    if role in WHO_MAY_KNOW:
        return
    if page == "inspection-new":
        # The form has every sign of the guide; what it says of this tree does not.
        assert "/cases/" not in text
        return
    for secret in SECRETS:
        assert secret not in text, secret
