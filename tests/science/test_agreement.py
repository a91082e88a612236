from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from orchard.science import agreement


def test_a_worked_table() -> None:
    """A worked table of two raters and 100 patients comes out as printed."""
    # Fleiss, Levin & Paik, Statistical Methods for Rates and Proportions, the example
    # of two raters and 100 patients (from memory): 0.89 seen, 0.66 by chance, 0.68.
    kappa, error = agreement.cohen_kappa([[75, 1, 4], [5, 4, 1], [0, 0, 10]])
    assert kappa == pytest.approx(0.68, abs=0.005)
    assert kappa == pytest.approx((0.89 - 0.66) / 0.34)
    # Fleiss, Cohen & Everitt (1969), by statsmodels.
    assert error == pytest.approx(0.0873, abs=5e-4)


def test_full_agreement_chance_and_full_disagreement() -> None:
    """Full agreement gives 1, chance gives 0, full disagreement gives -1."""
    # Cohen (1960): 1 is full agreement, 0 is chance.
    assert agreement.cohen_kappa([[10, 0], [0, 10]]) == (1.0, 0.0)
    kappa, error = agreement.cohen_kappa([[5, 5], [5, 5]])
    assert kappa == pytest.approx(0.0)
    assert error > 0
    assert agreement.cohen_kappa([[0, 5], [5, 0]])[0] == pytest.approx(-1.0)


def test_grades_of_two_observers_make_a_table() -> None:
    table = agreement.table_of([0, 1, 2, 2], [0, 2, 2, 2], 3)
    assert table == [[1, 0, 0], [0, 0, 1], [0, 0, 2]]


tables = st.integers(2, 5).flatmap(
    lambda size: st.lists(
        st.lists(st.integers(0, 30), min_size=size, max_size=size),
        min_size=size,
        max_size=size,
    )
)


@given(tables)
def test_it_does_not_matter_who_is_first(table: list[list[int]]) -> None:
    try:
        kappa, error = agreement.cohen_kappa(table)
    except ValueError:
        return
    turned = [list(row) for row in zip(*table, strict=True)]
    assert -1 - 1e-9 <= kappa <= 1 + 1e-9
    assert error >= 0
    assert agreement.cohen_kappa(turned) == pytest.approx((kappa, error), abs=1e-7)


@pytest.mark.parametrize(
    ("table", "told"),
    [
        ([[1, 2]], "square"),
        ([[1]], "square"),
        ([[1, 2], [3]], "square"),
        ([[0, 0], [0, 0]], "counts nothing"),
        ([[5, 0], [0, 0]], "one grade throughout"),
        ([[1, -1], [0, 1]], "table"),
        ([[1, 0.5], [0, 1]], "whole number"),
    ],
)
def test_tables_without_meaning_are_refused(table, told: str) -> None:
    with pytest.raises(ValueError, match=told):
        agreement.cohen_kappa(table)


def test_lists_without_meaning_are_refused() -> None:
    with pytest.raises(ValueError, match="as many"):
        agreement.table_of([0, 1], [0], 2)
    with pytest.raises(ValueError, match="first is 2"):
        agreement.table_of([2], [0], 2)
    with pytest.raises(ValueError, match="second is 2"):
        agreement.table_of([0], [2], 2)
