from __future__ import annotations

import random

import pytest

from orchard.science import progress

pytestmark = pytest.mark.oracle
integrate = pytest.importorskip("scipy.integrate")


def test_a_thousand_areas_match_the_trapezoid_rule() -> None:
    # scipy integrate.trapezoid.
    draw = random.Random(1977)
    for _ in range(1000):
        days = sorted(draw.sample(range(400), draw.randrange(2, 20)))
        values = [draw.uniform(0, 100) for _ in days]
        expected = integrate.trapezoid(values, days)
        shuffled = list(zip(days, values, strict=True))
        draw.shuffle(shuffled)
        found = progress.audpc(*zip(*shuffled, strict=True))
        assert found == pytest.approx(expected, rel=1e-12)
