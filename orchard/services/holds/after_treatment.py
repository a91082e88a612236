"""After a treatment: until when nobody works at a tree, and nothing is picked of it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, time
from functools import reduce
from typing import Any
from zoneinfo import ZoneInfo

from django.db.models import Q, QuerySet
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from orchard.records.models import Orchard, TreatedTree
from orchard.science.holds import Openings
from orchard.science.words import HoldKind, Picked, TreatmentKind
from orchard.services.holds.shapes import HoldQuery, TreeHold

NAMES = {
    Picked.FRUIT: gettext_lazy("fruit"),
    Picked.LEAF: gettext_lazy("leaves"),
    Picked.FLOWER: gettext_lazy("flowers"),
}


@dataclass(frozen=True, slots=True)
class After:
    """What all treatments of a tree together hold, and what was put on it."""

    openings: Openings
    kinds: tuple[TreatmentKind, ...]

    def is_locked(self, moment: datetime | None, at: datetime) -> bool:
        """Tell whether something is held at a moment; what is not known is."""
        return moment is None or moment > at


def after_treatments(
    orchard: Orchard,
    wanted: frozenset[int] | None,
    at: datetime,
    *,
    begun_by: datetime | None = None,
) -> dict[int, After]:
    """Return what treatments hold on trees at a moment, in one query.

    Of all trees or of those wanted; a tree of which nothing is held is left out. Of a
    moment that is past, treatments that had not begun by then hold nothing.
    """
    rows = _holding(orchard, wanted, at, begun_by).order_by("tree_id", "id")
    found: dict[int, tuple[list[Openings], dict[TreatmentKind, None]]] = {}
    for tree_id, kind, *opens_at in rows.values_list(
        "tree_id", "treatment__kind", "entry_at", "fruit_at", "leaf_at", "flower_at"
    ):
        each, kinds = found.setdefault(tree_id, ([], {}))
        each.append(Openings(*opens_at))
        kinds[TreatmentKind(kind)] = None
    return {
        tree_id: After(reduce(Openings.later, each), tuple(kinds))
        for tree_id, (each, kinds) in found.items()
    }


def _holding(
    orchard: Orchard,
    wanted: frozenset[int] | None,
    at: datetime,
    begun_by: datetime | None,
) -> QuerySet[TreatedTree]:
    rows = TreatedTree.objects.holding_in(orchard, at)
    return rows.filter(_of_those(wanted, begun_by))


def _of_those(wanted: frozenset[int] | None, begun_by: datetime | None) -> Q:
    asked = Q()
    if begun_by is not None:
        asked &= Q(treatment__started_at__lte=begun_by)
    if wanted is not None:
        asked &= Q(tree__in=wanted)
    return asked


def openings_of(row: TreatedTree) -> Openings:
    """Return when one treatment lets people enter and pick at one tree."""
    return Openings(row.entry_at, row.fruit_at, row.leaf_at, row.flower_at)


def treatments_holding(asked: HoldQuery) -> tuple[QuerySet[Any], ...]:
    """Return the rows that such holds come from."""
    parts = TreatedTree.objects.parts_holding(asked.orchard, _moment(asked))
    those = _of_those(asked.trees, asked.now)
    return tuple(part.filter(those) for part in parts)


def _moment(asked: HoldQuery) -> datetime:
    zone = ZoneInfo(asked.orchard.time_zone)
    return asked.now or datetime.combine(asked.today, time(), tzinfo=zone)


def holds_after_treatment(asked: HoldQuery) -> Iterator[tuple[int, TreeHold]]:
    """Yield the trees that are closed after a treatment: for entry, for picking.

    At a moment where one is given, else at any time of the day.
    """
    zone, at = ZoneInfo(asked.orchard.time_zone), _moment(asked)
    found = after_treatments(asked.orchard, asked.trees, at, begun_by=asked.now)
    for tree_id, after in found.items():
        opens = after.openings
        if after.is_locked(opens.entry, at):
            yield (
                tree_id,
                TreeHold(
                    HoldKind.ENTRY, entry_words(opens.entry, zone), until_at=opens.entry
                ),
            )
        if after.is_locked(opens.fruit, at):
            yield (
                tree_id,
                TreeHold(
                    HoldKind.HARVEST,
                    harvest_words(Picked.FRUIT, opens.fruit, zone),
                    until_at=opens.fruit,
                ),
            )


def entry_words(until: datetime | None, zone: ZoneInfo) -> str:
    """Say until when nobody may enter."""
    if until is None:
        return _("No entry: the end of the treatment's entry hold is not known.")
    return _("No entry before %(moment)s: it was treated.") % {
        "moment": moment_words(until, zone)
    }


def harvest_words(part: Picked, until: datetime | None, zone: ZoneInfo) -> str:
    """Say until when a part may not be picked or tasted."""
    words = {"part": str(NAMES[part])}
    if until is None:
        text = _(
            "No picking or tasting of %(part)s: the end of the treatment's harvest "
            "hold is not known."
        )
        return text % words
    words["moment"] = moment_words(until, zone)
    text = _("No picking or tasting of %(part)s before %(moment)s: it was treated.")
    return text % words


def moment_words(moment: datetime, zone: ZoneInfo) -> str:
    """Write a moment by the orchard's clock: "Thu 7 May, 14:00"; minutes round up."""
    local = moment.astimezone(zone)
    if local.second or local.microsecond:
        whole = moment.timestamp() // 60 * 60 + 60
        local = datetime.fromtimestamp(whole, tz=zone)
    return str(date_format(local, "D j M, H:i"))
