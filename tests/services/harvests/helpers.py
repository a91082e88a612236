"""Picks that the tests of harvests start from."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

from orchard.records.models import (
    Case,
    Harvest,
    Orchard,
    Tree,
    User,
)
from orchard.science.words import Picked
from orchard.services import harvests
from orchard.services.harvests import ASKED, Pick, RecordedPick, shared_out
from tests.conftest import NOW
from tests.services.timeline.test_timeline import find, look

# Every question of food safety answered with yes.
ALL_WELL = frozenset(asked[0].value for asked in ASKED)
AGO = NOW - timedelta(hours=1)


def pick(
    *trees: Tree,
    at: datetime = AGO,
    kg: float | None = 4.0,
    count: int | None = None,
    part: str = "fruit",
    clean: bool = False,
    checks: frozenset[str] = ALL_WELL,
    **more: Any,
) -> Pick:
    """Bring what was picked of some trees into one crate."""
    shared = shared_out(trees, kg=kg, count=count, is_picked_clean=clean)
    return Pick(Picked(part), at, shared, checks=checks, **more)


def record(
    orchard: Orchard,
    *trees: Tree,
    by: User,
    now: datetime = NOW,
    anyway: str = "",
    **picked: Any,
) -> RecordedPick:
    """Record a pick, made an hour ago unless said otherwise."""
    return harvests.record(
        orchard, pick(*trees, **picked), by=by, now=now, today=now.date(), anyway=anyway
    )


def give(lot: Harvest, by: User, now: datetime = NOW, **share: Any) -> Any:
    """Give a part of a lot to the food bank, unless said otherwise."""
    values: dict[str, Any] = {
        "use": "given_away",
        "receiver": "Food bank",
        "contact": "0170 55",
        "given_on": now.date(),
        **share,
    }
    return harvests.share(lot, by=by, now=now, today=now.date(), **values)


def suspect(tree: Tree, by: User, *, at: datetime) -> Case:
    """Open a case on a tree, as a look at it does."""
    seen = look(tree, by, at=at, has_private=True)
    finding = find(seen, "psyllid_nymph", "report", private=True)
    return Case.objects.create(
        orchard=tree.orchard,
        tree=tree,
        sign="psyllid_nymph",
        finding=finding,
        opened_at=at,
        opened_by=by,
    )
