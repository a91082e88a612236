from __future__ import annotations

import math
import random

import pytest

from orchard.science import sampling

pytestmark = pytest.mark.oracle
stats = pytest.importorskip("scipy.stats")
proportion = pytest.importorskip("statsmodels.stats.proportion")


def test_a_thousand_lots_match_the_hypergeometric_distribution() -> None:
    # scipy stats.hypergeom: the size is enough, and one fewer is not.
    draw = random.Random(31)
    for _ in range(1000):
        lot = draw.randrange(5, 3000)
        infested = draw.randrange(1, max(2, lot // 3))
        confidence = draw.choice([0.8, 0.9, 0.95, 0.99])
        looks = sampling.size_to_detect(infested / lot, confidence, lot)
        missed = stats.hypergeom(lot, infested, looks).pmf(0)
        assert missed <= (1 - confidence) * (1 + 1e-7)
        if looks > 1:
            one_fewer = stats.hypergeom(lot, infested, looks - 1).pmf(0)
            assert one_fewer > (1 - confidence) * (1 - 1e-7)


def test_a_thousand_imperfect_looks_match_the_mixture() -> None:
    # scipy stats: infested units drawn are hypergeometric, each seen on its own.
    draw = random.Random(1982)
    for _ in range(1000):
        lot = draw.randrange(5, 300)
        infested = draw.randrange(1, lot)
        looks = draw.randrange(0, lot + 1)
        seen = draw.uniform(0.3, 0.99)
        drawn = range(min(looks, infested) + 1)
        chances = stats.hypergeom(lot, infested, looks).pmf(list(drawn))
        missed = math.fsum(
            chance * (1 - seen) ** count
            for count, chance in zip(drawn, chances, strict=True)
        )
        found = sampling.confidence_of_absence(looks, infested / lot, lot, seen)
        assert found == pytest.approx(1 - missed, abs=1e-9)


def test_a_thousand_ranges_match() -> None:
    # statsmodels proportion_confint, method wilson.
    draw = random.Random(1927)
    for _ in range(1000):
        checked = draw.randrange(1, 500)
        positive = draw.randrange(0, checked + 1)
        confidence = draw.uniform(0.5, 0.999)
        expected = proportion.proportion_confint(
            positive, checked, 1 - confidence, "wilson"
        )
        found = sampling.wilson(positive, checked, confidence)
        assert found == pytest.approx(expected, abs=1e-9)
