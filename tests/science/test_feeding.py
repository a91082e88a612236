from __future__ import annotations

import math
from decimal import ROUND_HALF_UP, Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from orchard.science import feeding, figures, guide
from tests.science.published import rows

# University of Florida IFAS Extension, home citrus fertilizer by tree age (read as
# reprinted): year, applications, lb N a year, then lb per application of 6-6-6, 8-8-8
# and 10-10-10.
PRINTED = [
    (1, 6, (0.15, 0.30), (0.4, 0.8), (0.3, 0.6), (0.3, 0.5)),
    (2, 5, (0.30, 0.60), (1.0, 2.0), (0.8, 1.5), (0.6, 1.2)),
    (3, 4, (0.45, 0.90), (1.9, 3.8), (1.4, 2.8), (1.1, 2.3)),
    (4, 3, (0.80, 1.00), (4.4, 5.6), (3.3, 4.2), (2.7, 3.3)),
    (5, 3, (1.10, 1.40), (6.1, 7.8), (4.6, 5.8), (3.7, 4.7)),
]
LEAVES = rows("leaf-standards")


@pytest.mark.parametrize("row", PRINTED, ids=lambda row: f"year {row[0]}")
def test_all_cells_of_the_fertilizer_table(row) -> None:
    """Every cell of the fertilizer table by age comes out as printed."""
    year, applications, nitrogen, *products = row
    fed = feeding.nitrogen_for_age("citrus", year - 1)
    assert fed.applications == applications
    assert fed.low_kg / feeding.KG_PER_LB == pytest.approx(nitrogen[0])
    assert fed.high_kg / feeding.KG_PER_LB == pytest.approx(nitrogen[1])
    for percent, printed in zip((6, 8, 10), products, strict=True):
        for kilograms, pounds in zip(fed.product_kg(percent), printed, strict=True):
            exact = Decimal(repr(round(kilograms / feeding.KG_PER_LB, 9)))
            # The table rounds half up: 0.25 is printed 0.3.
            rounded = exact.quantize(Decimal("0.1"), rounding=ROUND_HALF_UP)
            assert float(rounded) == pounds


def test_the_age_is_the_years_passed_since_planting() -> None:
    assert feeding.nitrogen_for_age("citrus", 0).year_since_planting == 1
    assert feeding.nitrogen_for_age("citrus", 0.99).applications == 6
    assert feeding.nitrogen_for_age("citrus", 1).applications == 5
    old = feeding.nitrogen_for_age("citrus", 40)
    assert old.year_since_planting == 41
    # 1.1 lb is 0.499 kg.
    assert old.low_kg == pytest.approx(0.499, abs=5e-4)
    assert old.split_kg[0] == pytest.approx(0.499 / 3, abs=5e-4)
    assert old.split_kg[1] == pytest.approx(1.4 * 0.45359 / 3, abs=5e-4)
    assert old.how == "read"


def test_every_citrus_kind_of_the_guide_has_a_table() -> None:
    for cultivar in guide.load().cultivars.values():
        if cultivar.host == "citrus":
            assert feeding.nitrogen_for_age(cultivar.kind, 3).low_kg > 0


@given(st.floats(0, 100), st.floats(0, 10))
def test_an_older_tree_never_gets_less(age: float, more: float) -> None:
    young = feeding.nitrogen_for_age("lemon", age)
    old = feeding.nitrogen_for_age("lemon", age + more)
    assert old.low_kg >= young.low_kg
    assert old.high_kg >= young.high_kg
    assert young.low_kg < young.high_kg


def classes(row: dict[str, str]) -> list[tuple[str, str]]:
    """Return every printed bound of a row with its class."""
    found = []
    for name in ("low", "optimum", "high"):
        if row[name] and not row[name].startswith("<"):
            found += [(bound, name) for bound in row[name].split("-")]
    return found


@pytest.mark.parametrize(
    "row",
    [row for row in LEAVES if row["element"] in feeding.leaf_nutrients()],
    ids=lambda row: row["element"],
)
def test_both_ends_of_every_printed_class(row: dict[str, str]) -> None:
    """Both ends of every printed class of a leaf analysis fall into that class."""
    # University of Florida IFAS SL 253, after Koo et al. 1984 (from memory).
    nutrient = row["element"]
    for bound, name in classes(row):
        assert feeding.leaf_status("florida", nutrient, float(bound)) == name
    excess = float(row["excess"].removeprefix(">"))
    step = {"%": 0.1, "mg/kg": 1.0}[row["unit"]]
    assert feeding.leaf_status("florida", nutrient, excess + step) == "excess"
    if row["deficient"]:
        below = float(row["deficient"].removeprefix("<"))
        assert feeding.leaf_status("florida", nutrient, below * 0.8) == "deficient"
        assert feeding.leaf_status("florida", nutrient, 0) == "deficient"


def test_a_value_between_two_printed_classes_is_rounded_half_up() -> None:
    assert feeding.leaf_status("florida", "N", 2.45) == "optimum"
    assert feeding.leaf_status("florida", "N", 2.44) == "low"
    assert feeding.leaf_status("florida", "N", 2.149) == "deficient"
    assert feeding.leaf_status("florida", "N", 3.04) == "high"
    assert feeding.leaf_status("florida", "N", 3.05) == "excess"
    assert feeding.leaf_status("florida", "P", 0.115) == "optimum"
    assert feeding.leaf_status("florida", "Zn", 24.5) == "optimum"


def test_chloride_has_no_lower_classes() -> None:
    """Chloride has no lower classes."""
    assert feeding.leaf_status("florida", "Cl", 0.0) == "optimum"
    assert feeding.leaf_status("florida", "Cl", 0.194) == "optimum"
    assert feeding.leaf_status("florida", "Cl", 0.20) == "high"
    assert feeding.leaf_status("florida", "Cl", 0.71) == "excess"


def test_sets_disagree_and_say_so() -> None:
    """Potassium 0.9 %: low in Florida, in range in Spain, Australia and Israel."""
    found = {
        each.leaf_set.key: each
        for each in feeding.leaf_readings("K", 0.9, "Late navel oranges", 5)
    }
    assert {key: each.side for key, each in found.items()} == {
        "florida": "below", "spain": None, "australia": "within",
        "israel_orange": "within", "israel_grapefruit": None,
    }  # fmt: skip
    # Leaves of five months are too young for the Spanish set of 7 to 9 months.
    assert (found["spain"].why_not, found["israel_grapefruit"].why_not) == (
        "age", "group",
    )  # fmt: skip
    assert found["israel_orange"].range == ("0.80", "1.00")
    by_spain = feeding.leaf_readings("K", 0.9, "Blood oranges", 8)
    sides = {each.leaf_set.key: each.side for each in by_spain}
    assert (sides["florida"], sides["spain"], sides["australia"]) == (
        None, "within", None,
    )  # fmt: skip
    # Only Florida prints ranges for calcium, and none is for leaves of eight months.
    [calcium] = feeding.leaf_readings("Ca", 3.5, "Lemons", 8)
    assert calcium.why_not == "age"


def test_both_ends_of_the_ranges_of_the_other_sets() -> None:
    """Nitrogen of IVIA and Gallasch (memory), and of the survey in Israel (read)."""
    for leaf_set, least, most in (
        ("spain", 2.5, 2.8), ("australia", 2.4, 2.6), ("israel_orange", 1.9, 2.3),
        ("israel_grapefruit", 1.7, 2.1),
    ):  # fmt: skip
        for value, status in (
            (least - 0.06, "low"), (least - 0.05, "optimum"), (least, "optimum"),
            (most, "optimum"), (most + 0.04, "optimum"), (most + 0.06, "high"),
        ):  # fmt: skip
            value = round(value, 2)
            assert feeding.leaf_status(leaf_set, "N", value) == status, value


def test_each_set_says_whether_it_was_read() -> None:
    how = {each.key: each.how for each in feeding.leaf_sets()}
    assert how["florida"] == how["spain"] == how["australia"] == "memory"
    assert how["israel_orange"] == "read"


@given(
    st.sampled_from(list(feeding.leaf_nutrients())), st.floats(0, 90), st.floats(0, 10)
)
def test_more_never_falls_into_a_lower_class(
    nutrient: str, value: float, more: float
) -> None:
    order = ["deficient", "low", "optimum", "high", "excess"]
    first = order.index(feeding.leaf_status("florida", nutrient, value))
    assert order.index(feeding.leaf_status("florida", nutrient, value + more)) >= first


def test_every_class_row_rises() -> None:
    for row in figures.rows("leaf", "feeding.toml"):
        bounds = [
            Decimal(row[key])
            for key in ("low", "optimum", "optimum_to", "excess_above")
            if row[key]
        ]
        assert bounds == sorted(set(bounds))
        assert Decimal(row["optimum_to"]).as_tuple().exponent == -row["decimals"]


@pytest.mark.parametrize(
    ("call", "told"),
    [
        (lambda: feeding.nitrogen_for_age("fig", 3), "kind is 'fig'"),
        (lambda: feeding.nitrogen_for_age("citrus", -0.1), "age_years"),
        (lambda: feeding.nitrogen_for_age("citrus", None), "age_years is None"),
        (lambda: feeding.product_per_application(1, 0, 10), "applications"),
        (lambda: feeding.product_per_application(1, 3, 0), "nitrogen_percent"),
        (lambda: feeding.product_per_application(-1, 3, 10), "nitrogen is -1"),
        (lambda: feeding.leaf_status("florida", "Mo", 1), "nutrient is 'Mo'"),
        (lambda: feeding.leaf_status("florida", "S", 0.3), "nutrient is 'S'"),
        (lambda: feeding.leaf_status("florida", "N", -1), "value"),
        (lambda: feeding.leaf_status("florida", "N", math.nan), "value"),
        (lambda: feeding.leaf_status("florida", "N", 150), "value"),
    ],
)
def test_ages_and_leaves_without_meaning_are_refused(call, told: str) -> None:
    with pytest.raises(ValueError, match=told):
        call()


@pytest.mark.parametrize(
    ("crown", "grams"),
    [(0.8, 10.1), (1.0, 15.7), (2.0, 62.8), (3.0, 141.4), (5.0, 392.7)],
)
def test_nitrogen_by_crown(crown: float, grams: float) -> None:
    """20 g a square metre of crown: geometry, near IVIA's net needs."""
    found = feeding.nitrogen_by_crown("Navel oranges", crown, 12, 4000)
    assert found is not None
    assert found.grams == pytest.approx(grams, abs=0.05)
    assert found.rule == "crown"


def test_a_tree_planted_lately_gets_little_or_nothing() -> None:
    """Sixty days after planting by its crown, 41 days after none (own rule)."""
    young = feeding.nitrogen_by_crown("Navel oranges", 0.8, 2, 60)
    assert young is not None
    assert young.grams == pytest.approx(10.1, abs=0.05)
    assert feeding.nitrogen_by_crown("Navel oranges", 0.8, 2, 41) is None
    # NSW, young trees: not more than 50 g of nitrogen in the first season.
    big = feeding.nitrogen_by_crown("Navel oranges", 3.0, 6, 200)
    assert big == feeding.YearOfFeed(50.0, 3, "first_year")


def test_a_pot_is_fed_by_its_litres_and_never_by_age() -> None:
    """A kumquat of five years in 30 L gets 18 g, never the 499 g of the age table."""
    found = feeding.nitrogen_by_pot(30, 2000)
    assert found == feeding.YearOfFeed(18.0, 4, "pot")
    assert found.dose_grams == pytest.approx(4.5)
    assert feeding.nitrogen_by_pot(30, 10) is None
    with pytest.raises(ValueError, match="litres"):
        feeding.nitrogen_by_pot(0, None)


@pytest.mark.parametrize(
    ("group", "share"),
    [
        ("Red grapefruit", 0.5),
        ("Pummelos", 0.5),
        ("Meyer lemons", 1.1),
        ("Tahiti limes", 1.1),
        ("Clementines", 1.0),
    ],
)
def test_the_share_of_a_kind(group: str, share: float) -> None:
    """Arizona: half for grapefruit, a tenth more for lemons (read)."""
    found = feeding.nitrogen_by_crown(group, 2.0, 12, 4000)
    assert found is not None
    assert found.grams == pytest.approx(62.83 * share, abs=0.01)


@given(st.floats(0.1, 20), st.floats(0, 60), st.integers(42, 9000))
def test_the_table_by_age_is_only_a_ceiling(
    crown: float, age: float, planted: int
) -> None:
    found = feeding.nitrogen_by_crown("Navel oranges", crown, age, planted)
    assert found is not None
    assert 0 < found.grams <= 450
    assert found.grams <= feeding.nitrogen_for_age("citrus", age).high_kg * 1000
