from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from orchard.science import sampling
from tests.science.published import rows

TABLE = rows("detection-sample-sizes")


def cells() -> list[tuple[int, float, float, int]]:
    found = []
    for row in TABLE:
        for column, cell in row.items():
            if column == "lot_size" or not cell:
                continue
            confidence, level = column.removesuffix("pct").split("_")
            found.append(
                (
                    int(row["lot_size"]),
                    float(level) / 100,
                    float(confidence[1:]) / 100,
                    int(cell),
                )
            )
    return found


def test_every_cell_of_the_detection_tables() -> None:
    """Every cell of the printed tables of how many to look at comes out the same."""
    # ISPM 31 (FAO/IPPC 2008), Appendix 2; recomputed with scipy stats.hypergeom.
    table = cells()
    assert len(table) > 120
    for lot, level, confidence, looks in table:
        assert sampling.size_to_detect(level, confidence, lot) == looks, (lot, level)


def test_levels_below_one_unit_of_the_lot_are_refused() -> None:
    blanks = 0
    for row in TABLE:
        for level in ("2", "1", "0.5", "0.1"):
            if row[f"n95_{level}pct"]:
                continue
            blanks += 1
            with pytest.raises(ValueError, match="less than one of"):
                sampling.size_to_detect(float(level) / 100, 0.95, int(row["lot_size"]))
    assert blanks > 10


@pytest.mark.parametrize(
    ("confidence", "level", "looks"),
    [
        (0.95, 0.05, 59),
        (0.95, 0.02, 149),
        (0.95, 0.01, 299),
        (0.95, 0.005, 598),
        (0.95, 0.001, 2995),
        (0.99, 0.05, 90),
        (0.99, 0.02, 228),
        (0.99, 0.01, 459),
    ],
)
def test_a_population_without_end(confidence: float, level: float, looks: int) -> None:
    """For a population without end the numbers are those of the printed table."""
    # ISPM 31, Appendix 3, binomial; recomputed: n = ceil(ln(1 - c) / ln(1 - p)).
    assert sampling.size_to_detect(level, confidence) == looks


@pytest.mark.parametrize(("level", "looks"), [(0.05, 74), (0.02, 186)])
def test_looks_that_miss_one_in_five(level: float, looks: int) -> None:
    """Where a look misses one in five, more looks are asked for, as printed."""
    # ISPM 31: the level times the efficacy of the look; recomputed.
    assert sampling.size_to_detect(level, 0.95, sensitivity=0.8) == looks


@pytest.mark.parametrize(
    ("trees", "infested", "looks"),
    [
        (40, 1, 38),
        (40, 2, 31),
        (40, 4, 21),
        (60, 3, 38),
        (120, 6, 47),
        (12, 1, 12),
        (50, 2, 39),
    ],
)
def test_small_gardens(trees: int, infested: int, looks: int) -> None:
    """In a small garden the number is exact, to the last tree."""
    # scipy stats.hypergeom. Forty trees, one infested: exactly 38, where the chance of
    # a miss is 0.05 to the last digit.
    found = sampling.size_to_detect(infested / trees, 0.95, trees)
    assert found == looks
    # The approximation of Cannon & Roe (1982), from memory, is off by one at most.
    near = (1 - 0.05 ** (1 / infested)) * (trees - (infested - 1) / 2)
    assert abs(looks - math.ceil(near - 1e-9)) <= 1


def test_one_look_is_enough_where_everything_is_infested() -> None:
    assert sampling.size_to_detect(1.0, 0.95) == 1
    assert sampling.size_to_detect(1.0, 0.95, 10) == 1


@given(
    st.integers(20, 400),
    st.floats(0.05, 0.9),
    st.floats(0.5, 0.99),
    st.floats(0.6, 1.0),
)
def test_the_size_found_is_the_smallest_that_is_sure_enough(
    trees: int, level: float, confidence: float, seen: float
) -> None:
    try:
        looks = sampling.size_to_detect(level, confidence, trees, seen)
    except ValueError:
        sure = sampling.confidence_of_absence(trees, level, trees, seen)
        assert sure < confidence
        return
    assert 1 <= looks <= trees

    def sure_after(checked: int) -> float:
        return sampling.confidence_of_absence(checked, level, trees, seen)

    assert sure_after(looks) >= confidence - 1e-8
    assert sure_after(looks - 1) < confidence + 1e-8


@given(st.integers(1, 30), st.integers(2, 200), st.floats(0.5, 0.95))
def test_more_confidence_asks_for_more_and_more_infested_for_fewer(
    infested: int, more: int, confidence: float
) -> None:
    trees = infested + more
    level, higher = infested / trees, (infested + 1) / trees
    looks = sampling.size_to_detect(level, confidence, trees)
    assert sampling.size_to_detect(level, confidence + 0.04, trees) >= looks
    assert sampling.size_to_detect(higher, confidence, trees) <= looks
    assert looks <= sampling.size_to_detect(level, confidence)


def test_a_large_lot_comes_near_a_population_without_end() -> None:
    assert sampling.size_to_detect(0.05, 0.95, 10**6) == 59
    assert sampling.size_to_detect(0.01, 0.95, 10**6) == pytest.approx(299, abs=1)


def test_confidence_of_not_seen() -> None:
    """How sure “not seen” is comes out as worked by hand."""
    # Own arithmetic: 1 - 0.95^59 = 0.9515; half of forty trees, one infested: 0.5.
    assert sampling.confidence_of_absence(59, 0.05) == pytest.approx(0.9515, abs=5e-5)
    assert sampling.confidence_of_absence(20, 1 / 40, 40) == pytest.approx(0.5)
    assert sampling.confidence_of_absence(40, 1 / 40, 40) == 1.0
    assert sampling.confidence_of_absence(40, 1 / 40, 40, 0.8) == pytest.approx(0.8)
    assert sampling.confidence_of_absence(0, 0.05) == 0.0
    assert sampling.confidence_of_absence(0, 0.05, 40) == pytest.approx(0.0)


@pytest.mark.parametrize(
    ("positive", "checked", "low", "high"),
    [
        (81, 263, 0.2553, 0.3662),
        (0, 20, 0.0, 0.1611),
        (0, 10, 0.0, 0.2775),
        (10, 10, 0.7225, 1.0),
        (3, 30, 0.0346, 0.2562),
        (2, 50, 0.0110, 0.1346),
        (0, 59, 0.0, 0.0611),
    ],
)
def test_the_range_of_a_share(
    positive: int, checked: int, low: float, high: float
) -> None:
    """The range of a share is the published one."""
    # Newcombe (1998), Table I, method 3, for the first two (from memory); the rest by
    # statsmodels proportion_confint.
    found = sampling.wilson(positive, checked)
    assert found[0] == pytest.approx(low, abs=5e-5)
    assert found[1] == pytest.approx(high, abs=5e-5)


@given(st.integers(1, 500), st.data(), st.floats(0.5, 0.999))
def test_the_range_holds_the_share_and_stays_within_0_and_1(
    checked: int, data: st.DataObject, confidence: float
) -> None:
    positive = data.draw(st.integers(0, checked))
    low, high = sampling.wilson(positive, checked, confidence)
    assert 0 <= low <= positive / checked <= high <= 1
    assert (low == 0) == (positive == 0)
    assert (high == 1) == (positive == checked)
    mirrored = sampling.wilson(checked - positive, checked, confidence)
    assert mirrored[0] == pytest.approx(1 - high, abs=1e-12)


@pytest.mark.parametrize(
    ("checked", "upper"),
    [
        (10, 0.2589),
        (20, 0.1391),
        (30, 0.0950),
        (59, 0.0495),
        (100, 0.02951),
        (300, 0.00994),
    ],
)
def test_the_rule_of_three(checked: int, upper: float) -> None:
    """Where none is seen, the upper end is close to three by the number of looks."""
    # Hanley & Lippman-Hand (1983), JAMA 249 (from memory); exact 1 - 0.05^(1/n).
    found = sampling.upper_when_none_seen(checked)
    assert found == pytest.approx(upper, abs=5e-5)
    assert found == pytest.approx(3 / checked, rel=0.15)
    assert found < sampling.wilson(0, checked)[1]


@pytest.mark.parametrize(
    ("call", "told"),
    [
        (lambda: sampling.size_to_detect(0, 0.95), "prevalence"),
        (lambda: sampling.size_to_detect(5, 0.95), "prevalence is 5"),
        (lambda: sampling.size_to_detect(1.01, 0.95), "prevalence is 1.01"),
        (lambda: sampling.size_to_detect(0.05, 1.0), "confidence"),
        (lambda: sampling.size_to_detect(0.05, 95), "confidence is 95"),
        (lambda: sampling.size_to_detect(0.05, math.nan), "confidence"),
        (lambda: sampling.size_to_detect(0.05, 0.95, 0), "population"),
        (lambda: sampling.size_to_detect(0.05, 0.95, 40.5), "population"),
        (lambda: sampling.size_to_detect(0.05, 0.95, 40, 0), "sensitivity"),
        (lambda: sampling.size_to_detect(0.025, 0.95, 40, 0.5), "even looking at all"),
        (lambda: sampling.confidence_of_absence(-1, 0.05), "checked"),
        (lambda: sampling.confidence_of_absence(41, 0.05, 40), "checked is 41"),
        (lambda: sampling.wilson(1, 0), "checked"),
        (lambda: sampling.wilson(3, 2), "positive"),
        (lambda: sampling.wilson(-1, 2), "positive"),
        (lambda: sampling.wilson(1, 2, 1.0), "confidence"),
        (lambda: sampling.upper_when_none_seen(0), "checked"),
    ],
)
def test_counts_and_shares_without_meaning_are_refused(call, told: str) -> None:
    with pytest.raises(ValueError, match=told):
        call()
