"""Frost: how cold a night gets, whom it harms, what cover gains."""

from __future__ import annotations

from orchard.science.frost.harm import FruitFrost, Harm, Risk, cut_test_passes, risk
from orchard.science.frost.night import (
    fit_night_minimum,
    hours_below,
    night_curve,
    night_minimum,
    site_offset,
)

__all__ = [
    "FruitFrost",
    "Harm",
    "Risk",
    "cut_test_passes",
    "fit_night_minimum",
    "hours_below",
    "night_curve",
    "night_minimum",
    "risk",
    "site_offset",
]
