"""Lists of inspections: what came in today, what was seen this month."""

from __future__ import annotations

from datetime import date, datetime, time
from enum import StrEnum
from zoneinfo import ZoneInfo

from django.db.models import QuerySet

from orchard.records.models import Inspection, Orchard, Tree, User

# Of looks so many are gone through for the trees of the last ones.
LAST_LOOKS = 30


class Period(StrEnum):
    """Since when: received since midnight, or seen since the first of the month."""

    TODAY = "today"
    MONTH = "month"


def list_inspections(
    orchard: Orchard, period: Period, *, now: datetime, today: date
) -> QuerySet[Inspection]:
    """Return the valid inspections of a period, each with its tree and observer."""
    midnight = datetime.combine(today, time(), ZoneInfo(orchard.time_zone))
    rows = Inspection.objects.current().in_orchard(orchard)
    match period:
        case Period.TODAY:
            rows = rows.filter(received_at__gte=midnight)
        case Period.MONTH:
            rows = rows.filter(seen_at__gte=midnight.replace(day=1), seen_at__lte=now)
    # Joined to them, SQLite would go through all looks at each tree of each cultivar.
    return rows.prefetch_related("tree__kind", "by", "written_by")


def last_trees(by: User, *, besides: Tree, most: int = 3) -> list[Tree]:
    """Return the trees of an orchard that a person looked at last, the newest first."""
    looks = Inspection.objects.current().in_orchard(besides.orchard_id).filter(by=by)
    looks = looks.exclude(tree=besides).order_by("-seen_at", "-id")
    numbers = dict.fromkeys(looks.values_list("tree_id", flat=True)[:LAST_LOOKS])
    trees = Tree.objects.in_bulk(list(numbers)[:most])
    return [trees[number] for number in list(numbers)[:most]]
