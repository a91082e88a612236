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
    EarlierFindings,
    Facts,
    Ground,
    Site,
    frost_ahead,
    gather,
    gather_for_any,
    in_frost_season,
    read_earlier,
    read_site,
    stage_facts,
)

__all__ = [
    "CareFacts",
    "Earlier",
    "EarlierFindings",
    "Facts",
    "Ground",
    "Site",
    "bared_lately",
    "care_facts_of",
    "frost_ahead",
    "gather",
    "gather_for_any",
    "in_frost_season",
    "large_crowns",
    "read_earlier",
    "read_site",
    "stage_facts",
]
