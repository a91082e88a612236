"""Rounds: trees handed out for one walk, taken along, and closed."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime

from django.db import transaction
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from orchard.records.models import (
    Orchard,
    Round,
    RoundStop,
    Tree,
    User,
)
from orchard.services import access, choosing, ledger, walkers
from orchard.services.access import Deed
from orchard.services.refusal import Refused

# More than one person walks in a day; a longer list is two rounds (common practice).
MOST = 150


class NoTrees(Refused):
    """A round without trees is no walk."""


class TooManyTrees(Refused):
    """Nobody walks that far."""


class WrongDay(Refused):
    """A round is walked today or later."""


class SaysNoName(Refused):
    """A round is told from the others by its name."""


class NotClosed(Refused):
    """The round is open."""


def make(
    orchard: Orchard,
    *,
    by: User,
    now: datetime,
    today: date,
    name: str,
    walk_on: date,
    trees: Sequence[Tree],
    to: User | None = None,
) -> Round:
    """Hand out trees for one walk, in the order given, to a person or to whoever comes.

    Raises:
        NoTrees, TooManyTrees, WrongDay, SaysNoName, CannotWalk: as their names say.
    """
    walkers.require_lead(orchard, by)
    if not name.strip():
        raise SaysNoName(
            _("Give the round a name, so that people find it."), field="name"
        )
    if walk_on < today:
        raise WrongDay(
            _("That day is over. A round is walked today or later."), field="walk_on"
        )
    _check_trees(orchard, trees)
    if to is not None:
        walkers.check_walks(orchard, to)
    with transaction.atomic():
        row = Round(
            orchard=orchard,
            name=name.strip(),
            walk_on=walk_on,
            made_by=by,
            made_at=now,
            taken_by=to,
            taken_at=now if to else None,
        )
        row.full_clean(exclude=["orchard", "made_by", "taken_by", "closed_by"])
        row.save(force_insert=True)
        _put(row, trees)
        after = {
            **ledger.snapshot(row, "name", "walk_on", "taken_by_id"),
            "trees": [tree.code for tree in trees],
        }
        ledger.write("make", row, by=by, now=now, orchard=orchard, after=after)
        return row


def _check_trees(orchard: Orchard, trees: Sequence[Tree]) -> None:
    if not trees:
        raise NoTrees(_("No tree is chosen. Choose a block, what is due, or by hand."))
    if len(trees) > MOST:
        raise TooManyTrees(
            _("These are %(count)d trees; one round holds at most %(most)d. Make two.")
            % {"count": len(trees), "most": MOST}
        )
    for tree in trees:
        if tree.orchard_id != orchard.pk or tree.state != Tree.State.GROWING:
            raise choosing.UnknownCodes(
                _("%(tree)s takes no inspections any more. Leave it out.")
                % {"tree": tree.code}
            )


def _put(row: Round, trees: Sequence[Tree]) -> None:
    RoundStop.objects.bulk_create(
        RoundStop(round=row, tree=tree, position=place)
        for place, tree in enumerate(trees, start=1)
    )


def arrange(
    row: Round,
    *,
    by: User,
    now: datetime,
    order: Mapping[int, int | None],
    codes: Iterable[str] = (),
) -> Round:
    """Put the stops in the order of their numbers; without a number one is left out.

    `order` is by number of the stop; codes come last, as written.

    Raises:
        NoTrees, TooManyTrees, UnknownCodes, ItIsClosed: as their names say.
    """
    with transaction.atomic():
        held = walkers.hold(row)
        walkers.require_lead(held.orchard, by)
        stops = list(held.stops.select_related("tree").order_by("position"))
        places = {stop.pk: order.get(stop.pk, stop.position) for stop in stops}
        kept = [
            (place, stop.position, stop.tree)
            for stop in stops
            if (place := places[stop.pk]) is not None
        ]
        trees = [
            tree for _place, _position, tree in sorted(kept, key=lambda one: one[:2])
        ]
        growing = Tree.objects.of(held.orchard).looked_after()
        already = {tree.pk for tree in trees}
        added = [
            one for one in choosing.by_code(growing, codes) if one.pk not in already
        ]
        if not trees and not added:
            raise NoTrees(_("Nothing would be left. Close the round instead."))
        if len(trees) + len(added) > MOST:
            _check_trees(held.orchard, [*trees, *added])
        before = [stop.tree.code for stop in stops]
        held.stops.all().delete()
        _put(held, [*trees, *added])
        ledger.write(
            "arrange",
            held,
            by=by,
            now=now,
            orchard=held.orchard,
            before={"trees": before},
            after={"trees": [tree.code for tree in (*trees, *added)]},
        )
        return held


def close(row: Round, *, by: User, now: datetime) -> Round:
    """Close a round, by who walked it or who leads; trees may be left unseen.

    What phones still bring for it later belongs to it all the same.

    Raises:
        NotYours: neither walked nor leads. ItIsClosed: as its name says.
    """
    with transaction.atomic():
        held = walkers.hold(row)
        member = access.member_for(by, held.orchard.slug)
        if held.taken_by_id != by.pk and not access.may(member, Deed.HAND_OUT):
            raise walkers.NotYours(
                _("Who walks this round, a crew lead or the coordinator closes it.")
            )
        held.closed_at, held.closed_by = now, by
        held.save(update_fields=["closed_at", "closed_by"])
        return walkers.written("close", held, {"closed_at": None}, by=by, now=now)


def reopen(row: Round, *, by: User, now: datetime) -> Round:
    """Take back the closing of a round.

    Raises:
        NotClosed: it is open. NotYours: as for closing.
    """
    with transaction.atomic():
        held = (
            Round.objects.select_for_update(of=("self",))
            .select_related("orchard", "closed_by")
            .get(pk=row.pk)
        )
        member = access.member_for(by, held.orchard.slug)
        if held.closed_at is None:
            raise NotClosed(_("This round is open; there is nothing to undo."))
        if held.closed_by_id != by.pk and not access.may(member, Deed.HAND_OUT):
            raise walkers.NotYours(
                _("Who closed this round, a crew lead or the coordinator reopens it.")
            )
        before = {"closed_at": held.closed_at}
        held.closed_at = held.closed_by = None
        held.save(update_fields=["closed_at", "closed_by"])
        return walkers.written("reopen", held, before, by=by, now=now)


def meant(orchard: Orchard, number: int | None) -> Round | None:
    """Return the round a form says it belongs to; one that is none costs no record."""
    if number is None:
        return None
    return Round.objects.of(orchard).filter(pk=number).first()


def usual_name(on: date) -> str:
    """Name a round by its day."""
    return _("Round of %(day)s") % {"day": date_format(on, "j M")}
