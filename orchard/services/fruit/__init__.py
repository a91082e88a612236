"""What tests of fruit say."""

from __future__ import annotations

from orchard.services.fruit.maturity import (
    MaturityReading,
    Place,
    read_test,
    ready_since,
    tests_by_place,
    tests_since,
)
from orchard.services.fruit.seasons import usual_seasons

__all__ = [
    "MaturityReading",
    "Place",
    "read_test",
    "ready_since",
    "tests_by_place",
    "tests_since",
    "usual_seasons",
]
