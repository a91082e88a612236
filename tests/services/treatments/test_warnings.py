"""What speaks against a plan without forbidding it."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest

from orchard.records.models import Forecast
from orchard.science.holds import metres_apart
from orchard.services import treatments
from tests.conftest import NOW, TODAY, make_tree
from tests.refusals import refused
from tests.services.treatments.helpers import add, allow, use

pytestmark = pytest.mark.django_db
LATER = NOW + timedelta(days=1)
WHEN = {"now": NOW, "today": TODAY}


@pytest.fixture
def garden(orchard):
    return allow(orchard)


def warned(garden, brought):
    return " ".join(treatments.warnings_of(brought, garden))


def plan(garden, brought, by):
    return treatments.plan(garden, brought, by=by, **WHEN)


def test_above_28_degrees_is_warned_of_and_above_32_refused(garden, tree, lee):
    """Treatments: above 28 °C drift and burn; above 32 °C nothing is sprayed."""
    oil = add(garden, lee, NOW, "oil", name="Oil")
    for degrees, says in ((28.0, False), (28.1, True), (32.0, True)):
        brought = use(oil, tree, at=LATER, temperature_c=degrees)
        assert ("drifts and burns" in warned(garden, brought)) is says
        plan(garden, brought, lee)
    with refused("breaks_rules", match="too hot"):
        plan(garden, use(oil, tree, at=LATER, temperature_c=33), lee)
    Forecast.objects.create(
        orchard=garden, for_on=LATER.date(), made_at=NOW, received_at=NOW, by=lee,
        source="the weather office", tmax=35.0,
    )  # fmt: skip
    unknown = use(oil, tree, at=LATER, temperature_c=None)
    assert "35 °C is forecast" in warned(garden, unknown)


def test_copper_is_warned_of_from_80_percent_of_the_most(garden, tree, lee):
    """Acceptance: 0.5 g/m² five times in seven years is warned of, 2.5 of 2.8 g."""
    copper = add(
        garden, lee, NOW, "copper", name="Copper", most_dose=None,
        ingredients=[["copper oxychloride, as copper", 500.0, "g/kg"]],
    )  # fmt: skip

    def of(total, at):
        return use(
            copper, tree, at=at, dose=None, total=total, unit="g", size=10.0,
            size_unit="m2",
        )  # fmt: skip

    for turn in range(1, 5):
        before = of(10.0, NOW - timedelta(days=200 * turn))
        assert "copper per m²" not in warned(garden, before)
        treatments.record(garden, before, by=lee, **WHEN)
    fifth = of(10.0, LATER)
    assert "2.5 of 2.8 g of copper" in warned(garden, fifth)
    plan(garden, fifth, lee)
    with refused("breaks_rules", match="copper per m²"):
        plan(garden, of(18.0, LATER), lee)


def test_a_spray_and_a_release_within_21_days_warn_of_each_other(garden, tree, lee):
    soap = add(garden, lee, NOW)
    for days_ago, says in ((20, True), (22, False)):
        row = treatments.record(
            garden,
            use(None, tree, at=NOW - timedelta(days=days_ago), kind="beneficials"),
            by=lee, **WHEN,
        ).treatment  # fmt: skip
        spray = use(soap, tree, at=NOW)
        assert ("may kill them" in warned(garden, spray)) is says, days_ago
        treatments.withdraw(row, by=lee, reason="Never", qualified="L-7", **WHEN)
    treatments.record(garden, use(soap, tree, at=NOW), by=lee, **WHEN)
    release = use(None, tree, at=LATER, kind="beneficials")
    assert "beneficials released" in warned(garden, release)
    other = make_tree(garden, "A-9")
    assert not warned(garden, use(None, other, at=LATER, kind="beneficials"))


def test_the_same_group_of_action_twice_in_a_row(garden, tree, lee):
    first = add(garden, lee, NOW, name="First", action_group="4A")
    second = add(garden, lee, NOW, name="Second", action_group="4a")
    third = add(garden, lee, NOW, name="Third", action_group="28")
    assert "action group" not in warned(garden, use(first, tree, at=LATER))
    treatments.record(
        garden, use(first, tree, at=NOW - timedelta(days=30)), by=lee, **WHEN
    )
    assert "action group 4a, as was the last" in warned(
        garden, use(second, tree, at=LATER)
    )
    assert "action group" not in warned(garden, use(third, tree, at=LATER))


def test_neighbours_within_three_metres_are_proposed(garden, tree, lee):
    soap = add(garden, lee, NOW)

    def place(code, metres):
        found = tree if code == tree.code else make_tree(garden, code)
        spot = found.spot
        # A degree of latitude is 111.195 km on a sphere of 6371 km.
        spot.latitude = Decimal("38.5") + Decimal(metres) / Decimal("111195")
        spot.longitude = Decimal("-8.5")
        spot.save()
        return found

    place("A-1", 0)
    near = place("A-2", "2.9")
    place("A-3", "3.2")
    place("A-4", "9.8")
    assert "Within 3 m of these trees: A-2." in warned(
        garden, use(soap, tree, at=LATER)
    )
    blast = use(soap, tree, at=LATER, method="air_blast")
    assert "Within 10 m of these trees: A-2, A-3, A-4." in warned(garden, blast)
    named = use(soap, tree, at=LATER, drift=(near,))
    assert "drift" not in warned(garden, named)
    assert "drift" not in warned(garden, use(soap, tree, at=LATER, method="brush"))


def test_metres_apart() -> None:
    # Mean radius 6371.0088 km: a degree of latitude is 111.1951 km.
    assert metres_apart((0.0, 0.0), (1.0, 0.0)) == pytest.approx(111195.1, abs=0.1)
    assert metres_apart((60.0, 5.0), (60.0, 5.001)) == pytest.approx(55.6, abs=0.01)
    with pytest.raises(ValueError, match="latitude"):
        metres_apart((91.0, 0.0), (0.0, 0.0))
