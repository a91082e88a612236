"""How it is computed: the way from a number to its formula, and its file."""

from __future__ import annotations

import ast
import json
import re
from io import StringIO

import pytest
from django.core.management import call_command
from django.urls import reverse
from django.utils import timezone
from django.utils.html import escape

from orchard.records.models import Crown, Soil
from orchard.science import figures
from orchard.science.guide_files import GuideError
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


def test_the_way_to_a_formula_leads_to_its_question_and_opens_it(as_cora, tree, cora):
    cold_tomorrow(tree.orchard, cora)
    said = page(as_cora, "outlook-frost", tree.orchard)
    links = re.findall(r'href="[^"]*/computed/\?open=([^"#]+)#([^"]+)"', said)
    assert ("night_minimum", "night_minimum") in links
    for opened, anchor in links:
        assert opened == anchor
        address = reverse("computed", args=[tree.orchard.slug])
        found = as_cora.get(address, {"open": opened}).content.decode()
        unfolded = found.partition('explanation" open')[2]
        assert unfolded.index(f'id="{anchor}"') < unfolded.index("</details>")
        assert found.count('explanation" open') == 1


def test_a_helper_leads_to_the_question_it_belongs_to():
    assert explain.anchor_of("frost.site_offset") == "night_minimum"
    assert explain.anchor_of("frost.risk") == "frost_risk"
    assert explain.anchor_of("water.crop_coefficient_on") == "litres"
    assert explain.anchor_of("frost.no_such_thing") == ""


def test_the_page_answers_questions_and_shows_no_code(as_vera, orchard):
    said = page(as_vera, "computed", orchard)
    assert "How cold will tonight be here?" in said
    assert "Expected minimum = forecast + offset" in said
    assert "Baskerville, G. L. &amp; Emin, P. (1969)" in said
    assert "against a reference library" in said
    assert "Sums reckoned once are those of each start" in said
    for code in ("-&gt;", "<code>", "float |", "ValueError"):
        assert code not in said


def test_every_question_has_a_source_or_says_where_it_is_and_checks():
    explained = [
        one for chapter in explain.explained().chapters for one in chapter.explanations
    ]
    assert all(one.sources or one.note for one in explained)
    assert all(one.checks and one.formula and one.inputs for one in explained)
    assert all(one.question.endswith("?") for one in explained)


def test_a_check_is_a_sentence_for_people_and_those_with_a_basis_stand_first():
    explained = [
        one for chapter in explain.explained().chapters for one in chapter.explanations
    ]
    sentences = [check.sentence for one in explained for check in one.checks]
    assert len(sentences) > 300
    for sentence in sentences:
        assert re.fullmatch(r"[A-Z0-9][^_`]+[.?]", sentence), sentence
    for one in explained:
        bases = [bool(check.against) for check in one.checks]
        assert bases == sorted(bases, reverse=True)


def test_what_holds_whatever_the_numbers_is_read_where_a_question_is_open(
    as_vera, orchard
):
    explained = [
        one for chapter in explain.explained().chapters for one in chapter.explanations
    ]
    question = next(one for one in explained if one.other_checks)
    sentence = escape(question.other_checks[0].sentence)
    assert sentence not in page(as_vera, "computed", orchard)
    assert sentence in page(as_vera, "computed", orchard, open=question.key)


@pytest.mark.parametrize(
    ("test", "sentence", "basis"),
    [
        ("def test_a_drier_pot_is_no_wetter(): pass", "A drier pot is no wetter.", ""),
        ('def test_a(): "A US table."', "A US table.", ""),
        ('def test_a():\n    """As printed.\n\n    By hand:\n    6 L.\n    """',
         "As printed.", "By hand: 6 L."),
    ],
)  # fmt: skip
def test_a_test_says_what_it_checks_by_its_docstring_or_its_name(test, sentence, basis):
    [node] = ast.parse(test).body
    assert gathering.sentence_of(node) == sentence
    assert gathering.basis_of(node) == basis


def test_every_figure_is_on_the_page_once():
    found = explain.explained()
    shown = [figure.key for chapter in found.chapters for figure in chapter.figures]
    shown += [figure.key for figure in found.other_figures]
    assert sorted(shown) == sorted(figure.key for figure in figures.all_figures())


def test_all_faults_of_the_words_are_listed_at_once(tmp_path):
    (tmp_path / formulas.WORDS_FILE).write_text(
        """
[[chapter]]
key = "frost"
title = "Frost"
figures = ["no_such_figure"]

[[entry]]
key = "cold"
chapter = "snow"
question = "How cold?"
answer = "So cold."
formula = ["T = T"]
colour = "blue"
explains = ["frost.night.gone"]
source_of = ["frost.night.one"]
""",
        encoding="utf-8",
    )
    with pytest.raises(GuideError) as refused:
        formulas.read_explained(tmp_path, {"frost.night.one": formulas.Formula()})
    faults = {(fault.row, fault.field) for fault in refused.value.faults}
    assert faults == {
        ("chapter frost", "figures"),
        ("entry cold", "chapter"),
        ("entry cold", "colour"),
        ("entry cold", "explains"),
        ("entry cold", "input"),
        ("entry cold", "source_of"),
        ("frost.night.one", ""),
    }


def test_a_docstring_gives_its_source():
    sections = "Return it.\n\nParameters\n----------\na : one\n\n"
    assert gathering.source_in(f"{sections}References\n----------\nBy X.") == "By X."
    assert gathering.source_in(sections) == ""
    assert gathering.source_in("Return it.\n\nBy X\n(1990).") == "By X (1990)."


def test_the_file_of_formulas_is_as_code_and_tests_stand():
    stored = json.loads(explain.FORMULAS_FILE.read_text(encoding="utf-8"))
    now = json.loads(explain.formulas_text())
    stale = {name for name in stored | now if stored.get(name) != now.get(name)}
    assert not stale, "Renew the file of formulas: manage.py write_formulas"


def test_the_file_of_formulas_is_the_same_from_run_to_run():
    assert explain.formulas_text() == explain.formulas_text()


def test_the_page_of_formulas_reads_no_test(as_vera, orchard, settings, tmp_path):
    settings.BASE_DIR = tmp_path
    formulas.explained.cache_clear()
    assert "against a reference library" in page(as_vera, "computed", orchard)


def test_the_command_writes_the_file_of_formulas(monkeypatch, tmp_path):
    file = tmp_path / "formulas.json"
    monkeypatch.setattr(write_formulas, "FORMULAS_FILE", file)
    call_command("write_formulas", stdout=StringIO())
    assert file.read_text(encoding="utf-8") == explain.formulas_text()
