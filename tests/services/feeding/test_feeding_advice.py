"""How much a tree is fed, what it had, and why nothing now."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from orchard.records.models import Crown
from orchard.services import feeding, inspections, treatments
from orchard.services.inspections import SeenSign
from tests.conftest import NOW, TODAY, make_tree
from tests.services.treatments.helpers import add, use

pytestmark = pytest.mark.django_db
WHEN = {"now": NOW, "today": TODAY}


def crown(tree, by, width):
    Crown.objects.create(
        orchard=tree.orchard, tree=tree, measured_on=TODAY, width_m=width, by=by,
        received_at=NOW,
    )  # fmt: skip


def fed(tree, by, grams, at):
    found = treatments.products_of(tree.orchard, "fertiliser")
    bag = found[0] if found else add(
        tree.orchard, by, NOW, "fertiliser", name="Slow feed", dose_unit="g_per_tree",
        most_dose=None, nitrogen_percent=12.0,
    )  # fmt: skip
    brought = use(bag, tree, at=at, dose=grams, total=grams, unit="g", size=1.0)
    treatments.record(tree.orchard, brought, by=by, **WHEN)


def test_a_grown_tree_is_fed_by_its_crown_less_what_it_had(tree, lee):
    assert "measure its crown" in feeding.advice_for(tree, **WHEN).why_not
    crown(tree, lee, 3.0)
    advice = feeding.advice_for(tree, **WHEN)
    assert advice.year.grams == pytest.approx(141.37, abs=0.01)
    assert advice.why_not == ""
    fed(tree, lee, 500.0, NOW - timedelta(days=20))
    advice = feeding.advice_for(tree, **WHEN)
    assert advice.given_grams == pytest.approx(60.0)
    assert advice.left_grams == pytest.approx(81.37, abs=0.01)
    # A dose of 47.1 g of nitrogen is 393 g of a bag with 12 %.
    [dose] = advice.products
    assert dose.grams == pytest.approx(392.7, abs=0.1)
    fed(tree, lee, 900.0, NOW - timedelta(days=2))
    assert "has had its nitrogen" in feeding.advice_for(tree, **WHEN).why_not
    # What was given a year ago counts no more.
    other = make_tree(tree.orchard, "A-2")
    crown(other, lee, 3.0)
    fed(other, lee, 900.0, NOW - timedelta(days=340))
    assert feeding.advice_for(other, **WHEN).given_grams == 0


def test_a_pot_is_fed_by_its_litres_only(orchard, lee):
    pot = make_tree(orchard, "A-3", setting="container", container_litres=30)
    assert feeding.advice_for(pot, **WHEN).year.grams == pytest.approx(18.0)
    bare = make_tree(orchard, "A-4", setting="container")
    advice = feeding.advice_for(bare, **WHEN)
    assert (advice.year, advice.why_not) == (
        None, "No figure: enter the litres of its pot first.",
    )  # fmt: skip


def test_nothing_in_winter_nor_late_in_the_season(tree, lee):
    crown(tree, lee, 3.0)
    # Frost is expected from 1 November here: nothing after 3 August.
    for day, open_now in (
        (date(2026, 8, 3), True), (date(2026, 8, 4), False),
        (date(2026, 12, 20), False), (date(2027, 2, 15), True),
    ):  # fmt: skip
        advice = feeding.advice_for(tree, now=NOW, today=day)
        assert ("Out of season" not in advice.why_not) is open_now, day


def test_a_suspected_tree_and_a_new_one_get_nothing(tree, lee, orchard):
    crown(tree, lee, 3.0)
    inspections.record(
        tree, by=lee, now=NOW, seen_at=NOW,
        findings=[SeenSign("psyllid_nymph", {"count": 2})],
    )  # fmt: skip
    assert "leave this tree alone" in feeding.advice_for(tree, **WHEN).why_not
    new = make_tree(orchard, "A-5", planted_on=TODAY - timedelta(days=41))
    crown(new, lee, 0.8)
    assert "No feed before 13 May 2026" in feeding.advice_for(new, **WHEN).why_not
