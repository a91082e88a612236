"""Moving: a look logged on the wrong tree goes to the right one; both keep a trace."""

from __future__ import annotations

import uuid
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext as _

from orchard.records.models import (
    Case,
    Closure,
    Inspection,
    StageNote,
    Task,
    Tree,
    User,
)
from orchard.services import audit, observations
from orchard.services.audit import Verb
from orchard.services.errors import Refused
from orchard.services.inspections import correction, recording, side_effects, submission
from orchard.services.inspections.recording import Logged
from orchard.services.inspections.submission import SeenSign
from orchard.services.tasks import reopen_done, reopen_those_of, work_done_at
from orchard.services.tasks import retire as retire_task


@dataclass(frozen=True, slots=True)
class Moved:
    """What a move brought about on both trees."""

    logged: Logged
    # Work on the wrong tree that is open again.
    reopened: tuple[Task, ...]
    # Cases on the wrong tree: they end with the authority's answer only.
    cases: tuple[Case, ...]


def move_inspection(
    inspection: Inspection, *, to: Tree, by: User, now: datetime, reason: str
) -> Moved:
    """Move a look to the tree it was really of; it stays its observer's.

    The right tree gets a new version, judged by its own facts; the work it ticked off
    is open again on the wrong tree and closed on the right one, and photos go along.

    Raises:
        Refused (same_tree), another_orchard: it cannot go there.
        MayNot (not_yours), not_current, reason_missing: as a correction.
        Everything that recording refuses, of the right tree.
    """
    with audit.written_down_by(by), transaction.atomic():
        old, reason = correction.hold(inspection, by, reason)
        wrong, right = old.tree, _right(old, to)
        works = _ticked(old)
        seen = [submission.as_seen(finding) for finding in old.findings.order_by("pk")]
        # What it had found itself goes with it, done or not.
        reopen_done(old, by=by, now=now)
        old.superseded_at = now
        old.save(update_fields=["superseded_at"])
        for finding in old.findings.select_related("tree__orchard", "inspection"):
            retire_task(finding, by=by, now=now, reason=reason)
        reopened = reopen_those_of(old, by=by, now=now)
        # Everybody reads a stage, but why a suspicion moved is not for everybody.
        why = _("Its inspection was moved.") if old.has_private else reason
        for stage in _stages(old):
            observations.carry_over(stage, to=right, by=by, now=now, reason=why)
        look = _look(old, seen, right, works, now=now)
        arrival = replace(correction.arrival_of(old), seen_by=old.by, also_ticked=())
        entry = recording.CheckedLook(
            tree=right,
            look=look,
            by=by,
            now=now,
            key=uuid.uuid4(),
            arrival=arrival,
            corrects=old,
            reason=reason,
        )
        logged = recording.enter(entry, {})
        correction.move_photos(old, logged)
        side_effects.renew(wrong)
        for version, tree in ((old, wrong), (logged.inspection, right)):
            audit.write(
                Verb.MOVE,
                version,
                by=by,
                now=now,
                orchard=old.orchard,
                tree=tree,
                before={"tree": wrong.code, "seen_at": old.seen_at},
                after={"tree": right.code, "seen_at": old.seen_at},
                reason=reason,
                private=old.has_private or logged.inspection.has_private,
            )
        return Moved(logged, tuple(reopened), _cases(old))


def _right(old: Inspection, to: Tree) -> Tree:
    """Lock both trees, always in the same order, and return the right one."""
    if to.pk == old.tree_id:
        raise Refused(
            _("It is on %(tree)s already. Choose another tree.") % {"tree": to.code},
            code="same_tree",
            field="tree",
        )
    if to.orchard_id != old.orchard_id:
        raise Refused(
            _("That tree grows in another orchard. Choose one of this orchard."),
            code="another_orchard",
            field="tree",
        )
    locked = {
        tree.pk: tree
        for tree in Tree.objects.select_for_update(of=("self",), no_key=True)
        .select_related("orchard", "kind", "spot__block")
        .filter(pk__in=[old.tree_id, to.pk])
        .order_by("pk")
    }
    return locked[to.pk]


def _ticked(old: Inspection) -> list[tuple[str, str]]:
    """Return what sort of work the look ticked off, its own or another's before it."""
    closed = (
        Closure.objects.filter(inspection=old, undone_at=None)
        .exclude(task__kind=Task.Kind.LOOK)
        .exclude(pk__in=work_done_at(old))
        .order_by("pk")
        .values_list("task__kind", "task__key")
    )
    before = Task.objects.filter(pk__in=old.also_ticked).order_by("pk")
    return list(dict.fromkeys((*closed, *before.values_list("kind", "key"))))


def _same_work(
    tree: Tree, works: Iterable[tuple[str, str]], old: Inspection
) -> tuple[int, ...]:
    """Find the same work on the right tree: open, or closed since by somebody."""
    numbers = []
    for kind, key in works:
        tasks = tree.tasks.not_private().filter(kind=kind, key=key)
        tasks = tasks.filter(opens_on__lte=old.seen_on)
        task = tasks.open().first() or (
            tasks.filter(closed_at__gte=old.seen_at).order_by("-closed_at").first()
        )
        if task is not None:
            numbers.append(task.pk)
    return tuple(numbers)


def _stages(old: Inspection) -> list[StageNote]:
    """Find the growth stage that the look noted: it came in at the same moment."""
    return list(
        StageNote.objects.current().filter(
            tree=old.tree, seen_on=old.seen_on, received_at=old.received_at
        )
    )


def _look(
    old: Inspection,
    seen: Sequence[SeenSign],
    right: Tree,
    works: Iterable[tuple[str, str]],
    *,
    now: datetime,
) -> submission.Look:
    first = old.findings.order_by("pk").values_list("pk", flat=True).first()
    return submission.look_of(
        right,
        submission.Submission(
            seen_at=old.seen_at,
            made_at=old.made_at,
            findings=tuple(seen),
            all_well=old.all_well,
            condition=old.condition,
            note=old.note,
            done_tasks=_same_work(right, works, old),
        ),
        now=now,
        before_pk=first,
    )


def _cases(old: Inspection) -> tuple[Case, ...]:
    return tuple(Case.objects.open().filter(finding__inspection=old).order_by("pk"))


def neighbours(tree: Tree, *, most: int = 6) -> list[Tree]:
    """Return the trees beside a tree in the walk, whose tag is easily taken for its."""
    walk = list(
        Tree.objects.in_orchard(tree.orchard)
        .standing()
        .filter(spot__block=tree.spot.block_id)
        .select_related("kind")
        .in_walking_order()
    )
    places = (n for n, other in enumerate(walk) if other.pk == tree.pk)
    place = next(places, None)
    if place is None:
        return walk[:most]
    first = max(0, min(place - most // 2, len(walk) - most - 1))
    return [other for other in walk[first : first + most + 1] if other.pk != tree.pk]
