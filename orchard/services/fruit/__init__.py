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

__all__ = [
    "MaturityReading",
    "Place",
    "read_test",
    "ready_since",
    "tests_by_place",
    "tests_since",
]
