"""What repeats a figure of the guide follows it, in the orchard's own units."""

from __future__ import annotations

from datetime import timedelta
from html import unescape

import pytest
from django.urls import reverse
from django.utils import timezone

from orchard.records.models import Forecast, Happening
from orchard.science import holds
from orchard.science.words import TreatmentKind
from orchard.services import audit, observations, permissions, treatments, water
from orchard.services.frost import NotedNight
from orchard.web.pages.frost import wording
from orchard.web.pages.frost.forms import EveningForm, NightForm
from orchard.web.pages.ripeness.wording import lead_of_tests
from orchard.web.pages.treatments.forms import ProductForm, TreatmentForm
from orchard.web.pages.treatments.wording import details_of
from orchard.web.pages.water.forms import SoilForm
from tests.conftest import NOW, TODAY, make_tree
from tests.services.treatments.helpers import add, allow, use

pytestmark = pytest.mark.django_db


@pytest.fixture
def us(orchard):
    orchard.units = "us"
    orchard.save()
    return orchard


def labels(form) -> list[str]:
    return [str(field.label) for field in form.fields.values()]


def helps(form) -> list[str]:
    return [str(field.help_text) for field in form.fields.values()]


def text_of(client, name, orchard, *args) -> str:
    """Return the text of a page, in one line."""
    answer = client.get(reverse(name, args=[orchard.slug, *args]))
    return " ".join(unescape(answer.content.decode()).split())


def test_depths_of_roots(set_figure):
    metric, us = SoilForm(), SoilForm(units="us")
    assert [text for text in helps(metric) if text.startswith("Where")] == [
        "Where empty, 0.3 m.",
        "Where empty, 0.6 m.",
        "Where empty, 1.0 m.",
    ]
    # 0.3 m are 0.984 ft, 0.6 m 1.97 ft, 1 m 3.28 ft.
    assert [text for text in helps(us) if text.startswith("Where")] == [
        "Where empty, 0.98 ft.",
        "Where empty, 2 ft.",
        "Where empty, 3.3 ft.",
    ]
    assert "Root depth, planted less than three years ago, m" in labels(metric)
    assert "Root depth, planted three to eight years ago, m" in labels(metric)
    set_figure(root_depth_new_m=0.4, root_new_years=2)
    assert "Where empty, 0.4 m." in helps(SoilForm())
    assert "Root depth, planted two to eight years ago, m" in labels(SoilForm())


def test_hours_of_cold(set_figure):
    assert "Hours at -2 °C or below" in labels(NightForm())
    assert "Hours at -4 °C or below" in labels(NightForm())
    # -2 °C is 28.4 °F, -4 °C 24.8 °F.
    assert "Hours at 28 °F or below" in labels(NightForm(units="us"))
    assert "Hours at 25 °F or below" in labels(NightForm(units="us"))
    assert "Air two hours after sunset, °C" in labels(EveningForm())
    set_figure(fruit_check_c=-3, evening_reading_h=3)
    assert "Hours at -3 °C or below" in labels(NightForm())
    assert "Air three hours after sunset, °C" in labels(EveningForm())


def test_what_is_read_of_a_night(as_vera, orchard, set_figure):
    assert "four hours at -2 °C or below" in text_of(as_vera, "night-new", orchard)
    orchard.units = "us"
    orchard.save()
    assert "four hours at 28 °F or below" in text_of(as_vera, "night-new", orchard)
    set_figure(fruit_check_hours=6)
    assert "six hours at 28 °F or below" in text_of(as_vera, "night-new", orchard)


def test_how_long_fruit_stays_after_a_severe_frost(set_figure):
    night = NotedNight(
        reading=None, hours_check=6, hours_hold=6, from_curve=False, hard=True,
        severe=True, opened=(),
    )  # fmt: skip
    assert "stays on the trees for two weeks." in wording.night_noted(night)
    set_figure(fruit_hold_days=10)
    assert "stays on the trees for 10 days." in wording.night_noted(night)


def test_when_covers_come_off(set_figure):
    at = NOW.replace(hour=10).time()
    text = wording.cover_off_words(at, "metric")
    assert "is above 4 °C, or at 10:00 if it is above 0 °C by then" in text
    text = wording.cover_off_words(at, "us")
    assert "is above 39 °F, or at 10:00 if it is above 32 °F by then" in text
    set_figure(cover_off_c=5)
    assert "is above 5 °C" in wording.cover_off_words(at, "metric")


def asked_of(kind, orchard) -> TreatmentForm:
    return TreatmentForm(kind=kind, orchard=orchard)


def test_what_a_treatment_is_asked(orchard, set_figure):
    spray = asked_of(TreatmentKind.SOAP, orchard)
    assert spray["rain_expected"].label == "Rain is forecast within 24 hours"
    manure = asked_of(TreatmentKind.MANURE, orchard)["fruit_high"]
    assert manure.label == "All fruit hangs above 60 cm, clear of soil and splashes"
    assert manure.help_text == "Then no fruit is picked for 90 days, else for 120."
    compost = asked_of(TreatmentKind.COMPOST, orchard)["heat_proof"]
    assert "was heated (55 to 77 °C, 3 to 15 days)" in compost.label
    set_figure(rain_after_spray_h=12, manure_days=100)
    spray = asked_of(TreatmentKind.SOAP, orchard)
    assert spray["rain_expected"].label == "Rain is forecast within 12 hours"
    manure = asked_of(TreatmentKind.MANURE, orchard)["fruit_high"]
    assert manure.help_text == "Then no fruit is picked for 100 days, else for 120."


def test_what_a_treatment_is_asked_in_us_units(us):
    # 60 cm are 23.6 in; 55 and 77 °C are 131 and 170.6 °F.
    manure = asked_of(TreatmentKind.MANURE, us)["fruit_high"]
    assert manure.label == "All fruit hangs above 24 in, clear of soil and splashes"
    compost = asked_of(TreatmentKind.COMPOST, us)["heat_proof"]
    assert "was heated (131 to 171 °F, 3 to 15 days)" in compost.label


def test_a_treatment_reads_as_it_was_asked(us, lee):
    garden = allow(us)
    brought = use(
        None, make_tree(garden, "A-9"), at=NOW, kind="manure",
        details={"fruit_high": True},
    )  # fmt: skip
    found = treatments.record(garden, brought, by=lee, now=NOW, today=TODAY)
    manure = found.treatment
    names = [name for name, _text in details_of(manure)]
    assert names == ["All fruit hangs above 24 in, clear of soil and splashes"]


def test_which_leaves_are_taken(as_vera, orchard, set_figure):
    text = text_of(as_vera, "leaf-tests", orchard)
    assert "About 100 leaves for a block." in text
    assert "Not within 30 days of a feed on the leaves." in text
    set_figure(leaf_sample_leaves=80, leaf_sample_after_feed_days=45)
    text = text_of(as_vera, "leaf-tests", orchard)
    assert "About 80 leaves for a block." in text
    assert "Not within 45 days of a feed on the leaves." in text


def test_when_fruit_is_tested():
    assert lead_of_tests() == "three weeks"


@pytest.mark.parametrize(
    ("units", "frost", "rain"),
    [
        ("metric", "(-2 °C or less for 4 hours)", "(25 mm or more in a day)"),
        ("us", "(28 °F or less for 4 hours)", "(0.98 in or more in a day)"),
    ],
)
def test_what_happened_is_named_by_the_figures(
    as_vera, vera, orchard, units, frost, rain, set_figure
):
    orchard.units = units
    orchard.save()
    tree = make_tree(orchard)
    offered = text_of(as_vera, "orchard-event-new", orchard)
    assert f"Hard frost {frost}" in offered
    assert f"Heavy rain {rain}" in offered
    row = Happening.objects.create(
        orchard=orchard, tree=tree, what="hard_frost", by=vera, received_at=NOW,
        happened_on=timezone.localdate(NOW),
    )  # fmt: skip
    assert f"Noted: hard frost {frost}" in text_of(
        as_vera, "event-correction", orchard, row.pk
    )
    assert f"Hard frost {frost}" in text_of(as_vera, "tree-show", orchard, tree.code)
    set_figure(fruit_check_hours=3)
    offered = text_of(as_vera, "orchard-event-new", orchard)
    assert f"Hard frost {frost}".replace("4 hours", "3 hours") in offered


def test_a_breach_names_the_figure_it_breaks(orchard, lee, set_figure):
    garden = allow(orchard)
    tree = make_tree(garden)
    soap = add(garden, lee, NOW)

    def breach() -> str:
        brought = use(soap, tree, at=NOW, rain_expected=True)
        found = treatments.record(garden, brought, by=lee, now=NOW, today=TODAY)
        return " ".join(each.text for each in found.breaches)

    assert "Rain within 24 hours: wait." in breach()
    set_figure(rain_after_spray_h=12)
    assert "Rain within 12 hours: wait." in breach()


def test_oil_before_frost_is_refused_by_the_hours_of_the_figure(
    orchard, lee, set_figure
):
    garden = allow(orchard)
    tree, oil = make_tree(garden), add(garden, lee, NOW, "oil", name="Oil")
    Forecast.objects.create(
        orchard=garden, for_on=TODAY + timedelta(days=2), made_at=NOW, received_at=NOW,
        by=lee, source="the weather office", tmin=-1.0,
    )  # fmt: skip

    def breaches() -> str:
        found = treatments.record(
            garden, use(oil, tree, at=NOW), by=lee, now=NOW, today=TODAY
        )
        return " ".join(each.text for each in found.breaches)

    assert "Frost is forecast within 48 hours: no oil." in breaches()
    set_figure(frost_before_oil_h=60)
    assert "Frost is forecast within 60 hours: no oil." in breaches()
    set_figure(frost_before_oil_h=12)
    assert "no oil" not in breaches()


def test_how_often_a_pot_is_watered_at_most(set_figure):
    group = water.TreesAlike(
        kind="lemon", potted=True, call=water.Call.TODAY, not_before=None,
        not_later=None, times=3, is_estimated=False, why_not="", rows=(),
    )  # fmt: skip
    assert water.cap_words(group).startswith("More than three waterings a day")
    set_figure(pot_most_a_day=2)
    assert water.cap_words(group).startswith("More than two waterings a day")


@pytest.mark.parametrize(
    ("units", "depth"), [("metric", "dry 5 cm down"), ("us", "dry 2 in down")]
)
def test_how_deep_a_pot_is_felt(as_vera, orchard, units, depth):
    orchard.units = units
    orchard.save()
    pot = make_tree(orchard, setting="container", container_litres=40)
    assert depth in text_of(as_vera, "tree-water", orchard, pot.code)


def test_a_line_of_the_ledger_names_an_event_by_the_figures(
    vera, orchard, cora, set_figure
):
    set_figure(fruit_check_hours=3)
    observations.note_event(
        orchard, what="hard_frost", happened_on=TODAY, by=vera, now=NOW
    )
    member = permissions.member_for(cora, orchard.slug)
    [line] = audit.changes_page(member).rows
    assert "hard frost (-2 °C or less for 3 hours)" in str(line)


@pytest.mark.parametrize(
    ("field", "most"),
    [("entry_hours", 2160), ("fruit_days", 730), ("leaf_days", 730),
     ("flower_days", 730), ("between_days", 730)],
)  # fmt: skip
def test_no_label_waits_longer_than_the_formulas_take(field, most):
    def faults(value: int) -> list[str]:
        form = ProductForm({field: str(value)}, kind=TreatmentKind.SOAP)
        return form.errors.get(field, [])

    assert not faults(most)
    assert faults(most + 1)
    # The formulas themselves end there.
    assert holds.LONGEST_ENTRY_H == 2160
    assert holds.LONGEST_HARVEST_DAYS == 730
