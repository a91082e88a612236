from __future__ import annotations

import random

import pytest

from orchard.science import agreement

pytestmark = pytest.mark.oracle
inter_rater = pytest.importorskip("statsmodels.stats.inter_rater")


def test_a_thousand_tables_match() -> None:
    """A thousand random tables give what the reference library gives."""
    # statsmodels cohens_kappa: the error of Fleiss, Cohen & Everitt (1969).
    draw = random.Random(1960)
    for _ in range(1000):
        size = draw.randrange(2, 6)
        table = [[draw.randrange(1, 30) for _ in range(size)] for _ in range(size)]
        for grade in range(size):
            table[grade][grade] *= 4
        expected = inter_rater.cohens_kappa(table)
        kappa, error = agreement.cohen_kappa(table)
        assert kappa == pytest.approx(expected.kappa, abs=1e-9)
        assert error == pytest.approx(expected.std_kappa, abs=1e-9)
