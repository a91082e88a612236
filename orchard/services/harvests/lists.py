"""Lots and yields as lists: what was picked, by tree, by cultivar and by year."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from django.db.models import Prefetch, QuerySet, Sum
from django.db.models.functions import ExtractYear

from orchard.records.days import year_in
from orchard.records.models import Harvest, HarvestedTree, HarvestShare, Kind, Orchard
from orchard.science.words import Picked
from orchard.services.harvests.checks import why_kept_back
from orchard.services.harvests.shares import LotBalance, balance_from
from orchard.services.harvests.since_picked import LaterHold, held_since
from orchard.services.paging import Page, page_by_key

PAGE = 25


@dataclass(frozen=True, slots=True)
class LotLine:
    """A lot as a line of a list: its trees, how much it was, what is left of it."""

    harvest: Harvest
    trees: tuple[HarvestedTree, ...]
    balance: LotBalance
    is_kept_back: bool

    @property
    def codes(self) -> str:
        return ", ".join(row.tree.code for row in self.trees)

    @property
    def kinds(self) -> str:
        return ", ".join(dict.fromkeys(row.tree.kind.name for row in self.trees))


@dataclass(frozen=True, slots=True)
class LotFilters:
    """What a list of lots is narrowed to; empty fields narrow nothing."""

    year: int | None = None
    kind: int | None = None
    tree: str = ""


@dataclass(frozen=True, slots=True)
class Yield:
    """What a tree, or all trees of a cultivar, gave in one year."""

    name: str
    year: int
    kg: float
    count: int


@dataclass(frozen=True, slots=True)
class Yields:
    """What was picked here, by year, and in one year by tree and by cultivar."""

    by_year: tuple[Yield, ...]
    by_tree: tuple[Yield, ...]
    by_kind: tuple[Yield, ...]


def lots_of(
    orchard: Orchard, filters: LotFilters, *, after: str = "", size: int = PAGE
) -> Page[LotLine]:
    """Return a page of the lots that stand, the newest first."""
    rows = Harvest.objects.in_orchard(orchard).current()
    if filters.year is not None:
        begins, ends = year_in(filters.year, orchard.time_zone)
        rows = rows.filter(picked_at__gte=begins, picked_at__lt=ends)
    wanted = HarvestedTree.objects.all()
    if filters.kind is not None:
        wanted = wanted.filter(tree__kind=filters.kind)
    if filters.tree:
        wanted = wanted.filter(tree__code__iexact=filters.tree)
    if filters.kind is not None or filters.tree:
        rows = rows.filter(pk__in=wanted.values("harvest"))
    page = page_by_key(
        _with_all(rows.select_related("orchard", "by")),
        "-picked_at",
        "-id",
        after=after,
        size=size,
    )
    shares, later = _shares(page.rows, orchard), held_since(page.rows)
    lines = (_line(row, shares, later.get(row.pk, ())) for row in page.rows)
    return Page(tuple(lines), page.next_key)


def lot_line(harvest: Harvest) -> LotLine:
    """Return one lot as its page shows it, whatever has become of it."""
    [row] = _with_all(Harvest.objects.filter(pk=harvest.pk).select_related("orchard"))
    later = held_since([row]).get(row.pk, ())
    return _line(row, _shares([row], harvest.orchard), later)


def _with_all(rows: QuerySet[Harvest]) -> QuerySet[Harvest]:
    trees = HarvestedTree.objects.select_related("tree__kind").order_by("id")
    return rows.prefetch_related(Prefetch("harvested", trees))


def _shares(rows: Iterable[Harvest], orchard: Orchard) -> dict[str, list[HarvestShare]]:
    lots = [row.lot for row in rows]
    found: dict[str, list[HarvestShare]] = defaultdict(list)
    shares = HarvestShare.objects.in_orchard(orchard).current()
    for share in shares.filter(harvest__lot__in=lots).select_related("harvest"):
        found[share.harvest.lot].append(share)
    return found


def _line(
    row: Harvest,
    shares: dict[str, list[HarvestShare]],
    later: Iterable[LaterHold],
) -> LotLine:
    trees = tuple(row.harvested.all())
    return LotLine(
        row,
        trees,
        balance_from(trees, shares.get(row.lot, ())),
        bool(why_kept_back(row, later=later)),
    )


def kinds_picked(orchard: Orchard) -> list[Kind]:
    """List the cultivars of which something was picked, by name."""
    picked = HarvestedTree.objects.filter(harvest__orchard=orchard)
    rows = Kind.objects.filter(pk__in=picked.values("tree__kind"))
    return list(rows.order_by("name", "id"))


def yields_of(orchard: Orchard, *, year: int | None = None, tree: str = "") -> Yields:
    """Return the fruit picked, all of it by year, and one year's by tree and cultivar.

    Without a year it is the newest in which something was picked. Of one tree alone
    where its code is given. What was picked and not weighed counts in numbers only.
    """
    zone = ZoneInfo(orchard.time_zone)
    rows = HarvestedTree.objects.filter(
        harvest__orchard=orchard,
        harvest__superseded_at=None,
        harvest__withdrawn_at=None,
        harvest__part=Picked.FRUIT,
    )
    if tree:
        rows = rows.filter(tree__code__iexact=tree)
    sums = rows.annotate(
        year=ExtractYear("harvest__picked_at", tzinfo=zone)
    ).values_list("year", "tree__code", "tree__kind__name")
    found = [
        (picked_in, code, kind, kg or 0.0, count or 0)
        for picked_in, code, kind, kg, count in sums.annotate(
            total_kg=Sum("kg"), total_count=Sum("count")
        )
    ]
    shown = year or max((row[0] for row in found), default=None)
    this = [row for row in found if row[0] == shown]
    return Yields(
        by_year=tuple(
            sorted(
                _summed((str(row[0]), *row) for row in found),
                key=lambda each: each.year,
            )
        ),
        by_tree=_largest(_summed((row[1], *row) for row in this)),
        by_kind=_largest(_summed((row[2], *row) for row in this)),
    )


def _summed(rows: Iterable[tuple[str, int, str, str, float, int]]) -> list[Yield]:
    sums: dict[tuple[str, int], tuple[float, int]] = {}
    for name, year, _code, _kind, kg, count in rows:
        before = sums.get((name, year), (0.0, 0))
        sums[name, year] = (before[0] + kg, before[1] + count)
    return [Yield(name, year, kg, n) for (name, year), (kg, n) in sums.items()]


def _largest(rows: list[Yield]) -> tuple[Yield, ...]:
    return tuple(sorted(rows, key=lambda row: (-row.kg, -row.count, row.name)))
