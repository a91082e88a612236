"""Is fruit ready: juice, published standards, and the answer of a test."""

from __future__ import annotations

from orchard.science.ripeness.juice import (
    acid_percent,
    correct_brix,
    juice_percent,
    ratio,
)
from orchard.science.ripeness.readiness import (
    EDITIONS,
    Assessment,
    Readiness,
    Yardstick,
    judge_readiness,
)
from orchard.science.ripeness.standards import Requirement, Ripeness, standard_names

__all__ = [
    "EDITIONS",
    "Assessment",
    "Readiness",
    "Requirement",
    "Ripeness",
    "Yardstick",
    "acid_percent",
    "correct_brix",
    "judge_readiness",
    "juice_percent",
    "ratio",
    "standard_names",
]
