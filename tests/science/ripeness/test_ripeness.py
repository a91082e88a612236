from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from orchard.science import figures, guide, ripeness
from orchard.science.ripeness import standards
from orchard.science.ripeness.juice import brima
from tests.science.published import rows

TABLE_II = rows("us-orange-juice-table-II")
TANGERINES = rows("florida-tangerine-min-ratio")


def test_acid_from_a_titration() -> None:
    """The acid of two worked titrations comes out as printed."""
    # AOAC 942.15 (from memory): 12.5 mL of 0.1 N on 10 mL of juice.
    assert ripeness.acid_percent(12.5, 0.1, 10) == pytest.approx(0.8005, abs=5e-5)
    # A public worked example with 0.064 for the weight: 1.1152 (read).
    assert ripeness.acid_percent(20.5, 0.085, 10) == pytest.approx(1.1152, abs=1e-3)


def test_ratio_juice_and_sugar_less_acid() -> None:
    """Ratio, juice, and sugar less acid are what worked examples give."""
    # 12.0 °Brix and 1.0 %: 8.0 with k 4, 7.0 with k 5 (Jordan et al. 2001, memory).
    assert ripeness.ratio(12.0, 1.0) == 12.0
    assert brima(12.0, 1.0, k=4) == pytest.approx(8.0)
    assert brima(12.0, 1.0, k=5) == pytest.approx(7.0)
    assert ripeness.juice_percent(45, 120) == pytest.approx(37.5)


@pytest.mark.parametrize(
    ("reading", "celsius", "added"),
    [
        (10, 10, -0.59),
        (10, 12, -0.49),
        (10, 14, -0.38),
        (10, 15, -0.32),
        (10, 16, -0.26),
        (10, 17, -0.20),
        (15, 10, -0.62),
        (15, 15, -0.33),
        (20, 10, -0.65),
        (20, 15, -0.34),
        (25, 10, -0.67),
        (25, 15, -0.35),
        (10, 20, 0.0),
        (20, 20, 0.0),
        # Above 20 °C from memory.
        (12, 25, 0.36),
        (12, 30, 0.75),
    ],
)
def test_corrections_of_a_reading(reading: float, celsius: float, added: float) -> None:
    """A refractometer reading is corrected by the printed table of temperatures."""
    # OIV-MA-AS2-02, Table I (read for 10 to 17 °C).
    found = ripeness.correct_brix(reading, celsius)
    assert found - reading == pytest.approx(added, abs=1e-9)


def test_a_reading_between_the_columns() -> None:
    """A reading between two columns of the table lies between their corrections."""
    # 11.0 read at 15 °C gives 10.68 (10 % column); the columns differ by 0.01.
    assert ripeness.correct_brix(11.0, 15) == pytest.approx(10.68, abs=0.005)


def test_corrections_above_twenty_degrees_are_marked_as_remembered() -> None:
    for row in figures.rows("brix_correction", "ripeness.toml"):
        assert (row["how"] == "memory") == (row["t_c"] > 20)


@given(st.floats(0, 30), st.floats(10, 29))
def test_a_warmer_reading_is_raised_more(reading: float, celsius: float) -> None:
    cooler = ripeness.correct_brix(reading, celsius)
    assert ripeness.correct_brix(reading, celsius + 1) > cooler
    assert abs(cooler - reading) < 1


@pytest.mark.parametrize("row", TABLE_II, ids=lambda row: row["tss_pct"])
def test_every_row_of_the_us_acid_table(row: dict[str, str]) -> None:
    """Every row of the US table for juice oranges: the most acid for each sugar."""
    # 7 CFR 51.1178, Table II, 2015 annual edition (read).
    brix = float(row["tss_pct"])
    most = float(row["max_anhydrous_citric_acid_pct"])

    def judged(acid: float) -> ripeness.Requirement:
        found = standards.meets("orange", brix, acid, standard="us_juice_a")
        return next(
            requirement
            for requirement in found.requirements
            if requirement.measure == "acid_at_most"
        )

    assert judged(most).required == most
    assert judged(most).met is True
    assert judged(most + 0.001).met is False
    # The ratio column, printed to 0.05, gives the same to 0.001.
    assert brix / float(row["min_ratio_to_1"]) == pytest.approx(most, abs=1.5e-3)


def test_beyond_the_us_table_the_ratio_holds() -> None:
    """Beyond the last row of the US table its least ratio decides."""
    # From 15.6 on no acid maximum is printed; the least ratio is 8.50.
    first = standards.meets("orange", 15.6, 1.0, standard="us_juice_a")
    assert first.requirements[2].required == pytest.approx(15.6 / 8.5)
    found = standards.meets("orange", 17.0, 2.0, standard="us_juice_a")
    assert found.requirements[2].required == pytest.approx(2.0)
    assert found.requirements[2].met is True


def test_us_grades_need_sugar_acid_and_juice() -> None:
    """US grades need sugar, acid and juice."""

    # 7 CFR 51.1176 and 51.1177: AA 10 % and 5 gal, A 9 % and 4 1/2 gal, acid 0.5 %.
    def grade(
        standard: str, brix: float, acid: float, gallons: float | None
    ) -> bool | None:
        return standards.meets(
            "tangelo", brix, acid, standard=standard, juice_gallons_per_box=gallons
        ).meets

    assert grade("us_juice_aa", 10.0, 1.111, 5.0) is True
    assert grade("us_juice_aa", 9.9, 1.0, 5.0) is False
    assert grade("us_juice_aa", 10.0, 1.0, 4.9) is False
    assert grade("us_juice_aa", 10.0, 1.0, None) is None
    assert grade("us_juice_a", 9.0, 0.947, 4.5) is True
    assert grade("us_juice_a", 9.0, 0.948, 4.5) is False
    assert grade("us_juice_a", 9.0, 0.49, 4.5) is False


@pytest.mark.parametrize(
    "row", TANGERINES, ids=lambda row: row["tss_pct_not_less_than"]
)
def test_every_row_of_the_florida_tangerine_table(row: dict[str, str]) -> None:
    """Every row of Florida's table for tangerines: the least ratio for each sugar."""
    # F.A.C. 20-56.001(1) (read).
    brix = float(row["tss_pct_not_less_than"])
    least = float(row["min_tss_to_acid_ratio"])
    found = standards.meets(
        "mandarin", brix, brix / least, standard="florida_tangerines"
    )
    ratio = next(
        requirement
        for requirement in found.requirements
        if requirement.measure == "ratio"
    )
    assert ratio.required == least
    assert found.meets is True
    sourer = brix / (least - 0.05)
    assert (
        standards.meets("mandarin", brix, sourer, standard="florida_tangerines").meets
        is False
    )


@pytest.mark.parametrize(
    ("brix", "acid", "passes"),
    [(9.5, 1.10, True), (9.5, 1.13, False), (8.9, 0.8, False)],
)
def test_florida_tangerines(brix: float, acid: float, passes: bool) -> None:
    """Florida tangerines pass and fail on ratio and on sugar as the rule has it."""
    # 8.64 passes 8.5, 8.41 fails; 11.1:1 fails on sugar.
    found = standards.meets("mandarin", brix, acid, standard="florida_tangerines")
    assert found.meets is passes
    assert found.standard_name == "Florida tangerines"


def test_between_tenths_the_tenth_reached_counts() -> None:
    found = standards.meets("mandarin", 9.59, 1.1, standard="florida_tangerines")
    assert found.requirements[1].required == 8.5
    short = standards.meets("mandarin", 9.5999, 1.1, standard="florida_tangerines")
    assert short.requirements[1].required == 8.5
    after = standards.meets("mandarin", 10.6, 1.4, standard="florida_tangerines")
    assert after.requirements[1].required == 7.5
    last = standards.meets("mandarin", 14.0, 1.8, standard="florida_tangerines")
    assert last.requirements[1].required == 7.5


@pytest.mark.parametrize(
    ("standard", "kind", "least"),
    [
        # Codex CXS 245-2004 and UNECE FFV-14 (read).
        ("codex_oranges", "blood_orange", 30),
        ("codex_oranges", "navel", 33),
        ("codex_oranges", "orange", 35),
        ("unece_ffv14", "blood_orange", 30),
        ("unece_ffv14", "navel", 33),
        ("unece_ffv14", "orange", 35),
        ("unece_ffv14", "lemon", 20),
        # Older text: Verdelli and Primofiore read, other lemons from memory.
        ("unece_ffv14_older", "lemon_verdelli", 20),
        ("unece_ffv14_older", "lemon_primofiore", 20),
        ("unece_ffv14_older", "lemon", 25),
        ("unece_ffv14", "lime_persian", 42),
        ("unece_ffv14", "lime_mexican", 40),
        ("unece_ffv14", "satsuma", 33),
        ("unece_ffv14", "mandarin", 33),
        ("unece_ffv14", "clementine", 40),
        # From memory.
        ("unece_ffv14", "grapefruit", 35),
        # Commission Regulation (EC) No 1580/2007 (read).
        ("eu_2007", "mosambi_green", 33),
        ("eu_2007", "orange_green", 45),
        # DPIRD Western Australia 2023 (read).
        ("western_australia", "navel", 38),
        ("western_australia", "imperial", 33),
        ("western_australia", "tangelo", 40),
        ("western_australia", "lemon", 25),
    ],
)
def test_least_juice(standard: str, kind: str, least: float) -> None:
    """The least juice of each standard is the printed one, and a tenth less fails."""
    for share, met in ((least, True), (least - 0.1, False), (None, None)):
        found = standards.meets(kind, 12.0, 1.0, share, standard)
        juice = next(
            requirement
            for requirement in found.requirements
            if requirement.measure == "juice"
        )
        assert juice.required == least
        assert juice.met is met


@pytest.mark.parametrize(
    ("kind", "least"),
    [("orange", 6.5), ("satsuma", 6.5), ("clementine", 7.0), ("mandarin", 7.5)],
)
def test_least_ratio_of_unece(kind: str, least: float) -> None:
    """The least ratio of UNECE is the printed one, and a hundredth less fails."""
    # UNECE FFV-14 (2017), from memory, and marked so.
    found = standards.meets(kind, least, 1.0, 50)
    assert found.meets is True
    assert standards.meets(kind, least - 0.01, 1.0, 50).meets is False
    assert {
        requirement.how
        for requirement in found.requirements
        if requirement.measure == "ratio"
    } == {"memory"}


def test_western_australia_navels_by_sugar_less_acid() -> None:
    """Navels in Western Australia pass from 90 points of sugar less acid."""
    # 90 points (read) in the form (Brix - 4 acid) x 16.5 (from memory, doubtful).
    found = standards.meets("navel", 10.0, 1.0, 40, "western_australia")
    assert found.requirements[1].measured == pytest.approx(99.0)
    assert found.meets is True
    assert standards.meets("navel", 9.0, 1.0, 40, "western_australia").meets is False


def test_what_was_not_measured_leaves_the_answer_open() -> None:
    assert standards.meets("orange", None, None).meets is None
    assert standards.meets("orange", 11.0, None, 40).meets is None
    assert standards.meets("orange", 11.0, 1.0).meets is None
    # But one miss decides, whatever else is open.
    missed = standards.meets("orange", None, None, 30)
    assert missed.meets is False
    assert missed.decisive is not None
    assert missed.decisive.measure == "juice"


def test_the_requirement_that_decided_is_named() -> None:
    assert standards.meets("orange", 11.0, 1.0, 40).decisive is None
    open_answer = standards.meets("orange", 11.0, None, 40).decisive
    assert open_answer is not None
    assert (open_answer.measure, open_answer.met) == ("ratio", None)


def test_juice_without_acid_is_past_every_ratio() -> None:
    assert standards.meets("orange", 8.0, 0.0, 40).meets is True


@given(st.floats(4, 18), st.floats(0.1, 4), st.floats(0, 60), st.floats(0, 2))
def test_sweeter_fruit_never_does_worse(
    brix: float, acid: float, juice: float, more: float
) -> None:
    for standard, kind in (
        ("unece_ffv14", "mandarin"),
        ("western_australia", "navel"),
        ("florida_tangerines", "mandarin"),
    ):
        if standards.meets(kind, brix, acid, juice, standard).meets:
            assert standards.meets(kind, brix + more, acid, juice, standard).meets


def test_cultivars_of_the_guide_count_as_the_narrowest_kind_a_standard_knows() -> None:
    def counts_as(name: str, standard: str) -> str | None:
        row = next(row for row in guide.load().cultivars.values() if row.name == name)
        return standards.fruit_kind(row.name, row.maturity, standard)

    assert counts_as("Washington navel", "unece_ffv14") == "navel"
    assert counts_as("Valencia", "unece_ffv14") == "orange"
    assert counts_as("Valencia", "western_australia") == "valencia"
    assert counts_as("Hamlin", "western_australia") is None
    assert counts_as("Owari satsuma", "western_australia") == "mandarin"
    assert counts_as("Imperial", "unece_ffv14") == "mandarin"
    assert counts_as("Meiwa kumquat", "unece_ffv14") is None


def test_every_row_names_a_cultivar_of_the_guide() -> None:
    names = {row.name for row in guide.load().cultivars.values()}
    for row in figures.rows("fruit", "ripeness.toml"):
        assert row["key"] in names


def test_standards_are_found_by_kind() -> None:
    assert "unece_ffv14" in standards.standards_for("navel")
    assert "codex_oranges" in standards.standards_for("navel")
    assert standards.standards_for("kumquat") == ()


@pytest.mark.parametrize(
    ("call", "told"),
    [
        (lambda: standards.meets("kumquat", 12, 1, 40), "kind is 'kumquat'"),
        (lambda: standards.meets("orange", 12, 1, 40, "ours"), "standard is 'ours'"),
        (lambda: standards.meets("orange", -1, 1, 40), "brix"),
        (lambda: standards.meets("orange", 12, math.nan, 40), "acid"),
        (lambda: standards.meets("orange", 12, 1, 140), "juice_percent"),
        (lambda: standards.fruit_kind("Valencia", "orange", "ours"), "standard"),
        (lambda: ripeness.ratio(12, 0), "acid"),
        (lambda: ripeness.acid_percent(10, 0, 10), "normality"),
        (lambda: ripeness.acid_percent(10, 0.1, 0), "juice_ml"),
        (lambda: ripeness.acid_percent(-1, 0.1, 10), "titrant_ml"),
        (lambda: ripeness.correct_brix(12, 35), "t is 35"),
        (lambda: ripeness.correct_brix(12, 5), "t is 5"),
        (lambda: ripeness.correct_brix(35, 20), "reading"),
        (lambda: ripeness.juice_percent(130, 120), "juice_g"),
        (lambda: brima(12, 1, k=-1), "k is -1"),
    ],
)
def test_measurements_without_meaning_are_refused(call, told: str) -> None:
    with pytest.raises(ValueError, match=told):
        call()
