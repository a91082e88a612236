"""How it is computed: the way from a number to its formula, and its file."""

from __future__ import annotations

import json
import re
from io import StringIO

from django.core.management import call_command
from django.utils import timezone

from orchard.records.models import Crown, Soil
from orchard.web import explain
from orchard.web.explain import formulas, gathering
from orchard.web.management.commands import write_formulas
from tests.web.outlook_days import cold_tomorrow, days_up_to_yesterday, page


def test_every_number_has_its_inputs_and_source_one_tap_away(as_cora, tree, cora):
    orchard = tree.orchard
    cold_tomorrow(orchard, cora)
    days_up_to_yesterday(orchard, cora, rain_mm=20.0)
    today = timezone.localdate()
    Soil.objects.create(
        orchard=orchard, sort="loam", cover="bare", by=cora, set_at=timezone.now()
    )
    Crown.objects.create(
        orchard=orchard,
        tree=tree,
        measured_on=today,
        width_m=3.0,
        by=cora,
        received_at=timezone.now(),
    )
    for name in ("outlook-frost", "outlook-water"):
        said = page(as_cora, name, orchard)
        numbers = re.findall(r'<div class="explained">(.*?)</div>', said, re.DOTALL)
        known = [one for one in numbers if "explained-figure" in one]
        assert known
        for one in known:
            assert "How it's worked out" in one
            assert "Source:" in one


def test_the_way_to_a_formula_leads_to_where_it_stands(as_cora, tree, cora):
    cold_tomorrow(tree.orchard, cora)
    said = page(as_cora, "outlook-frost", tree.orchard)
    anchors = re.findall(r'href="[^"]*/computed/#([^"]+)"', said)
    assert "night-site_offset" in anchors
    formulas = page(as_cora, "computed", tree.orchard)
    for anchor in anchors:
        assert f'id="{anchor}"' in formulas


def test_the_page_of_formulas_is_read_from_docstrings_and_tests(as_vera, orchard):
    said = page(as_vera, "computed", orchard)
    assert "Baskerville, G. L. &amp; Emin, P. (1969)" in said
    assert "against a reference library" in said
    assert "Sums reckoned once are those of each start" in said
    by_anchor = {
        one.anchor: one for chapter in explain.chapters() for one in chapter.formulas
    }
    night = by_anchor["night-fit_night_minimum"]
    assert "Snyder" in night.source
    assert night.checks
    unchecked = [
        one.anchor for one in by_anchor.values() if not one.checks and not one.source
    ]
    assert len(unchecked) < len(by_anchor) / 10


def test_a_docstring_is_taken_apart_by_its_heads():
    summary, parts = gathering.sections_of(
        "Return it.\n\nParameters\n----------\na : one\n\nReferences\n----------\nX."
    )
    assert summary == "Return it."
    assert parts == {"Parameters": "a : one", "References": "X."}
    assert gathering.sections_of("Return it. By X (1990).") == (
        "Return it.",
        {"References": "By X (1990)."},
    )


def test_the_file_of_formulas_is_as_code_and_tests_stand():
    stored = json.loads(explain.FORMULAS_FILE.read_text(encoding="utf-8"))
    now = json.loads(explain.formulas_text())
    stale = {name for name in stored | now if stored.get(name) != now.get(name)}
    assert not stale, "Renew the file of formulas: manage.py write_formulas"


def test_the_file_of_formulas_is_the_same_from_run_to_run():
    assert explain.formulas_text() == explain.formulas_text()


def test_the_page_of_formulas_reads_no_test(as_vera, orchard, settings, tmp_path):
    settings.BASE_DIR = tmp_path
    formulas.chapters.cache_clear()
    assert "against a reference library" in page(as_vera, "computed", orchard)


def test_the_command_writes_the_file_of_formulas(monkeypatch, tmp_path):
    file = tmp_path / "formulas.json"
    monkeypatch.setattr(write_formulas, "FORMULAS_FILE", file)
    call_command("write_formulas", stdout=StringIO())
    assert file.read_text(encoding="utf-8") == explain.formulas_text()


def test_every_formula_has_its_own_place_on_the_page():
    anchors = [
        formula.anchor for chapter in explain.chapters() for formula in chapter.formulas
    ]
    assert len(anchors) == len(set(anchors))
