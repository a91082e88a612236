"""What is on record of a tree on a day, before anybody has looked."""

from __future__ import annotations

from orchard.services.facts.care import (
    CareFacts,
    bared_lately,
    care_facts_of,
    large_crowns,
)
from orchard.services.facts.tree import (
    Earlier,
    Facts,
    Ground,
    frost_ahead,
    gather,
    in_frost_season,
    stage_facts,
)

__all__ = [
    "CareFacts",
    "Earlier",
    "Facts",
    "Ground",
    "bared_lately",
    "care_facts_of",
    "frost_ahead",
    "gather",
    "in_frost_season",
    "large_crowns",
    "stage_facts",
]
