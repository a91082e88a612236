"""The story of a sucker: seen under the tree, done by the crew, told by the timeline.

Once in the north and once in the south: the same story, the other season.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from io import BytesIO

import pytest
from django.urls import reverse
from django.utils import timezone
from PIL import Image
from playwright.sync_api import expect

from orchard.records.models import Kind, Membership, Photo, Tag, Task, User
from orchard.services import care_plan, orchards
from tests.conftest import NOW, PASSWORD, make_person, make_tree
from tests.flows.conftest import GPS, answer_more, card_came, sign_in, tile, until


@dataclass
class Half:
    """One half of the earth: where its orchard lies, and what its pages must say.

    The guide keeps months of the season; which months these are follows from the
    seasons by calendar months, spring from March in the north and from September in
    the south (Bureau of Meteorology of Australia, climate glossary, from memory).
    """

    place: dict[str, str]
    suckers: str
    mulch: str
    ripe: str


HALVES = {
    "north": Half(
        {"time_zone": "Europe/Lisbon", "latitude": "38.5", "longitude": "-8.5"},
        suckers="March to October",
        mulch="1 May to 15 Jun",
        ripe="November to February",
    ),
    "south": Half(
        {"time_zone": "Australia/Adelaide", "latitude": "-34.8", "longitude": "139"},
        suckers="September to April",
        mulch="1 Nov to 15 Dec",
        ripe="May to August",
    ),
}
OTHER = {"north": "south", "south": "north"}


@dataclass
class Garden:
    orchard: object
    vera: User
    cora: User
    tree: object
    tag: Tag


@pytest.fixture
def garden(db, own_store, request) -> Garden:
    """Found an orchard as people do, with all that the guide brings to it."""
    cora = User.objects.create_user("cora@example.org", "Cora", PASSWORD)
    orchard = orchards.found(
        name="Rivermead",
        place="Nowhere-on-the-Water",
        coordinator=cora,
        now=NOW,
        **HALVES[request.param].place,
    )
    navel = Kind.objects.get(orchard=orchard, name="Washington navel")
    tree = make_tree(orchard, "C-7", kind=navel)
    return Garden(
        orchard=orchard,
        vera=make_person("Vera", orchard, Membership.Role.VOLUNTEER),
        cora=cora,
        tree=tree,
        tag=Tag.objects.create(tree=tree, token="t" * 22, made_at=NOW),
    )


@pytest.mark.parametrize("garden", HALVES, indirect=True)
def test_a_sucker_from_the_tag_to_the_timeline(phone, desk, garden, camera_photo):
    vera_logs_it(phone, garden, camera_photo)
    finding = garden.tree.findings.get()
    task = Task.objects.get(finding=finding, kind=Task.Kind.ACT)
    assert finding.verdict == "act"
    assert task.due_on == finding.inspection.seen_on + timedelta(days=14)
    cora_closes_it(desk, garden, task)
    the_timeline_tells_it(desk, garden)
    no_place_leaves_with_a_photo(phone, garden)


def vera_logs_it(page, garden, photo) -> None:
    """Scan the tag, sign in, name the sign, read the verdict, save it with a photo."""
    page.goto(reverse("tag", args=[garden.tag.token]))
    expect(page.get_by_role("heading", level=1)).to_have_text("Washington navel")
    page.get_by_role("link", name="Sign in").tap()
    page.fill("input[name=email]", garden.vera.email)
    page.fill("input[name=password]", PASSWORD)
    page.press("input[name=password]", "Enter")
    page.wait_for_url("**/rivermead/trees/C-7/")
    page.get_by_role("link", name="Something to note").tap()
    # Its word finds a sign at any time of the year.
    page.get_by_label("Find by everyday words").fill("sucker")
    tile(page, "sign", "sucker").tap()
    card_came(page, "sucker")
    sign = page.locator('[data-sign="sucker"]')
    said = sign.locator("[data-said]")
    expect(said).to_be_hidden()
    tile(page, "sucker:graft", "below").tap()
    answer_more(page, "sucker:woody", "no")
    expect(said).to_contain_text("Act")
    expect(said).to_contain_text("Do it within 14 days.")
    expect(said).to_contain_text("it outgrows the tree if it stays")
    expect(sign.locator("[data-do]")).to_contain_text("Thorns: eye protection")
    page.set_input_files('input[name="sucker:photo"]', photo)
    page.get_by_role("button", name="Save").tap()
    page.wait_for_url(re.compile(r"/inspections/\d+/$"))
    told = page.locator(".verdict-said")
    expect(told).to_contain_text("Act")
    expect(told).to_contain_text("in 14 days")
    expect(told).to_contain_text("it outgrows the tree if it stays")
    follows = page.locator(".follows li")
    expect(follows.first).to_contain_text("in 14 days")
    expect(follows.last).to_contain_text("in 30 days")
    # The photo goes after its record; the phone says so until it has gone.
    until(page, Photo.objects.filter(orchard=garden.orchard).exists)


def cora_closes_it(page, garden, task) -> None:
    """Find the work on the board, read why, and close it with what proves it."""
    sign_in(page, garden.cora, PASSWORD)
    page.goto("/rivermead/board/")
    page.get_by_role("link", name="Rootstock sucker").click()
    line = page.locator(f"#task-{task.pk}")
    expect(line).to_contain_text("C-7")
    group = page.locator("#group-due-act-sucker")
    expect(group).to_contain_text("it outgrows the tree if it stays")
    expect(group).to_contain_text("Act")
    expect(line).to_contain_text("in 14 days")
    line.get_by_role("link", name="C-7").click()
    page.get_by_role("link", name="Close task").click()
    page.get_by_label("What was done").fill("Two came off on the north side")
    page.get_by_role("button", name="Close task").click()
    page.wait_for_url("**/board/?**")
    expect(page.locator(".notice.done")).to_contain_text("C-7: closed.")
    expect(page.locator(f"#task-{task.pk}")).to_have_count(0)


def the_timeline_tells_it(page, garden) -> None:
    page.goto("/rivermead/trees/C-7/")
    events = page.locator(".timeline .event")
    look = events.filter(has_text="it outgrows the tree if it stays")
    expect(look).to_have_count(1)
    expect(look).to_contain_text("Act")
    expect(look).to_contain_text("Rootstock sucker")
    expect(look).to_contain_text("Vera")
    expect(look.locator("img")).to_have_count(1)
    work = events.filter(has_text="Two came off on the north side")
    expect(work).to_have_count(1)
    open_tasks = page.locator(".open-task").filter(has_text="It is rootstock living")
    expect(open_tasks.get_by_role("link", name="Pull")).to_have_count(0)


def no_place_leaves_with_a_photo(page, garden) -> None:
    """Fetch each size as the page does: upright, and without what the camera wrote."""
    photo = Photo.objects.get(orchard=garden.orchard)
    assert photo.taken_at == datetime(2026, 5, 11, 15, 20, 5, tzinfo=UTC)
    for size in ("large", "middle", "small"):
        address = reverse("photo-file", args=["rivermead", photo.name, size])
        body = page.request.get(address).body()
        shown = Image.open(BytesIO(body))
        assert shown.height > shown.width, "the photo lies on its side"
        assert not shown.getexif(), size
        assert not shown.getexif().get_ifd(GPS), size
        assert b"INVENTED-CAMERA" not in body, size


@pytest.mark.parametrize("garden", HALVES, indirect=True)
def test_seasons_are_those_of_the_orchard(desk, garden, request):
    half = request.node.callspec.params["garden"]
    here, there = HALVES[half], HALVES[OTHER[half]]
    pages = {
        reverse("tag", args=[garden.tag.token]): "ripe",
        "/rivermead/guide/sucker/": "suckers",
        "/rivermead/care/mulch/": "mulch",
    }
    for address, what in pages.items():
        if what == "suckers":
            sign_in(desk, garden.cora, PASSWORD)
        desk.goto(address)
        main = desk.locator("main")
        expect(main).to_contain_text(getattr(here, what))
        expect(main).not_to_contain_text(getattr(there, what))


@pytest.mark.parametrize("garden", HALVES, indirect=True)
def test_work_of_a_season_opens_in_the_season_of_the_orchard(garden, request):
    half = request.node.callspec.params["garden"]
    day = {"north": date(2026, 5, 2), "south": date(2026, 11, 2)}
    now = timezone.now()
    for side, today in day.items():
        Task.objects.filter(orchard=garden.orchard).delete()
        care_plan.open_next(garden.orchard, now=now, today=today)
        mulch = Task.objects.filter(orchard=garden.orchard, kind="care", key="mulch")
        assert mulch.exists() == (side == half), (half, today)
