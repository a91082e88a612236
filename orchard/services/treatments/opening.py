"""When a treated tree comes free: computed when something is recorded, and kept."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import astuple, replace
from datetime import UTC, datetime
from functools import reduce
from zoneinfo import ZoneInfo

from orchard.records.models import (
    DryCheck,
    Orchard,
    Product,
    ProductUse,
    TreatedTree,
    Treatment,
    User,
    WetSpell,
)
from orchard.science import holds as laws
from orchard.science.holds import NO_HOLD, Label, Openings
from orchard.science.words import EntryRule, Reach, TreatmentKind
from orchard.services import audit, harvests
from orchard.services.holds import openings_of
from orchard.services.treatments.shapes import is_protection

UNKNOWN = Label(EntryRule.UNKNOWN)


def label_of(product: Product) -> Label:
    """Return what a product's label says of entering and picking."""
    return Label(
        EntryRule(product.entry_rule),
        product.entry_hours,
        product.fruit_days,
        product.leaf_days,
        product.flower_days,
    )


def labels_of(product: Product) -> list[Label]:
    """Return what a product's label was said to say, and every later reading of it.

    A later reading never lets a use come free earlier: that is said on the use itself.
    """
    labels = []
    reading: Product | None = product
    while reading is not None:
        labels.append(label_of(reading))
        reading = Product.objects.filter(corrects=reading).first()
    return labels


def write_new(treatment: Treatment, rows: Sequence[TreatedTree]) -> dict[int, Openings]:
    """Keep the trees that a treatment reached, each with when it comes free.

    Lots that turn out to have been picked meanwhile are kept back.
    """
    _compute(treatment, rows)
    audit.save_new_rows(rows)
    _look_at_lots([treatment], by=treatment.by, now=treatment.received_at)
    return {row.tree_id: openings_of(row) for row in rows}


def write_again(treatments: Iterable[Treatment], *, by: User, now: datetime) -> None:
    """Compute anew when the trees of treatments come free, and keep it.

    Lots that turn out to have been picked meanwhile are kept back.
    """
    treatments = list(treatments)
    for treatment in treatments:
        rows = list(treatment.reached.select_related("tree__kind"))
        _compute(treatment, rows)
        TreatedTree.objects.bulk_update(
            rows, ["entry_at", "fruit_at", "leaf_at", "flower_at", "open_from"]
        )
    _look_at_lots(treatments, by=by, now=now)


def _look_at_lots(treatments: Sequence[Treatment], *, by: User, now: datetime) -> None:
    for treatment in treatments:
        zone = ZoneInfo(treatment.orchard.time_zone)
        today = now.astimezone(zone).date()
        harvests.look_again(treatment, by=by, now=now, today=today)


def is_earlier(before: Mapping[int, Openings], after: Mapping[int, Openings]) -> bool:
    """Tell whether a tree comes free earlier than it did, or is left out.

    What was not known and is now comes free earlier too.
    """
    for tree_id, old in before.items():
        new = after.get(tree_id)
        if new is None:
            return True
        for was, comes in zip(astuple(old), astuple(new), strict=True):
            if comes is not None and (was is None or comes < was):
                return True
    return False


def _compute(treatment: Treatment, rows: Iterable[TreatedTree]) -> None:
    zone = ZoneInfo(treatment.orchard.time_zone)
    uses = list(treatment.products.select_related("product").order_by("id"))
    dry_at = dry_at_of(treatment)
    shared = _openings(treatment, uses, zone, dry_at)
    for row in rows:
        opens = shared
        if treatment.kind == TreatmentKind.MANURE:
            opens = _after_manure(treatment, row, zone)
        elif not row.is_on_label:
            # No label speaks of it: an adviser gives the day, or nobody.
            adviser = row.adviser_opens_at
            part = (
                None
                if adviser is None or opens.entry is None
                else max(adviser, opens.entry)
            )
            opens = replace(opens, fruit=part, leaf=part, flower=part)
        row.entry_at, row.fruit_at = opens.entry, opens.fruit
        row.leaf_at, row.flower_at = opens.leaf, opens.flower
        row.open_from = opens.last


def _openings(
    treatment: Treatment,
    uses: Sequence[ProductUse],
    zone: ZoneInfo,
    dry_at: datetime | None,
) -> Openings:
    ended = treatment.ended_at
    kind = TreatmentKind(treatment.kind)
    if not is_protection(kind, [use.product for use in uses]):
        if treatment.details.get("on_leaves"):
            # Feed on leaves: nobody brushes against them until they are dry.
            label = Label(EntryRule.UNTIL_DRY, None, 0, 0, 0)
            return laws.openings(label, ended, zone, dry_at)
        return laws.openings(NO_HOLD, ended, zone)
    labels = [label for use in uses for label in labels_of(use.product)] or [UNKNOWN]
    opens = (laws.openings(label, ended, zone, dry_at) for label in labels)
    return reduce(Openings.later, opens)


def _after_manure(treatment: Treatment, row: TreatedTree, zone: ZoneInfo) -> Openings:
    ended = treatment.ended_at.astimezone(UTC)
    high = treatment.details.get("fruit_high") and row.reach != Reach.BENEATH
    days = laws.manure_days(near_soil=not high)
    opens = laws.harvest_opens(ended, days, zone).astimezone(UTC)
    return Openings(ended, opens, opens, opens)


def dry_at_of(treatment: Treatment) -> datetime | None:
    """Return when a treatment was found dry by somebody who may say so.

    The first check that stands and in which nothing was wet: one made while rain, dew
    or sprinklers wetted the leaves says nothing.
    """
    checks = DryCheck.objects.filter(treatment=treatment).current()
    moments = list(checks.order_by("dry_at", "id").values_list("dry_at", flat=True))
    if not moments:
        return None
    wet = WetSpell.objects.filter(
        orchard=treatment.orchard_id, ended_at__gt=treatment.ended_at
    ).current()
    spells = list(wet.values_list("began_at", "ended_at"))
    for moment in moments:
        if moment >= treatment.ended_at and not any(
            began <= moment < ended for began, ended in spells
        ):
            return moment
    return None


def waiting_for_dry(orchard: Orchard) -> list[Treatment]:
    """List the treatments that wait until somebody finds them dry."""
    rows = (
        Treatment.objects.in_orchard(orchard)
        .done()
        .asking_for_dry()
        .filter(reached__entry_at=None, reached__counts=True)
        .with_products_and_trees()
        .order_by("ended_at", "id")
    )
    return list(rows)


def asks_for_dry(treatment: Treatment) -> bool:
    """Tell whether a label of a treatment says "until dry", or it was fed on leaves."""
    return Treatment.objects.filter(pk=treatment.pk).asking_for_dry().exists()
