"""Roots that do not suit a cultivar, and trees planted too late in the season."""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest

from orchard.records.models import Change, Kind
from orchard.services import trees
from tests.conftest import make_orchard, make_person, make_spot
from tests.refusals import refused

pytestmark = pytest.mark.django_db
TODAY = date(2026, 4, 20)
NOW = datetime(2026, 4, 20, 9, tzinfo=UTC)


@pytest.fixture
def orchard(db):
    return make_orchard()


@pytest.fixture
def cora(orchard):
    return make_person("Cora", orchard, "coordinator")


@pytest.fixture
def eureka(orchard):
    return Kind.objects.create(
        orchard=orchard, name="Eureka lemon", guide_key="Eureka lemon"
    )


def planted(orchard, by, kind, rootstock, code="A-1", on=TODAY, **more):
    return trees.plant(
        orchard, by=by, now=NOW, today=on, spot=make_spot(orchard), code=code,
        kind=kind, rootstock=rootstock, planted_on=on, **more,
    )  # fmt: skip


# Lacey and Foord, Citrus rootstocks for Western Australia; C-35 from memory.
@pytest.mark.parametrize(
    "root",
    [
        "Trifoliate orange (Poncirus trifoliata)",
        "trifoliate",
        "Carrizo",
        "Troyer citrange",
        "Swingle citrumelo",
        "C-35",
    ],
)
def test_a_root_that_does_not_suit_is_refused(orchard, cora, eureka, root):
    with refused("poor_match", match="say why") as caught:
        planted(orchard, cora, eureka, root)
    assert caught.value.field == "despite"


def test_it_is_planted_all_the_same_when_somebody_says_why(orchard, cora, eureka):
    tree = planted(orchard, cora, eureka, "Carrizo", despite="To show how it fails")
    line = Change.objects.get(subject_type="tree", subject_id=tree.pk)
    assert (line.by, line.reason) == (cora, "To show how it fails")


@pytest.mark.parametrize("root", ["Rough lemon", "Alemow", "a root of our own", ""])
def test_other_roots_are_planted_without_a_word(orchard, cora, eureka, root):
    assert planted(orchard, cora, eureka, root).pk


def test_a_correction_is_asked_as_well(orchard, cora, eureka):
    tree = planted(orchard, cora, eureka, "Rough lemon")
    mend = {"by": cora, "now": NOW, "today": TODAY, "reason": "Misread label"}
    with refused("poor_match"):
        trees.correct(tree, **mend, rootstock="Carrizo / Troyer citrange")
    tree.refresh_from_db()
    trees.correct(tree, **mend, rootstock="Carrizo", despite="As the label has it")
    assert "As the label has it" in Change.objects.order_by("-pk").first().reason


@pytest.mark.parametrize(
    ("on", "setting", "late"),
    [
        # Season month 7 is September in the north: common practice, no source.
        (date(2026, 9, 30), "ground", False),
        (date(2026, 10, 1), "ground", True),
        (date(2026, 10, 1), "container", False),
    ],
)
def test_late_planting_in_the_ground_is_warned_of(
    orchard, cora, eureka, on, setting, late
):
    tree = planted(orchard, cora, eureka, "Rough lemon", on=on, setting=setting)
    assert bool(trees.late_planting(tree, today=on)) is late
    assert trees.late_planting(tree, today=date(2027, 4, 1)) == ""
