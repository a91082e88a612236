"""Treatments as lists: what is closed now, what is planned, the register of uses."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from orchard.records.days import day_in, year_in
from orchard.records.models import (
    HoldBreach,
    Membership,
    Orchard,
    ProductUse,
    TreatedTree,
    Treatment,
    Tree,
)
from orchard.science import holds as laws
from orchard.science.words import Reach, RecordProfile, TreatmentKind
from orchard.services import holds
from orchard.services.holds import SketchBlock
from orchard.services.paging import NumberedPage, Page, page_by_key, page_by_number
from orchard.services.treatments.opening import waiting_for_dry
from orchard.services.treatments.record import plans_of
from orchard.services.treatments.shapes import Amount, Use, is_protection

PAGE_SIZE, TREES_PAGE = 40, 50
AS_WALKED = ("tree__spot__block__position", "tree__spot__position", "id")


@dataclass(frozen=True, slots=True)
class ListFilter:
    """What a list of uses is narrowed to: a kind, a year; nothing for all."""

    kind: str = ""
    year: int | None = None

    @classmethod
    def read(cls, asked: Mapping[str, str]) -> ListFilter:
        """Read it from an address; what makes no sense is left out."""
        kind, year = asked.get("kind", ""), asked.get("year", "")
        return cls(
            kind if kind in set(TreatmentKind) else "",
            int(year) if year.isdecimal() and 1900 < int(year[:5]) < 3000 else None,
        )


@dataclass(frozen=True, slots=True)
class ClosedGroup:
    """Trees that are closed alike, and come free together."""

    codes: tuple[str, ...]
    entry: datetime | None
    fruit: datetime | None
    entry_is_closed: bool
    fruit_is_closed: bool
    kinds: tuple[TreatmentKind, ...]


@dataclass(frozen=True, slots=True)
class Overview:
    """What treatments ask of people now."""

    closed: tuple[ClosedGroup, ...]
    waiting: tuple[Treatment, ...]
    plans: tuple[Treatment, ...]
    breaches: tuple[HoldBreach, ...]


def overview(member: Membership, *, now: datetime) -> Overview:
    """Return what is closed now, what waits to be found dry, and what is planned."""
    orchard = member.orchard
    return Overview(
        closed=tuple(closed_groups(orchard, now=now)),
        waiting=tuple(waiting_for_dry(orchard)),
        plans=tuple(plans_of(member)),
        breaches=tuple(
            HoldBreach.objects.filter(
                orchard=orchard, received_at__gt=now - timedelta(days=30)
            )
            .select_related("tree", "by")
            .order_by("-happened_at", "-id")[:20]
        ),
    )


def closed_groups(orchard: Orchard, *, now: datetime) -> list[ClosedGroup]:
    """List trees that are closed after treatments, those alike together."""
    found = holds.after_treatments(orchard, None, now)
    codes = dict(
        orchard.trees.filter(pk__in=found).values_list("pk", "code").order_by("code")
    )
    groups: dict[ClosedGroup, list[str]] = {}
    for tree_id, code in codes.items():
        after = found[tree_id]
        opens = after.openings
        closed = after.is_locked(opens.entry, now), after.is_locked(opens.fruit, now)
        if any(closed):
            alike = ClosedGroup((), opens.entry, opens.fruit, *closed, after.kinds)
            groups.setdefault(alike, []).append(code)
    rows = [replace(alike, codes=tuple(trees)) for alike, trees in groups.items()]
    # What has no known end stands first.
    return sorted(
        rows,
        key=lambda row: (
            row.entry is not None and row.fruit is not None,
            str(row.fruit),
            row.codes,
        ),
    )


def treatments_page(
    orchard: Orchard, *, kind: str = "", year: int | None = None, after: str = ""
) -> Page[Treatment]:
    """Return a page of the uses that took place and stand, the newest first."""
    rows = Treatment.objects.in_orchard(orchard).done().select_related("by")
    if kind:
        rows = rows.filter(kind=kind)
    if year is not None:
        first, last = year_in(year, orchard.time_zone)
        rows = rows.filter(ended_at__gte=first, ended_at__lt=last)
    return page_by_key(
        rows.with_products_and_trees(), "-ended_at", "-id", after=after, size=PAGE_SIZE
    )


def years_of(orchard: Orchard) -> list[int]:
    """List the years in which something was used, the newest first."""
    zone = ZoneInfo(orchard.time_zone)
    rows = Treatment.objects.in_orchard(orchard).done()
    years = rows.datetimes("ended_at", "year", order="DESC", tzinfo=zone)
    return [first.year for first in years]


@dataclass(frozen=True, slots=True)
class RegisterRow:
    """One product of one use, as the register of plant protection tells it."""

    treatment: Treatment
    use: ProductUse | None
    codes: tuple[str, ...]
    crops: tuple[str, ...]
    due_on: date
    kept_until: date
    written_on: date
    has_label_photo: bool
    photos: int

    @property
    def is_late(self) -> bool:
        return self.written_on > self.due_on

    @property
    def lacks(self) -> tuple[str, ...]:
        """Return what the record lacks, in sentences."""
        return tuple(
            text for code, text in self.treatment.breaches if code == "missing"
        )

    @property
    def broke(self) -> tuple[str, ...]:
        """Return the rules that the use broke, in sentences."""
        return tuple(
            text for code, text in self.treatment.breaches if code != "missing"
        )


def register(
    orchard: Orchard, year: int, *, everything: bool = False
) -> list[RegisterRow]:
    """List the uses of plant protection products of a year, or all treatments."""
    return list(_register_rows(orchard, year, everything))


def _register_rows(
    orchard: Orchard, year: int, everything: bool
) -> Iterator[RegisterRow]:
    first, last = year_in(year, orchard.time_zone)
    profile = RecordProfile(orchard.record_profile)
    rows = (
        Treatment.objects.in_orchard(orchard)
        .done()
        .filter(ended_at__gte=first, ended_at__lt=last)
        .select_related("by", "written_by")
        .prefetch_related("products__product__photos", "reached__tree__kind", "photos")
        .order_by("ended_at", "id")
    )
    for row in rows:
        uses = list(row.products.all())
        products = [use.product for use in uses]
        if not everything and not is_protection(TreatmentKind(row.kind), products):
            continue
        on = day_in(row.ended_at, orchard.time_zone)
        reached = [each for each in row.reached.all() if each.reach == "treated"]
        nothing: list[ProductUse | None] = [None]
        for use in uses or nothing:
            yield RegisterRow(
                treatment=row,
                use=use,
                codes=tuple(each.tree.code for each in reached),
                crops=tuple(dict.fromkeys(each.tree.kind.name for each in reached)),
                due_on=laws.record_due_on(on, profile),
                kept_until=laws.record_kept_until(on, profile),
                written_on=day_in(row.received_at, orchard.time_zone),
                has_label_photo=use is not None
                and any(photo.is_current for photo in use.product.photos.all()),
                photos=sum(photo.is_current for photo in row.photos.all()),
            )


def treated_trees(treatment: Treatment) -> list[TreatedTree]:
    """List the trees that a treatment reached, in walking order."""
    rows = treatment.reached.select_related("tree__kind", "tree__spot__block")
    return list(rows.order_by(*AS_WALKED))


def treated_page(treatment: Treatment, *, page: int = 1) -> NumberedPage[TreatedTree]:
    """Return a page of them, first those of which an adviser is asked."""
    rows = treatment.reached.select_related("tree__kind")
    return page_by_number(
        rows.order_by("is_on_label", *AS_WALKED), number=page, size=TREES_PAGE
    )


def first_treated(treatment: Treatment) -> TreatedTree | None:
    """Return the treated tree that is walked to first; drift alone treats none."""
    rows = treatment.reached.filter(reach=Reach.TREATED)
    return rows.order_by(*AS_WALKED).first()


def sketch_around(reached: Sequence[TreatedTree]) -> tuple[SketchBlock, ...]:
    """Sketch the blocks of treated trees, with all that stands there now."""
    closed = {each.tree_id for each in reached}
    blocks = {each.tree.spot.block_id for each in reached}
    standing = (
        Tree.objects.standing()
        .filter(spot__block__in=blocks)
        .select_related("spot__block")
        .in_walking_order()
    )
    return holds.sketch_of(standing, closed=closed)


def only_tree(treatment: Treatment) -> Tree | None:
    """Return the tree that was treated, where it was a single one."""
    rows = treatment.reached.filter(reach=Reach.TREATED).select_related("tree")[:2]
    trees = [row.tree for row in rows]
    return trees[0] if len(trees) == 1 else None


def used_on(treatment: Treatment) -> list[ProductUse]:
    """List the products of a treatment, with their labels."""
    return list(treatment.products.select_related("product").order_by("id"))


def use_of(treatment: Treatment) -> Use:
    """Return what is on record of a treatment as somebody would bring it."""
    reached = treated_trees(treatment)
    trees = {
        reach: tuple(each.tree for each in reached if each.reach == reach)
        for reach in Reach
    }
    return Use(
        kind=TreatmentKind(treatment.kind),
        started_at=treatment.started_at,
        ended_at=treatment.ended_at,
        trees=trees[Reach.TREATED],
        drift=trees[Reach.DRIFT],
        beneath=trees[Reach.BENEATH],
        amounts=tuple(
            Amount(each.product, each.dose, each.dose_unit, each.total, each.total_unit)
            for each in used_on(treatment)
        ),
        fields={
            name: getattr(treatment, name)
            for name in ("size", "size_unit", "mix_litres", "method", "temperature_c")
        },
        details=treatment.details,
    )


def newer_record(treatment: Treatment) -> Treatment | None:
    """Return the record that corrects a treatment, if there is one."""
    if treatment.superseded_at is None:
        return None
    return Treatment.objects.filter(corrects=treatment).first()


def carried_out(plan: Treatment) -> Treatment | None:
    """Return the use that carried a plan out, if it has been."""
    if not plan.is_plan:
        return None
    return Treatment.objects.filter(plan=plan).current().first()
