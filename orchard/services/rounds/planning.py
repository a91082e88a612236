"""Rounds: trees handed out for one walk, taken along, and closed."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime

from django.db import transaction
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from orchard.records.models import Orchard, Round, RoundStop, Tree, User
from orchard.science.figures import figure
from orchard.services import audit, permissions
from orchard.services.audit import Verb
from orchard.services.errors import MayNot, Refused
from orchard.services.permissions import Deed
from orchard.services.rounds import assignment, selection

CLOSED = ("closed_at", "closed_by")


def make_round(
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
        Refused (no_trees), too_many_trees, wrong_day, name_missing, cannot_walk: as
            their names say.
    """
    assignment.require_lead(orchard, by)
    if not name.strip():
        raise Refused(
            _("Give the round a name, so that people find it."),
            code="name_missing",
            field="name",
        )
    if walk_on < today:
        raise Refused(
            _("That day has passed. Choose today or a later day."),
            code="wrong_day",
            field="walk_on",
        )
    _check_trees(orchard, trees)
    if to is not None:
        assignment.check_walks(orchard, to)
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
        after = {
            **audit.snapshot(row, "name", "walk_on", "taken_by_id"),
            "trees": [tree.code for tree in trees],
        }
        audit.save(Verb.MAKE, row, by=by, now=now, after=after)
        _put(row, trees)
        return row


def _most_trees() -> int:
    """More than one person walks in a day; a longer list is two rounds."""
    return round(figure("round_most_trees").value)


def _check_trees(orchard: Orchard, trees: Sequence[Tree]) -> None:
    if not trees:
        raise Refused(
            _("No tree is chosen. Choose a block, what is due, or by hand."),
            code="no_trees",
        )
    most = _most_trees()
    if len(trees) > most:
        raise Refused(
            _(
                "These are %(count)d trees, and a round has %(most)d at most. Make two "
                "rounds."
            )
            % {"count": len(trees), "most": most},
            code="too_many_trees",
        )
    for tree in trees:
        if tree.orchard_id != orchard.pk or tree.state != Tree.State.GROWING:
            raise Refused(
                _("%(tree)s can't be inspected any more. Leave it out.")
                % {"tree": tree.code},
                code="unknown_codes",
            )


def _put(row: Round, trees: Sequence[Tree]) -> None:
    RoundStop.objects.bulk_create(
        RoundStop(round=row, tree=tree, position=place)
        for place, tree in enumerate(trees, start=1)
    )


def arrange_round(
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
        Refused (no_trees), too_many_trees, unknown_codes, already_closed: as their
            names say.
    """
    with transaction.atomic():
        locked = assignment.lock_open(row)
        assignment.require_lead(locked.orchard, by)
        stops = list(locked.stops.select_related("tree").order_by("position"))
        places = {stop.pk: order.get(stop.pk, stop.position) for stop in stops}
        kept = [
            (place, stop.position, stop.tree)
            for stop in stops
            if (place := places[stop.pk]) is not None
        ]
        trees = [
            tree
            for _place, _position, tree in sorted(
                kept, key=lambda stop_row: stop_row[:2]
            )
        ]
        growing = Tree.objects.in_orchard(locked.orchard).looked_after()
        already = {tree.pk for tree in trees}
        added = [
            stop_row
            for stop_row in selection.by_code(growing, codes)
            if stop_row.pk not in already
        ]
        if not trees and not added:
            raise Refused(
                _("Nothing would be left. Close the round instead."), code="no_trees"
            )
        if len(trees) + len(added) > _most_trees():
            _check_trees(locked.orchard, [*trees, *added])
        before = [stop.tree.code for stop in stops]
        locked.stops.all().delete()
        _put(locked, [*trees, *added])
        audit.write(
            Verb.ARRANGE,
            locked,
            by=by,
            now=now,
            orchard=locked.orchard,
            before={"trees": before},
            after={"trees": [tree.code for tree in (*trees, *added)]},
        )
        return locked


def close_round(row: Round, *, by: User, now: datetime) -> Round:
    """Close a round, by who walked it or who leads; trees may be left unseen.

    What phones still bring for it later belongs to it all the same.

    Raises:
        MayNot (not_yours): neither walked nor leads. already_closed: as its name says.
    """
    with transaction.atomic():
        locked = assignment.lock_open(row)
        member = permissions.member_for(by, locked.orchard.slug)
        if locked.taken_by_id != by.pk and not permissions.may(member, Deed.HAND_OUT):
            raise MayNot(
                _(
                    "Only the person who walks this round, a crew lead or the "
                    "coordinator can close it."
                ),
                code="not_yours",
            )
        before = audit.snapshot(locked, "closed_at")
        locked.closed_at, locked.closed_by = now, by
        return assignment.saved(
            Verb.CLOSE, locked, before, fields=CLOSED, by=by, now=now
        )


def reopen_round(row: Round, *, by: User, now: datetime) -> Round:
    """Take back the closing of a round.

    Raises:
        Refused (not_closed): it is open. not_yours: as for closing.
    """
    with transaction.atomic():
        locked = (
            Round.objects.select_for_update(of=("self",), no_key=True)
            .select_related("orchard", "closed_by")
            .get(pk=row.pk)
        )
        member = permissions.member_for(by, locked.orchard.slug)
        if locked.closed_at is None:
            raise Refused(
                _("This round is open; there is nothing to undo."), code="not_closed"
            )
        if locked.closed_by_id != by.pk and not permissions.may(member, Deed.HAND_OUT):
            raise MayNot(
                _(
                    "Only the person who closed this round, a crew lead or the "
                    "coordinator can reopen it."
                ),
                code="not_yours",
            )
        before = audit.snapshot(locked, "closed_at")
        locked.closed_at = locked.closed_by = None
        return assignment.saved(
            Verb.REOPEN, locked, before, fields=CLOSED, by=by, now=now
        )


def trees_asked_for(orchard: Orchard, number: int | None) -> Round | None:
    """Return the round a form says it belongs to; one that is none costs no record."""
    if number is None:
        return None
    return Round.objects.in_orchard(orchard).filter(pk=number).first()


def usual_name(on: date) -> str:
    """Name a round by its day."""
    return _("Round of %(day)s") % {"day": date_format(on, "j M")}


def trees_to_walk(row: Round) -> list[Tree]:
    """List the trees of a round in walking order, each with its kind and place."""
    stops = row.stops.select_related(
        "tree__kind", "tree__spot__block", "tree__orchard"
    ).order_by("position")
    return [stop.tree for stop in stops]
