"""Where a lot went: shares of it, never more than was picked."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo

from django.db import transaction
from django.db.models import Count, Q, Sum
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from orchard.records.models import Harvest, HarvestedTree, HarvestShare, User
from orchard.services import audit, corrections
from orchard.services.audit import Verb
from orchard.services.errors import Refused
from orchard.services.harvests.checks import FROM_CASE, why_kept_back
from orchard.services.harvests.quarantine import refuse_to_leave
from orchard.services.harvests.since_picked import held_since
from orchard.services.quantities import number_text, quantity

Use = HarvestShare.Use
# What comes near mouths; the rest never leaves the place.
GIVEN = frozenset({Use.GIVEN_AWAY, Use.TASTING, Use.SHOW, Use.VOLUNTEERS})
SLACK = 1e-6


@dataclass(frozen=True, slots=True)
class LotAmount:
    """A weight, a number, or both."""

    kg: float | None = None
    count: int | None = None


@dataclass(frozen=True, slots=True)
class LotBalance:
    """What a lot held, and which part of it has gone, from 0 to 1."""

    picked: LotAmount
    gone: float

    @property
    def left(self) -> LotAmount:
        """Return what is still there."""
        rest = max(0.0, 1 - self.gone)
        kg, count = self.picked.kg, self.picked.count
        return LotAmount(
            None if kg is None else round(kg * rest, 3),
            None if count is None else round(count * rest),
        )

    @property
    def is_all_gone(self) -> bool:
        return self.gone >= 1 - SLACK


def shares_of(harvest: Harvest) -> list[HarvestShare]:
    """List where parts of a lot went, through all corrections of the lot."""
    rows = (
        HarvestShare.objects.in_orchard(harvest.orchard_id)
        .current()
        .filter(harvest__lot=harvest.lot)
        .select_related("by")
    )
    return list(rows.order_by("given_on", "id"))


def picked_amount(trees: Iterable[HarvestedTree]) -> LotAmount:
    """Return what some trees gave in all.

    A measure that not all of them have does not tell of the whole.
    """
    rows = list(trees)
    weights = [row.kg for row in rows if row.kg is not None]
    counts = [row.count for row in rows if row.count is not None]
    return _amount(
        rows=len(rows),
        shared=sum(row.is_shared for row in rows),
        weighed=len(weights),
        kg=sum(weights),
        counted=len(counts),
        pieces=sum(counts),
    )


def _picked_in(harvest: Harvest) -> LotAmount:
    """Return the same of a lot, added up by the database: its trees may be many."""
    sums = harvest.harvested.aggregate(
        rows=Count("pk"),
        shared=Count("pk", filter=Q(is_shared=True)),
        weighed=Count("kg"),
        kg=Sum("kg"),
        counted=Count("count"),
        pieces=Sum("count"),
    )
    return _amount(**sums)


def _amount(
    *,
    rows: int,
    shared: int,
    weighed: int,
    kg: float | None,
    counted: int,
    pieces: int | None,
) -> LotAmount:
    # Of a crate that was shared out, some trees may have got no whole number.
    is_counted = counted == rows or shared == rows
    return LotAmount(
        kg if weighed and weighed == rows else None,
        pieces if counted and is_counted else None,
    )


def balance_from(
    trees: Iterable[HarvestedTree], shares: Iterable[HarvestShare]
) -> LotBalance:
    """Return what trees gave to a lot, and how much of it has gone."""
    return _balance(picked_amount(trees), shares)


def _balance(picked: LotAmount, shares: Iterable[HarvestShare]) -> LotBalance:
    gone = sum(_part_of(picked, LotAmount(row.kg, row.count)) for row in shares)
    return LotBalance(picked, gone)


def balance_of(harvest: Harvest, *, besides: HarvestShare | None = None) -> LotBalance:
    """Return what a lot held and how much of it has gone, one share left out."""
    shares = [row for row in shares_of(harvest) if row != besides]
    return _balance(_picked_in(harvest), shares)


def _part_of(picked: LotAmount, share: LotAmount) -> float:
    parts = [0.0]
    if share.kg and picked.kg:
        parts.append(share.kg / picked.kg)
    if share.count and picked.count:
        parts.append(share.count / picked.count)
    return max(parts)


def share(
    harvest: Harvest,
    *,
    use: str,
    given_on: date,
    by: User,
    now: datetime,
    today: date,
    receiver: str = "",
    contact: str = "",
    kg: float | None = None,
    count: int | None = None,
) -> HarvestShare:
    """Note where a part of a lot went.

    Raises:
        Refused (quarantine): it would leave a place under quarantine.
        Refused (kept_back): the lot, or what was dropped, is not given away.
        Refused (no_receiver): given away without naming to whom and how to reach them.
        Refused (not_measured): no amount, or one that the lot was not measured by.
        Refused (more_than_picked): more than is left of the lot.
        Refused (wrong_day): before it was picked, or in the future.
        Refused (not_current): the lot was corrected or withdrawn.
    """
    row = HarvestShare(
        orchard=harvest.orchard,
        harvest=harvest,
        use=use,
        receiver=receiver.strip(),
        contact=contact.strip(),
        given_on=given_on,
        kg=kg,
        count=count,
        by=by,
        received_at=now,
    )
    with transaction.atomic():
        row.harvest = _locked(harvest)
        _check(row, today=today)
        return audit.save(Verb.NOTE, row, by=by, now=now)


def correct_share(
    row: HarvestShare,
    *,
    by: User,
    now: datetime,
    today: date,
    reason: str,
    **changes: Any,
) -> HarvestShare:
    """Put a newer note of where a part went in place of one.

    Raises:
        Refused (reason_missing): no reason is given. Others as `share` and
            `corrections.lock_current`.
    """
    with transaction.atomic():
        harvest = _locked(current_lot(row.harvest))
        old = corrections.lock_current(row, by)
        new = corrections.renewed(old, by=by, now=now, harvest=harvest, **changes)
        _check(new, today=today, besides=old)
        return corrections.put_in_place(
            Verb.CORRECT, old, new, by=by, now=now, reason=reason
        )


def withdraw_share(
    row: HarvestShare, *, by: User, now: datetime, reason: str
) -> HarvestShare:
    """Withdraw a note of where a part went; it counts as still there.

    Raises:
        Refused: as `corrections.withdraw`.
    """
    return corrections.withdraw(row, by=by, now=now, reason=reason)


def current_lot(harvest: Harvest) -> Harvest:
    """Return the newest record of a lot."""
    newest: Harvest = (
        Harvest.objects.in_orchard(harvest.orchard_id)
        .select_related("orchard", "by")
        .get(lot=harvest.lot, superseded_at=None)
    )
    return newest


def check_shares_fit(harvest: Harvest) -> None:
    """Refuse a lot of which more went away than was picked.

    Raises:
        Refused (more_than_picked): as its name says.
    """
    balance = balance_of(harvest)
    if balance.gone > 1 + SLACK:
        raise Refused(
            _("More of this lot has gone away than that. Correct the shares first."),
            code="more_than_picked",
            field="amount",
        )


def _check(
    row: HarvestShare, *, today: date, besides: HarvestShare | None = None
) -> None:
    harvest = row.harvest
    _check_day(row, today)
    if row.use == Use.GIVEN_AWAY and not (row.receiver and row.contact):
        raise Refused(
            _("Name who gets it and how to reach them, in case it is called back."),
            code="no_receiver",
            field="contact" if row.receiver else "receiver",
        )
    refuse_to_leave(row)
    _check_kept_back(row)
    balance = balance_of(harvest, besides=besides)
    _check_measure(row, balance.picked)
    part = _part_of(balance.picked, LotAmount(row.kg, row.count))
    if balance.gone + part > 1 + SLACK:
        raise Refused(
            _("That is more than is left of the lot: %(left)s.")
            % {"left": amount_words(balance.left, harvest)},
            code="more_than_picked",
            field="kg" if row.kg is not None else "count",
        )


def _check_day(row: HarvestShare, today: date) -> None:
    zone = ZoneInfo(row.harvest.orchard.time_zone)
    picked_on = row.harvest.picked_at.astimezone(zone).date()
    if row.given_on > today:
        text = _("That day is in the future. Enter the day it happened.")
    elif row.given_on < picked_on:
        text = _("It was only picked on %(day)s. Give a later day.") % {
            "day": date_format(picked_on, "j M Y")
        }
    else:
        return
    raise Refused(text, code="wrong_day", field="given_on")


def _check_kept_back(row: HarvestShare) -> None:
    later = held_since([row.harvest]).get(row.harvest_id, [])
    why = why_kept_back(row.harvest, later=later)
    if row.use in GIVEN and why:
        raise Refused(
            _("Nothing of this lot is given away. %(why)s") % {"why": " ".join(why)},
            code="kept_back",
            field="use",
        )
    codes = {code for code, _text in row.harvest.breaches}
    left_alone = FROM_CASE in codes or any(hold.is_left_alone for hold in later)
    if left_alone and row.use != Use.DESTROYED:
        raise Refused(
            _(
                "It was taken from a tree that is to be left alone: nothing of it is "
                "moved. Destroy it only as the authority says, and note that."
            ),
            code="kept_back",
            field="use",
        )


def _check_measure(row: HarvestShare, picked: LotAmount) -> None:
    if row.kg is None and row.count is None:
        text, field = _("Enter the weight, the number, or both."), "kg"
    elif (row.kg is not None and row.kg <= 0) or row.count == 0:
        text, field = _("Enter an amount above nothing."), "kg"
    elif row.kg is not None and picked.kg is None:
        text = _("This lot was counted, not weighed. Enter the number.")
        field = "kg"
    elif row.count is not None and picked.count is None:
        text = _("This lot was weighed, not counted. Enter the weight.")
        field = "count"
    else:
        return
    raise Refused(text, code="not_measured", field=field)


def amount_words(amount: LotAmount, harvest: Harvest) -> str:
    """Write an amount in the orchard's units: "3.2 kg, 14 pieces"."""
    figures = []
    if amount.kg is not None:
        figures.append(quantity(amount.kg, "kg", harvest.orchard.units))
    if amount.count is not None:
        figures.append(_("number: %(count)s") % {"count": number_text(amount.count)})
    return ", ".join(figures)


def _locked(harvest: Harvest) -> Harvest:
    locked: Harvest = (
        Harvest.objects.select_for_update(of=("self",), no_key=True)
        .select_related("orchard")
        .get(pk=harvest.pk)
    )
    if not locked.is_current:
        raise Refused(
            _("This lot was corrected or withdrawn. Open its newer record."),
            code="not_current",
        )
    return locked
