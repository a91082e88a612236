"""Products: what a label says, typed once from the container and used again."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime
from typing import IO, Any

from django.db import transaction
from django.utils.translation import gettext as _

from orchard.records.models import Orchard, Product, Treatment, User
from orchard.science.words import EntryRule, TreatmentKind
from orchard.services import audit, corrections, photos
from orchard.services.audit import Verb
from orchard.services.errors import Refused
from orchard.services.treatments import opening
from orchard.services.treatments.shapes import is_protection


def add_product(
    orchard: Orchard,
    *,
    by: User,
    now: datetime,
    today: date,
    photo: IO[bytes] | None = None,
    **label: Any,
) -> Product:
    """Enter a product with what its label says, and a photo of it.

    Raises:
        Refused (wrong_day): it was held against the container in the future.
        Refused (name_taken): the orchard has one of this name. not_whole: hours
            without a number, a dose without a unit.
        Refused (bad_picture): what was given as a photo is none.
    """
    row = Product(orchard=orchard, by=by, received_at=now, **label)
    _check(row, today=today)
    taken = Product.objects.in_orchard(orchard).current()
    if taken.filter(name__iexact=row.name, kind=row.kind).exists():
        raise Refused(
            _("%(name)s is here already. Correct it, if its label has changed.")
            % {"name": row.name},
            code="name_taken",
            field="name",
        )
    laid = photos.lay_down([photos.read_picture(photo)]) if photo else []
    try:
        with transaction.atomic():
            audit.save(Verb.ADD, row, by=by, now=now)
            for name, picture in laid:
                photos.enter(
                    name, picture, orchard=orchard, by=by, now=now, product=row
                )
    finally:
        photos.take_away_unentered(name for name, _picture in laid)
    return row


def correct_product(
    product: Product,
    *,
    by: User,
    now: datetime,
    today: date,
    reason: str,
    photo: IO[bytes] | None = None,
    **changes: Any,
) -> Product:
    """Put a newer reading of a label in place of one; the old one stays readable.

    Uses on record keep what they were made with. Where the newer reading asks for a
    longer wait it counts for them at once; a shorter one is entered on the use itself.

    Raises:
        Refused (reason_missing): no reason is given. Others as `add_product`.
    """
    laid = photos.lay_down([photos.read_picture(photo)]) if photo else []
    try:
        with transaction.atomic():
            old = corrections.lock_current(product, by)
            row = corrections.renewed(old, by=by, now=now, **changes)
            _check(row, today=today)
            corrections.put_in_place(
                Verb.CORRECT, old, row, by=by, now=now, reason=reason
            )
            if not laid:
                photos.carry_over(old, row)
            for name, picture in laid:
                photos.enter(
                    name, picture, orchard=row.orchard, by=by, now=now, product=row
                )
            opening.write_again(_uses_of(row), by=by, now=now)
    finally:
        photos.take_away_unentered(name for name, _picture in laid)
    return row


def withdraw_product(
    product: Product, *, by: User, now: datetime, reason: str
) -> Product:
    """Take a product off the list; uses on record keep it.

    Raises:
        Refused: as `corrections.withdraw`.
    """
    return corrections.withdraw(product, by=by, now=now, reason=reason)


def products_of(orchard: Orchard, kind: str = "") -> list[Product]:
    """List the products of an orchard, or those of a kind, by name."""
    rows = Product.objects.in_orchard(orchard).current().prefetch_related("photos")
    if kind:
        rows = rows.filter(kind=kind)
    return list(rows.order_by("name", "id"))


def earlier_readings(product: Product) -> list[Product]:
    """List what the label was said to say before, the newest first."""
    found = []
    number = product.corrects_id
    while number is not None:
        reading = Product.objects.get(pk=number)
        found.append(reading)
        number = reading.corrects_id
    return found


def newer_reading(product: Product) -> Product | None:
    """Return the reading of a label that corrects this one, if there is one."""
    newer: Product | None = Product.objects.filter(corrects=product).first()
    return newer


def unknown_of(product: Product) -> list[str]:
    """Name what a label does not say, so that nothing opens by itself."""
    if not is_protection(TreatmentKind(product.kind), [product]):
        return []
    names = []
    if product.entry_rule == EntryRule.UNKNOWN:
        names.append(_("when people may enter"))
    if product.fruit_days is None:
        names.append(_("when fruit may be picked"))
    return names


def _uses_of(product: Product) -> Sequence[Treatment]:
    numbers = [product.pk, *(each.pk for each in earlier_readings(product))]
    rows = Treatment.objects.in_orchard(product.orchard).current()
    rows = rows.filter(products__product__in=numbers).select_related("orchard")
    return list(rows.distinct())


def _check(row: Product, *, today: date) -> None:
    row.name = row.name.strip()
    if row.checked_on > today:
        raise Refused(
            _("That day is in the future. Enter when you read the container."),
            code="wrong_day",
            field="checked_on",
        )
    if row.entry_rule == EntryRule.HOURS and row.entry_hours is None:
        raise Refused(
            _("Enter the hours, or choose that the label doesn't say."),
            code="not_whole",
            field="entry_hours",
        )
    if row.entry_rule in (EntryRule.UNKNOWN, EntryRule.NONE_NEEDED):
        row.entry_hours = None
    if row.most_dose is not None and not row.dose_unit:
        raise Refused(
            _("Choose the unit of the dose."), code="not_whole", field="dose_unit"
        )
