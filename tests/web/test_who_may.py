"""Who may open which address: every address, every kind of person.

Letters: V Vera, L Lee, E Eddy, O Olga, C Cora of Alderbrook. Nobody signed in is sent
to sign in, Otto of Southbank finds no Alderbrook, and a role that is too small is told
so. An address that stands in no row fails.
"""

from __future__ import annotations

import uuid
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from functools import cached_property
from http.cookies import SimpleCookie
from pathlib import Path
from typing import Any

import pytest
from django.db import transaction
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver, reverse
from django.utils import timezone

from orchard.records.models import (
    BulkChange,
    CarePlan,
    Case,
    Change,
    Crown,
    Finding,
    Happening,
    Harvest,
    HarvestedTree,
    HarvestShare,
    Horizon,
    HouseRule,
    Inspection,
    LeafTest,
    Membership,
    PestStatus,
    Photo,
    PracticeAnswer,
    Product,
    Reading,
    Recall,
    RipenessTest,
    Round,
    SecondLook,
    Slide,
    StageNote,
    Tag,
    Task,
    Treatment,
    Watering,
)
from orchard.services import accounts, talks, tasks
from orchard.services.orchards import RESERVED
from orchard.services.talks import NewSlide
from orchard.web.urls import urlpatterns
from tests.conftest import NOW, make_orchard, make_person, make_spot, make_tree

ALL = "VLEOC"
HANDS = "VLEC"
LEADING = "LC"
KEEPING_TALKS = "EOC"
NO = "no such method"

WHY = {"reason": "it was the tree beside"}
EVENT = {"what": "staked", "happened_on": NOW.date().isoformat(), **WHY}
MOVE = {"tree": "A-2", **WHY}
WATERED = {"litres": "20", "given_on": NOW.date().isoformat(), **WHY}
TESTED = {"tested_on": NOW.date().isoformat(), "fruits": "5", "taste": "4", **WHY}
PICKED = {
    "part": "fruit",
    "trees": "A-1",
    "amount": "3",
    "unit": "kg",
    "picked_at": "2026-05-12T09:00",
}
STAGE = {"bbch": "65", "seen_on": NOW.date().isoformat(), **WHY}

# What a permitted POST may answer: done, or sent back to be mended.
ANSWERED = {200, 204, 302, 303, 400, 422}


@dataclass(frozen=True)
class Row:
    """One address: who may look (GET) and who may send (POST).

    `hidden` are members for whom it is not there at all (404 instead of 403).
    """

    name: str
    get: str
    post: str
    args: Callable[[Any], list[Any]] = lambda things: []
    hidden: str = ""
    variant: str = ""
    shows: int = 200
    data: dict[str, str] = field(default_factory=dict)

    @property
    def label(self) -> str:
        return f"{self.name} {self.variant}".strip()


def number(kind: str) -> Callable[[Any], list[Any]]:
    return lambda things: [getattr(things, kind).pk]


def code(things: Any) -> list[Any]:
    return [things.tree.code]


def treated(things: Any) -> list[Any]:
    return [things.treatment.pk, things.tree.code]


def found_dry(things: Any) -> list[Any]:
    return [things.treatment.pk, things.treatment.dry_checks.get().pk]


def slide(things: Any) -> list[Any]:
    return [things.talk_set.pk, things.talk_set.slides.get(kind="text").pk]


def text(*values: Any) -> Callable[[Any], list[Any]]:
    return lambda things: list(values)


INSIDE = [
    Row("home", ALL, NO),
    Row("first-day", ALL, NO),
    Row("board", ALL, NO),
    Row("closed-tasks", ALL, NO),
    Row("board-print", ALL, NO),
    Row("task-new", LEADING, LEADING),
    Row("board-taking", NO, HANDS),
    Row("board-done", NO, HANDS),
    Row("board-skipping", NO, HANDS),
    Row("board-handing", NO, LEADING),
    Row("board-moving", NO, LEADING),
    # Vera did it: nobody else undoes it.
    Row("board-undo", NO, "V", number("bulk_change"), hidden="LEC"),
    Row("ledger", "OC", NO),
    Row("ledger-export", "OC", NO),
    Row("trees", ALL, NO),
    Row("tree-new", LEADING, LEADING),
    Row("tree-show", ALL, NO, code),
    # Without htmx it leads on to the whole page.
    Row("tree-timeline", ALL, NO, code, shows=302),
    Row("tree-details", ALL, LEADING, code),
    Row("tree-spot", LEADING, LEADING, code),
    Row("tree-state", LEADING, LEADING, code),
    Row("tree-removal", LEADING, LEADING, code),
    Row("tree-replacement", LEADING, LEADING, code),
    Row("tree-tag", LEADING, LEADING, code),
    Row("tree-story", "EC", "EC", code),
    Row("event-new", HANDS, HANDS, code),
    Row("stage-new", HANDS, HANDS, code),
    Row("tree-all-well", NO, HANDS, code),
    Row("inspection-new", HANDS, HANDS, code),
    Row(
        "inspection-sign",
        HANDS,
        NO,
        lambda things: [things.tree.code, "sucker"],
    ),
    Row("paper", LEADING, LEADING),
    Row("inspections", ALL, NO),
    Row("inspection-blank", HANDS, NO),
    Row("inspection-show", ALL, NO, number("inspection")),
    # Vera's own inspection: she and those who lead may correct it.
    Row("inspection-correction", "VLC", "VLC", number("inspection"), data=WHY),
    Row("inspection-withdrawal", "VLC", "VLC", number("inspection"), data=WHY),
    Row("inspection-move", "VLC", "VLC", number("inspection"), data=MOVE),
    Row("rounds", HANDS, NO),
    Row("round-new", LEADING, LEADING),
    Row("round-show", HANDS, NO, number("round")),
    Row("round-order", LEADING, LEADING, number("round")),
    Row("round-take", NO, HANDS, number("round")),
    Row("round-handing", NO, LEADING, number("round"), data={"to": "nobody"}),
    # Vera walks it: she and those who lead close it.
    Row("round-closure", NO, "VLC", number("round")),
    Row("round-pages", HANDS, NO, number("round")),
    Row("round-live", LEADING, NO, number("round")),
    Row("strays", HANDS, HANDS),
    # Lee took it: he and those who keep the photos say where it belongs.
    Row(
        "stray-assign",
        "LEC",
        "LEC",
        lambda things: [things.stray.name],
        data={"tree": "A-1"},
    ),
    Row("finding-override", LEADING, LEADING, number("finding")),
    Row("second-looks", LEADING, NO),
    Row("my-second-looks", HANDS, NO),
    Row("second-look", LEADING, LEADING, number("second_look")),
    Row("orchard-event-new", HANDS, HANDS),
    Row("stages", ALL, HANDS),
    Row("event-correction", "VLC", "VLC", number("happening"), data=EVENT),
    Row("event-withdrawal", "VLC", "VLC", number("happening"), data=WHY),
    Row("stage-correction", "VLC", "VLC", number("stage"), data=STAGE),
    Row("stage-withdrawal", "VLC", "VLC", number("stage"), data=WHY),
    Row("task-show", ALL, NO, number("task")),
    Row(
        "task-show",
        LEADING,
        NO,
        number("private_task"),
        hidden="VEO",
        variant="private",
    ),
    Row("task-withdrawal", LEADING, LEADING, number("task_request"), data=WHY),
    Row("task-closure", HANDS, HANDS, number("task")),
    Row(
        "task-closure",
        LEADING,
        LEADING,
        number("private_task"),
        hidden="VE",
        variant="private",
    ),
    Row("task-reopening", NO, HANDS, number("closed_task")),
    Row("task-taking", NO, HANDS, number("task")),
    Row("task-handing", NO, LEADING, number("task")),
    Row("care-plan", "C", NO),
    Row("care-job", ALL, "C", text("sucker_round"), data={"active": "on"}),
    Row("weather", ALL, NO),
    Row("weather-file", LEADING, LEADING),
    Row("reading-new", HANDS, HANDS),
    # Vera's own reading: she and those who lead may withdraw it.
    Row("reading-withdrawal", "VLC", "VLC", number("reading"), data=WHY),
    Row("forecast-new", LEADING, LEADING),
    Row("orchard-details", ALL, "C"),
    Row("blocks", ALL, LEADING),
    Row("block-show", ALL, LEADING, text("A"), data={"form": "block"}),
    Row("kinds", ALL, LEADING),
    Row("kind-show", LEADING, LEADING, number("kind")),
    Row("kind-story", "EC", "EC", number("kind")),
    Row("register", "C", "C"),
    Row("register-example", "C", NO),
    Row("tags", LEADING, NO),
    # The sheet is made from the choice that is sent; without one, choose first.
    Row("tag-sheet", LEADING, LEADING, shows=302),
    Row("tag-codes", ALL, NO),
    Row("outlook", ALL, NO),
    Row("outlook-frost", ALL, NO),
    Row("frost-work", NO, LEADING),
    Row("night-new", HANDS, HANDS),
    Row("outlook-heat", ALL, NO),
    Row("outlook-water", ALL, NO),
    Row("outlook-sun", ALL, NO),
    Row("soil", "C", "C", data={"sort": "loam", "cover": "bare"}),
    Row("watering-new", HANDS, HANDS),
    # Vera's own notes: she and those who lead may mend them.
    Row("watering-correction", "VLC", "VLC", number("watering"), data=WATERED),
    Row("watering-withdrawal", "VLC", "VLC", number("watering"), data=WHY),
    Row("tree-water", ALL, NO, code),
    Row("outlook-ripeness", ALL, NO),
    Row("tree-feeding", ALL, NO, code),
    Row("leaf-tests", ALL, NO),
    Row("leaf-set", "C", "C"),
    Row("leaf-test-new", HANDS, HANDS),
    Row("leaf-test-show", ALL, NO, number("leaf_test")),
    Row("leaf-test-correction", "VLC", "VLC", number("leaf_test")),
    Row("leaf-test-withdrawal", "VLC", "VLC", number("leaf_test"), data=WHY),
    Row("treatments", ALL, NO),
    Row("treatment-choose", HANDS, NO),
    Row("treatment-new", HANDS, HANDS, text("trunk_paint")),
    Row("treatment-new", HANDS, HANDS, text("oil"), variant="of a label"),
    Row("treatment-plan-new", LEADING, LEADING, text("oil")),
    Row("treatment-register", ALL, NO),
    Row("treatment-register-export", ALL, NO),
    Row("treatment-show", ALL, NO, number("treatment")),
    Row("treatment-posting", ALL, NO, number("treatment")),
    Row("treatment-correction", "VLC", "VLC", number("treatment"), data=WHY),
    # Holds would end with it: for those who lead.
    Row("treatment-withdrawal", "VLC", "LC", number("treatment"), data=WHY),
    Row("treatment-adviser", LEADING, LEADING, treated),
    Row("dry-check-new", LEADING, LEADING, number("treatment")),
    Row("dry-check-withdrawal", LEADING, LEADING, found_dry, data=WHY),
    Row("wet-spell-new", HANDS, HANDS),
    Row("products", ALL, NO),
    Row("product-new", LEADING, LEADING, text("oil")),
    Row("product-show", ALL, NO, number("product")),
    Row("product-correction", LEADING, LEADING, number("product"), data=WHY),
    Row("product-withdrawal", LEADING, LEADING, number("product"), data=WHY),
    Row("ripeness-test-new", HANDS, HANDS),
    Row("ripeness-test-correction", "VLC", "VLC", number("ripeness_test"), data=TESTED),
    Row("ripeness-test-withdrawal", "VLC", "VLC", number("ripeness_test"), data=WHY),
    Row("harvests", ALL, NO),
    Row("harvest-new", HANDS, HANDS, data=PICKED),
    Row("harvest-show", ALL, NO, number("harvest")),
    Row("harvest-label", ALL, NO, number("harvest")),
    # Vera picked it and gave some away: she and those who lead may mend it.
    Row(
        "harvest-correction",
        "VLC",
        "VLC",
        number("harvest"),
        data=PICKED | {"reason": "Scale"},
    ),
    Row("harvest-withdrawal", "VLC", "VLC", number("harvest"), data=WHY),
    Row("share-new", HANDS, HANDS, number("harvest")),
    Row("share-correction", "VLC", "VLC", number("harvest_share")),
    Row("share-withdrawal", "VLC", "VLC", number("harvest_share"), data=WHY),
    Row("harvest-recall", LEADING, LEADING, number("harvest"), data=WHY),
    Row("treatment-recall", LEADING, LEADING, number("treatment"), data=WHY),
    Row("recalls", LEADING, NO),
    Row("recall-show", LEADING, LEADING, number("recall")),
    Row("crown-new", HANDS, HANDS, code),
    Row("crown-withdrawal", "VLC", "VLC", number("crown"), data=WHY),
    Row("spot-sun", ALL, NO, lambda things: [things.tree.spot.pk]),
    Row("horizon-new", HANDS, HANDS, lambda things: [things.tree.spot.pk]),
    Row("horizon-withdrawal", "VLC", "VLC", number("horizon"), data=WHY),
    Row("computed", ALL, NO),
    Row("guide", ALL, NO),
    Row("glossary", ALL, NO),
    Row("practice", ALL, ALL),
    Row("practice-away", ALL, NO),
    # Vera's own answer: for everybody else there is none.
    Row("practice-answer", "V", NO, number("practice_answer"), hidden="LEOC"),
    Row("mix-ups", "C", NO),
    Row("guide-sign", ALL, NO, text("sucker")),
    Row("house-rules", ALL, NO),
    Row("house-rule", ALL, "C", text("sucker")),
    Row("house-rule-lifting", NO, "C", text("aphids"), data={"lift-reason": "over"}),
    Row("pests", ALL, "C", data={"code": "PHYNCI"}),
    Row("photos", ALL, NO),
    Row("photos-chosen", "LEC", "LEC"),
    Row("photos-chosen-consents", NO, "LEC"),
    Row("photos-chosen-talk", NO, "EOC"),
    Row(
        "photo-show",
        ALL,
        "LEC",
        lambda things: [things.photo.name],
        data={"people": "nobody", "caption": "A sucker below the graft"},
    ),
    Row(
        "photo-show",
        LEADING,
        LEADING,
        lambda things: [things.private_photo.name],
        hidden="VEO",
        variant="private",
    ),
    Row(
        "photo-withdrawal",
        NO,
        "LEC",
        lambda things: [things.photo.name],
        data=WHY,
    ),
    Row(
        "photo-consents",
        NO,
        "LEC",
        lambda things: [things.photo.name],
        data={"person": "Ann", "use": "talks", "given_on": NOW.date().isoformat()},
    ),
    Row(
        "photo-consents",
        NO,
        LEADING,
        lambda things: [things.private_photo.name],
        hidden="E",
        variant="private",
    ),
    Row(
        "photo-consent-withdrawal",
        "LEC",
        "LEC",
        lambda things: [things.photo.name, things.consent.pk],
        data={"withdrawn_on": NOW.date().isoformat(), **WHY},
    ),
    Row("photo-file", ALL, NO, lambda things: [things.photo.name, "small"]),
    Row(
        "photo-file",
        LEADING,
        NO,
        lambda things: [things.private_photo.name, "small"],
        hidden="VEO",
        variant="private",
    ),
    Row("talks", ALL, KEEPING_TALKS, data={"title": "Citrus"}),
    Row(
        "talk-purposes",
        KEEPING_TALKS,
        KEEPING_TALKS,
        data={"purpose": "years", "tree": "A-1"},
    ),
    Row("talk-show", ALL, KEEPING_TALKS, number("talk_set"), data={"title": "Citrus"}),
    Row("talk-undo", NO, KEEPING_TALKS, number("talk_set")),
    Row("talk-emptying", NO, KEEPING_TALKS, number("talk_set")),
    Row("talk-copy", NO, KEEPING_TALKS, number("talk_set")),
    Row("talk-removal", NO, KEEPING_TALKS, number("talk_set")),
    Row("talk-return", NO, KEEPING_TALKS, number("talk_set")),
    Row("slide-photos", KEEPING_TALKS, KEEPING_TALKS, number("talk_set")),
    Row("slide-new", KEEPING_TALKS, KEEPING_TALKS, number("talk_set")),
    Row("slide-show", KEEPING_TALKS, KEEPING_TALKS, slide),
    Row("slide-place", NO, KEEPING_TALKS, slide, data={"to": "1"}),
    Row("slide-removal", NO, KEEPING_TALKS, slide),
    Row(
        "slide-photo-place",
        NO,
        KEEPING_TALKS,
        lambda things: [*slide(things), 1],
        data={"to": "1"},
    ),
    Row("slide-photo-removal", NO, KEEPING_TALKS, lambda things: [*slide(things), 1]),
    Row("talk-deck", KEEPING_TALKS, NO, number("talk_set")),
    Row("talk-pictures", KEEPING_TALKS, NO, number("talk_set")),
    Row("talk-cards", KEEPING_TALKS, NO, number("talk_set")),
    Row("talk-player", KEEPING_TALKS, NO, number("talk_set")),
    Row("talk-handout", KEEPING_TALKS, NO, number("talk_set")),
    # A suspicion is no business of the others: for them there is no such page.
    Row("cases", LEADING, NO, hidden="VEO"),
    Row("case-show", LEADING, NO, number("case"), hidden="VEO"),
    Row("case-call", NO, LEADING, number("case"), hidden="VEO"),
    Row("case-closure", NO, "C", number("case"), hidden="VEO"),
    Row("people", "C", NO),
    Row("invitation-new", "C", "C"),
    Row("invitation-withdrawal", NO, "C", number("invitation")),
    Row("member-password", NO, "C", number("member")),
    Row("member-role", "C", "C", number("member")),
    Row("member-leaving", "C", "C", number("member")),
    Row("account-leaving", ALL, ALL),
]

# Addresses outside an orchard: what nobody gets, and what everybody signed in gets.
OPEN: dict[str, tuple[Callable[[Any], list[Any]], dict[str, tuple[int, int]]]] = {
    "start": (text(), {"GET": (302, 302), "POST": (405, 405)}),
    "up": (text(), {"GET": (200, 200), "POST": (405, 405)}),
    "sign-in": (text(), {"GET": (200, 302), "POST": (422, 302)}),
    "sign-out": (text(), {"GET": (405, 405), "POST": (302, 302)}),
    "password-forgotten": (text(), {"GET": (200, 200), "POST": (422, 422)}),
    "password-new": (
        lambda things: list(accounts.link_parts(things.member.user)),
        # The link leads on to its form, at an address without the token.
        {"GET": (302, 302), "POST": (302, 302)},
    ),
    "join": (
        lambda things: [things.join_token],
        # Signed in under another address: told so, and nothing is accepted.
        {"GET": (200, 200), "POST": (422, 422)},
    ),
    # A greeting for everybody; what comes without a readable entry is refused.
    "inbox": (text(), {"GET": (200, 200), "POST": (401, 400)}),
    # The same shells for everybody: nobody's data stands in them.
    "outbox": (text(), {"GET": (200, 200), "POST": (405, 405)}),
    "offline": (text(), {"GET": (200, 200), "POST": (405, 405)}),
    "worker": (text(), {"GET": (200, 200), "POST": (405, 405)}),
    "manifest": (text(), {"GET": (200, 200), "POST": (405, 405)}),
    "words": (text(), {"GET": (200, 200), "POST": (405, 405)}),
    "account": (text(), {"GET": (302, 200), "POST": (405, 405)}),
    "account-name": (text(), {"GET": (302, 200), "POST": (302, 422)}),
    "account-password": (text(), {"GET": (302, 200), "POST": (302, 422)}),
    "back-room-sign-in": (text(), {"GET": (302, 403), "POST": (302, 403)}),
}
# The tag leads members to the tree and shows everybody else its public page; an orchard
# has a page for visitors where its coordinator wants one, and a photo is shown to all
# as long as it may be: tests/web/visitors.
SPECIAL = {"tag", "look", "visit", "public-photo"}


@dataclass
class Things:
    """One of each, in Alderbrook."""

    @cached_property
    def browsers(self) -> dict[str, Client]:
        """A browser for each of the people, signed in."""
        clients = {letter: Client() for letter in self.people}
        for letter, client in clients.items():
            client.force_login(self.people[letter])
        return clients

    orchard: Any
    people: dict[str, Any]
    vera: Any
    tree: Any
    tag: Any
    inspection: Any
    finding: Any
    second_look: Any
    happening: Any
    stage: Any
    task: Any
    task_request: Any
    private_task: Any
    bulk_change: Any
    closed_task: Any
    photo: Any
    private_photo: Any
    consent: Any
    stray: Any
    round: Any
    reading: Any
    case: Any
    invitation: Any
    join_token: str
    member: Any
    kind: Any
    watering: Any
    ripeness_test: Any
    leaf_test: Any
    practice_answer: Any
    product: Any
    treatment: Any
    crown: Any
    horizon: Any
    harvest: Any
    harvest_share: Any
    recall: Any
    talk_set: Any


@pytest.fixture
def things(db, settings, tmp_path) -> Things:
    settings.MEDIA_ROOT = tmp_path
    return make_things(tmp_path)


def make_things(media: Path) -> Things:
    """Make one of each, with its photos in a folder."""
    orchard = make_orchard()
    cast = {
        letter: make_person(name, orchard, role)
        for letter, name, role in [
            ("V", "Vera", "volunteer"),
            ("L", "Lee", "lead"),
            ("E", "Eddy", "educator"),
            ("O", "Olga", "office"),
            ("C", "Cora", "coordinator"),
        ]
    }
    otto = make_person("Otto", make_orchard("southbank", south=True), "coordinator")
    lee, vera, cora = cast["L"], cast["V"], cast["C"]
    tree = make_tree(orchard)
    make_spot(orchard, "3")
    make_tree(orchard, "A-2")
    inspection = make_inspection(orchard, tree, vera)
    private = make_finding(make_inspection(orchard, tree, lee), private=True)
    finding = make_finding(inspection)
    invited = accounts.invite(
        orchard,
        email="nia@example.org",
        role="lead",
        by=cora,
        now=timezone.now(),
    )
    closed = make_task(orchard, tree, 3, closed_at=NOW)
    closed.closures.create(
        how="done", by=vera, done_on=NOW.date(), closed_at=NOW, evidence="a photo"
    )
    CarePlan.objects.create(orchard=orchard, job="sucker_round", set_at=NOW)
    PestStatus.objects.create(
        orchard=orchard, code="PHYNCI", status="common", set_at=NOW
    )
    HouseRule.objects.create(
        orchard=orchard,
        sign="aphids",
        rules=[{"if": {}, "verdict": "watch", "recheck": 7, "because": "We look."}],
        reason="Ladybirds do the work here.",
        starts_on=NOW.date(),
        author=cora,
        written_at=NOW,
    )
    [asked] = make_one_off(orchard, [tree], by=cora)
    pia = make_person("Pia", orchard, "volunteer")
    product = Product.objects.create(
        orchard=orchard,
        kind="oil",
        name="Summer oil",
        entry_rule="until_dry",
        checked_on=NOW.date(),
        by=lee,
        received_at=NOW,
    )
    photo = make_photo(orchard, tree, lee, media)
    harvest = Harvest.objects.create(
        orchard=orchard,
        lot="ALDERBROOK-20260512-A-1",
        part="fruit",
        picked_at=NOW,
        by=vera,
        received_at=NOW,
    )
    HarvestedTree.objects.create(harvest=harvest, tree=tree, kg=4.0)
    share = HarvestShare.objects.create(
        orchard=orchard,
        harvest=harvest,
        use="tasting",
        given_on=NOW.date(),
        kg=1.0,
        by=vera,
        received_at=NOW,
    )
    return Things(
        orchard=orchard,
        people={**cast, "X": otto},
        vera=vera,
        tree=tree,
        tag=Tag.objects.create(tree=tree, token="t" * 22, made_at=NOW),
        inspection=inspection,
        finding=finding,
        second_look=SecondLook.objects.create(
            finding=finding, orchard=orchard, asked_at=NOW
        ),
        happening=Happening.objects.create(
            orchard=orchard,
            tree=tree,
            what="staked",
            happened_on=NOW.date(),
            by=vera,
            received_at=NOW,
        ),
        stage=StageNote.objects.create(
            orchard=orchard,
            tree=tree,
            bbch=65,
            seen_on=NOW.date(),
            by=vera,
            received_at=NOW,
        ),
        task=make_task(orchard, tree, 1),
        task_request=asked.request,
        private_task=make_task(orchard, tree, 2, private=True),
        bulk_change=BulkChange.objects.create(
            orchard=orchard, by=vera, made_at=NOW, deed="take", before={}
        ),
        closed_task=closed,
        photo=photo,
        private_photo=make_photo(
            orchard, tree, lee, media, private=True, finding=private
        ),
        consent=photo.consents.create(
            person="Ann",
            use="talks",
            given_on=NOW.date(),
            noted_by=lee,
            noted_at=NOW,
        ),
        stray=make_photo(orchard, None, lee, media),
        round=make_round(orchard, tree, by=lee, to=vera),
        reading=Reading.objects.create(
            orchard=orchard,
            what="now",
            at=NOW,
            on=NOW.date(),
            celsius=8,
            by=vera,
            received_at=NOW,
        ),
        case=Case.objects.create(
            orchard=orchard,
            tree=tree,
            sign="psyllid_nymph",
            finding=private,
            opened_at=NOW,
            opened_by=lee,
        ),
        invitation=invited.invitation,
        join_token=invited.token,
        member=Membership.objects.get(user=pia),
        kind=tree.kind,
        watering=Watering.objects.create(
            orchard=orchard,
            tree=tree,
            given_on=NOW.date(),
            litres=10.0,
            by=vera,
            received_at=NOW,
        ),
        practice_answer=PracticeAnswer.objects.create(
            orchard=orchard,
            by=vera,
            sign="sucker",
            taken_for="water_sprout",
            level="drawing",
            answered_at=NOW,
        ),
        leaf_test=LeafTest.objects.create(
            orchard=orchard,
            tree=tree,
            kind=tree.kind,
            taken_on=NOW.date(),
            leaf_months=5.0,
            contents={"N": 2.5},
            by=vera,
            received_at=NOW,
        ),
        ripeness_test=RipenessTest.objects.create(
            orchard=orchard,
            tree=tree,
            tested_on=NOW.date(),
            fruits=5,
            brix_read=10.4,
            acid_percent=1.1,
            by=vera,
            received_at=NOW,
        ),
        product=product,
        treatment=make_treatment(orchard, tree, product, vera),
        crown=Crown.objects.create(
            orchard=orchard,
            tree=tree,
            measured_on=NOW.date(),
            width_m=3.0,
            by=vera,
            received_at=NOW,
        ),
        harvest=harvest,
        harvest_share=share,
        talk_set=talks.start(
            orchard,
            title="Citrus",
            slides=[NewSlide(Slide.Kind.TEXT, title="Look first")],
            by=cast["E"],
            now=NOW,
        ),
        recall=Recall.objects.create(
            orchard=orchard,
            harvest=harvest,
            because="A wrong label",
            opened_at=NOW,
            opened_by=lee,
        ),
        horizon=Horizon.objects.create(
            orchard=orchard,
            spot=tree.spot,
            surveyed_on=NOW.date(),
            points=[[0, 5], [90, 10], [180, 5], [270, 10]],
            by=vera,
            received_at=NOW,
        ),
    )


def make_treatment(orchard, tree, product, by) -> Treatment:
    row = Treatment.objects.create(
        orchard=orchard,
        kind="oil",
        started_at=NOW,
        ended_at=NOW,
        by=by,
        received_at=NOW,
    )
    row.products.create(product=product)
    row.reached.create(
        orchard=orchard, tree=tree, reach="treated", is_on_label=False, counts=True
    )
    row.dry_checks.create(
        orchard=orchard, dry_at=NOW, qualified="Licence 7", by=by, received_at=NOW
    )
    return row


def make_round(orchard, tree, *, by, to) -> Round:
    row = Round.objects.create(
        orchard=orchard,
        name="Morning round",
        walk_on=NOW.date(),
        made_by=by,
        made_at=NOW,
        taken_by=to,
        taken_at=NOW,
    )
    row.stops.create(tree=tree, position=1)
    return row


def make_inspection(orchard, tree, by) -> Inspection:
    return Inspection.objects.create(
        orchard=orchard,
        tree=tree,
        by=by,
        seen_on=NOW.date(),
        seen_at=NOW,
        made_at=NOW,
        received_at=NOW,
    )


def make_finding(inspection, *, private=False) -> Finding:
    return Finding.objects.create(
        inspection=inspection,
        tree=inspection.tree,
        sign="psyllid_nymph" if private else "sucker",
        part="trunk",
        answers={"yes": True},
        verdict="report" if private else "act",
        due_on=NOW.date(),
        because=["It comes from below the graft."],
        rule="sucker/1",
        edition="2026.1",
        private=private,
    )


def make_one_off(orchard, places, *, by, **asked) -> list[Task]:
    today = NOW.date()
    values = {"title": "Paint the stakes", "due_on": today, **asked}
    outcome = tasks.ask_for(
        orchard, tasks.OneOff(**values), places, by=by, now=NOW, today=today
    )
    return list(Task.objects.filter(pk__in=outcome.change.before).order_by("pk"))


def make_task(orchard, tree, occurrence, **fields) -> Task:
    return Task.objects.create(
        orchard=orchard,
        tree=tree,
        block=tree.spot.block,
        kind="report" if fields.get("private") else "care",
        rank=0 if fields.get("private") else 2,
        key="psyllid_nymph" if fields.get("private") else "sucker_round",
        occurrence=str(occurrence),
        title="Look for suckers",
        opens_on=NOW.date(),
        due_on=NOW.date(),
        rhythm_days=30,
        made_at=NOW,
        **fields,
    )


def make_photo(orchard, tree, by, store, finding=None, **fields) -> Photo:
    from PIL import Image

    name = uuid.uuid4()
    folder = store / name.hex[:2] / name.hex
    folder.mkdir(parents=True)
    for size in ("large", "middle", "small"):
        Image.new("RGB", (8, 8)).save(folder / f"{size}.jpg")
    Image.new("RGB", (8, 8)).save(folder / "original", "JPEG")
    photo = Photo.objects.create(
        orchard=orchard,
        by=by,
        name=name,
        sha256=name.hex * 2,
        file_format="JPEG",
        width=8,
        height=8,
        size_bytes=600,
        received_at=NOW,
        **fields,
    )
    if tree is not None:
        photo.trees.add(tree)
    if finding is not None:
        photo.findings.add(finding)
    return photo


def ask(
    visitor: Client, method: str, address: str, data: dict[str, str] | None = None
) -> tuple[int, int]:
    """Ask as one person; return status and lines written, and let nothing stay."""
    client = Client()
    # A copy: what signs out, or sets a cookie, does so for this one time.
    client.cookies = SimpleCookie(
        {name: morsel.value for name, morsel in visitor.cookies.items()}
    )
    before = Change.objects.count()
    with transaction.atomic():
        answer = client.get(address) if method == "GET" else client.post(address, data)
        status = answer.status_code
        lines = Change.objects.count() - before
        transaction.set_rollback(True)
    return status, lines


def addresses() -> Iterator[str]:
    """List the name of every address of the project, the back room's aside."""

    def walk(patterns) -> Iterator[str]:
        for pattern in patterns:
            if isinstance(pattern, URLPattern):
                yield pattern.name
            elif isinstance(pattern, URLResolver) and pattern.namespace != "admin":
                yield from walk(pattern.url_patterns)

    yield from walk(get_resolver().url_patterns)


def test_every_address_stands_in_the_table():
    known = {row.name for row in INSIDE} | set(OPEN) | SPECIAL
    assert sorted(set(addresses()) - known) == []
    assert sorted(known - set(addresses()) - {"look"}) == []


def test_every_first_word_of_an_address_is_kept_from_orchards():
    words = {str(pattern.pattern).split("/")[0] for pattern in urlpatterns}
    assert {word for word in words if word and "<" not in word} <= RESERVED


def expected(row: Row, method: str) -> dict[str, set[int]]:
    """Return the statuses each person may get, by letter; N is nobody."""
    allowed = row.get if method == "GET" else row.post
    if allowed == NO:
        # Whether the door or the method is looked at first tells an outsider nothing.
        return {**dict.fromkeys(ALL, {405}), "N": {302, 405}, "X": {404, 405}}
    statuses = {"N": {302}, "X": {404}}
    for letter in ALL:
        if letter in allowed:
            statuses[letter] = {row.shows} if method == "GET" else ANSWERED
        elif letter in row.hidden:
            statuses[letter] = {404}
        else:
            statuses[letter] = {403}
    return statuses


@pytest.mark.on_sqlite
@pytest.mark.parametrize("method", ["GET", "POST"])
def test_every_address_of_an_orchard_opens_to_whom_it_should(method, things):
    wrong = {}
    for row in INSIDE:
        address = reverse(row.name, args=["alderbrook", *row.args(things)])
        wanted = expected(row, method)
        for letter, visitor in visitors(things):
            status, lines = ask(visitor, method, address, row.data)
            if status not in wanted[letter]:
                wrong[row.label, letter] = (status, sorted(wanted[letter]))
            elif lines and (letter == "N" or not wanted[letter] & ANSWERED):
                wrong[row.label, letter] = "refused, and yet it wrote a line"
    assert wrong == {}


@pytest.mark.parametrize("method", ["GET", "POST"])
def test_every_address_outside_orchards_answers_as_it_should(method, things):
    wrong = {}
    for name, (args, statuses) in OPEN.items():
        address = reverse(name, args=args(things))
        nobody, somebody = statuses[method]
        for letter, visitor in visitors(things):
            status, _lines = ask(visitor, method, address)
            if status != (nobody if letter == "N" else somebody):
                wrong[name, letter] = status
    assert wrong == {}


def visitors(things: Things) -> list[tuple[str, Client]]:
    """Return a browser for everybody, signed in but for N."""
    return [("N", Client()), *((x, things.browsers[x]) for x in things.people)]


def test_a_tag_leads_members_to_the_tree_and_shows_others_its_public_page(things):
    address = reverse("tag", args=[things.tag.token])
    for letter, visitor in visitors(things):
        status, _lines = ask(visitor, "GET", address)
        assert status == (302 if letter in ALL else 200), letter
        assert ask(visitor, "POST", address)[0] == 405, letter


def test_an_orchard_that_is_not_there_looks_the_same_as_one_of_others(things):
    for slug in ("alderbrook", "nowhere"):
        address = reverse("people", args=[slug])
        assert ask(things.browsers["X"], "GET", address)[0] == 404


def test_who_has_left_is_an_outsider(things):
    Membership.objects.filter(user=things.vera).update(left_at=timezone.now())
    address = reverse("people", args=["alderbrook"])
    assert ask(things.browsers["V"], "GET", address)[0] == 404


def test_a_deactivated_person_is_nobody(things):
    things.vera.is_active = False
    things.vera.save(update_fields=["is_active"])
    assert ask(things.browsers["V"], "GET", reverse("account"))[0] == 302
