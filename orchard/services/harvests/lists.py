"""Lots and yields as lists: what was picked, by tree, by cultivar and by year."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from django.db.models import Case, Max, Min, Prefetch, Q, QuerySet, Sum, Value, When
from django.db.models.functions import Coalesce

from orchard.records.days import day_in, year_in
from orchard.records.models import Harvest, HarvestedTree, HarvestShare, Kind, Orchard
from orchard.science.words import Picked
from orchard.services.harvests.checks import why_kept_back
from orchard.services.harvests.shares import LotBalance, balance_from
from orchard.services.harvests.since_picked import LaterHold, held_since
from orchard.services.paging import NumberedPage, Page, page_by_key, page_by_number

PAGE, YIELDS_PAGE, TREES_PAGE = 25, 50, 50


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
    year: int | None
    by_tree: NumberedPage[Yield]
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


def trees_in_lot(
    harvest: Harvest, *, page: int = 1, size: int = TREES_PAGE
) -> NumberedPage[HarvestedTree]:
    """Return a page of what the trees of a lot gave, in the order of its record."""
    rows = harvest.harvested.select_related("tree__kind").order_by("id")
    return page_by_number(rows, number=page, size=size)


def kinds_in_lot(harvest: Harvest) -> list[Kind]:
    """List the cultivars of a lot, in the order of its record."""
    kinds = Kind.objects.filter(trees__harvests__harvest=harvest)
    first = Min("trees__harvests", filter=Q(trees__harvests__harvest=harvest))
    return list(kinds.annotate(first=first).order_by("first"))


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


def yields_of(
    orchard: Orchard,
    *,
    year: int | None = None,
    tree: str = "",
    page: int = 1,
    size: int = YIELDS_PAGE,
) -> Yields:
    """Return the fruit picked, all of it by year, and one year's by tree and cultivar.

    Without a year it is the newest in which something was picked. Of one tree alone
    where its code is given. What was picked and not weighed counts in numbers only.
    Trees may be many: theirs is a page, those that gave most first.
    """
    rows = HarvestedTree.objects.filter(
        harvest__orchard=orchard,
        harvest__superseded_at=None,
        harvest__withdrawn_at=None,
        harvest__part=Picked.FRUIT,
    )
    if tree:
        rows = rows.filter(tree__code__iexact=tree)
    by_year = _by_year(rows, orchard)
    shown = year or max((row.year for row in by_year), default=None)
    if shown is None:
        this = rows.none()
    else:
        begins, ends = year_in(shown, orchard.time_zone)
        this = rows.filter(harvest__picked_at__gte=begins, harvest__picked_at__lt=ends)
    kinds = _largest_first(this, "tree__kind__name")
    found = page_by_number(
        _largest_first(this, "tree__code", "tree"), number=page, size=size
    )
    trees = (Yield(row[0], shown or 0, *row[-2:]) for row in found.rows)
    return Yields(
        by_year=by_year,
        year=shown,
        by_tree=found.showing(trees),
        by_kind=tuple(Yield(name, shown or 0, kg, n) for name, kg, n in kinds),
    )


def _by_year(rows: QuerySet[Any], orchard: Orchard) -> tuple[Yield, ...]:
    """Add up the years, each by where it begins and ends."""
    ends = rows.aggregate(
        first=Min("harvest__picked_at"), last=Max("harvest__picked_at")
    )
    if ends["first"] is None:
        return ()
    first, last = (day_in(ends[end], orchard.time_zone) for end in ("first", "last"))
    # Compared with moments: the year of each row would be worked out row by row.
    year = Case(
        *(
            When(
                harvest__picked_at__gte=year_in(number, orchard.time_zone)[0],
                then=Value(number),
            )
            for number in range(last.year, first.year, -1)
        ),
        default=Value(first.year),
    )
    sums = _added_up(rows.annotate(year=year).values_list("year")).order_by("year")
    return tuple(Yield(str(number), number, kg, n) for number, kg, n in sums)


def _largest_first(
    rows: QuerySet[Any], name: str, *group: str
) -> QuerySet[Any, tuple[Any, ...]]:
    return _added_up(rows.values_list(name, *group)).order_by(
        "-total_kg", "-total_count", name, *group
    )


def _added_up(
    groups: QuerySet[Any, tuple[Any, ...]],
) -> QuerySet[Any, tuple[Any, ...]]:
    added_up: QuerySet[Any, tuple[Any, ...]] = groups.annotate(
        total_kg=Coalesce(Sum("kg"), 0.0), total_count=Coalesce(Sum("count"), 0)
    )
    return added_up
