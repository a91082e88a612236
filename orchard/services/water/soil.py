"""What people found of the soil while looking at trees: dry, or sunk."""

from __future__ import annotations

from datetime import date

from django.db.models import Q

from orchard.records.models import Finding, Orchard
from orchard.science.figures import days

# The sign of soil that has sunk.
SUNK = "roots_exposed"


def soil_lately_seen(
    orchard: Orchard, today: date
) -> tuple[dict[int, date], dict[int, tuple[date, float]]]:
    """Return what looks said of soil: when it was dry, how far it has sunk."""
    dry: dict[int, date] = {}
    sunk: dict[int, tuple[date, float]] = {}
    dry_since = today - days("soil_look_days")
    rows = (
        Finding.objects.in_orchard(orchard)
        .current()
        .filter(inspection__seen_on__gte=today - days("shoulder_look_days"))
        .filter(inspection__seen_on__lte=today)
        .filter(Q(answers__has_key="soil") | Q(sign=SUNK))
        .order_by("inspection__seen_at", "pk")
        .values_list("tree_id", "sign", "inspection__seen_on", "answers")
    )
    for tree_id, sign, on, answers in rows:
        if answers.get("soil") == "dry" and on >= dry_since:
            dry[tree_id] = on
        elif "soil" in answers:
            dry.pop(tree_id, None)
        depth = answers.get("cm")
        if sign == SUNK and isinstance(depth, int | float):
            sunk[tree_id] = (on, float(depth))
    return dry, sunk
