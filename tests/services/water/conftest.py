"""A tree on measured ground."""

from __future__ import annotations

import pytest

from orchard.services import (
    water,
)
from tests.services.weather_days import AFTERNOON, JANUARY


@pytest.fixture
def watered(tree, cora):
    orchard = tree.orchard
    water.set_soil(orchard, sort="loam", cover="bare", by=cora, now=AFTERNOON)
    water.measure_crown(
        tree, measured_on=JANUARY, width_m=3.0, by=cora, now=AFTERNOON, today=JANUARY
    )
    return tree
