"""Comparing: two people at one tree within the hour, and how far they are apart."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import timedelta
from math import ceil
from typing import Any

from django.utils.translation import gettext as _

from orchard.records.models import Finding, Inspection
from orchard.science import figures, guide

# A scale with its zero in the middle has no "twice as much".
NO_RATIO = ("°C",)
A_DAY = timedelta(days=1)


def is_beside_another(look: Inspection) -> bool:
    """Tell whether somebody else looked at the tree within the hour."""
    close = figures.hours("looks_compared_h")
    last = look.tree.last_seen_on
    if last is None or last < look.seen_on - timedelta(days=ceil(close / A_DAY)):
        # The tree itself says that nobody did, without a query.
        return False
    others = Inspection.objects.current().filter(
        tree=look.tree,
        seen_at__gte=look.seen_at - close,
        seen_at__lte=look.seen_at + close,
    )
    return others.exclude(by=look.by).exists()


def differs(finding: Finding) -> str:
    """Say how a finding differs from what somebody else saw in the same hour.

    Both looks are kept as they are; who leads is asked for a second look when one
    number is more than twice the other. Return "" when they are close enough.
    """
    look = finding.inspection
    close = figures.hours("looks_compared_h")
    others = (
        Finding.objects.current()
        .filter(
            tree=finding.tree,
            sign=finding.sign,
            inspection__seen_at__gte=look.seen_at - close,
            inspection__seen_at__lte=look.seen_at + close,
        )
        .exclude(inspection__by=look.by)
        .exclude(inspection=look)
        .select_related("inspection__by")
        .order_by("-inspection__seen_at", "-pk")
    )
    far_apart = figures.figure("amounts_far_apart_times").value
    for other in others:
        for key, mine, theirs in _numbers(finding.answers, other.answers):
            if max(mine, theirs) > far_apart * min(mine, theirs):
                return _difference(finding, other, key, mine, theirs)
    return ""


def _numbers(
    mine: Mapping[str, Any], theirs: Mapping[str, Any]
) -> Iterable[tuple[str, float, float]]:
    """Pair the numbers that both gave for the same thing."""
    for key, fact in guide.load().facts.items():
        pair = (mine.get(key), theirs.get(key))
        if fact.kind != "number" or fact.unit in NO_RATIO or None in pair:
            continue
        yield key, float(pair[0]), float(pair[1])  # type: ignore[arg-type]


def _difference(
    finding: Finding, other: Finding, key: str, mine: float, theirs: float
) -> str:
    if other.private and not finding.private:
        # Whoever reads this finding need not know that another one is private.
        return _("Two people saw very different amounts within the hour.")
    fact = guide.load().facts[key]
    unit = "" if not fact.unit else f" {fact.unit}"
    return _(
        "Two people differ more than twofold within the hour (%(fact)s): %(mine)s by "
        "%(me)s, %(theirs)s by %(other)s."
    ) % {
        "fact": fact.words,
        "mine": f"{mine:g}{unit}",
        "me": finding.inspection.by.name,
        "theirs": f"{theirs:g}{unit}",
        "other": other.inspection.by.name,
    }
