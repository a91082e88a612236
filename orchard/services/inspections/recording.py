"""Recording: a look at a tree is kept whole, with its verdicts and what follows."""

from __future__ import annotations

import uuid
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from typing import Any

from django.db import IntegrityError, transaction
from django.utils.translation import gettext as _

from orchard.records.models import (
    Case,
    Closure,
    Finding,
    Inspection,
    Photo,
    Task,
    Tree,
    User,
)
from orchard.science import guide
from orchard.science.words import Verdict
from orchard.services import audit, cases, observations, permissions, photos
from orchard.services.audit import Verb
from orchard.services.errors import Refused
from orchard.services.facts import EarlierFindings, Site, read_earlier
from orchard.services.holds import LeftAlone
from orchard.services.inspections import agreement, side_effects
from orchard.services.inspections.judgement import Judged
from orchard.services.inspections.submission import (
    Arrival,
    Look,
    SeenSign,
    Submission,
    look_of,
    says_nothing,
    why_closed,
)
from orchard.services.photos import Picture
from orchard.services.tasks import (
    WorkChanges,
    decide_on_done,
    decide_on_finding,
    lock_open_work,
)

KEPT = ("seen_at", "all_well", "condition", "note", "corrects_id", "correction_reason")
# What a look goes by of its tree, and others may change until the tree is locked.
MAY_CHANGE = (
    *("state", "scion_died_on", "died_on", "removed_on", "planted_on"),
    *("kind_id", "spot_id", "last_seen_on", "condition"),
)


@dataclass(frozen=True, slots=True)
class TreeLook:
    """One look of several: at which tree, what was seen, by whom, and how it came."""

    tree: Tree
    submission: Submission
    by: User
    now: datetime
    key: uuid.UUID | None = None
    arrival: Arrival | None = None


@dataclass(frozen=True, slots=True)
class CheckedLook:
    """A checked look that goes into the book, and what it corrects there."""

    tree: Tree
    look: Look
    by: User
    now: datetime
    key: uuid.UUID
    arrival: Arrival
    corrects: Inspection | None = None
    reason: str = ""


@dataclass(frozen=True, slots=True)
class Logged:
    """What a look became: the record, and what follows from it."""

    inspection: Inspection
    findings: tuple[Finding, ...] = ()
    tasks: tuple[Task, ...] = ()
    cases: tuple[Case, ...] = ()
    # The same form had arrived before; nothing was written again.
    already: bool = False
    # Ticked tasks that somebody else had closed in the meantime.
    closed_before: tuple[int, ...] = ()
    # Findings whose work was said to be done, while the book asks for none.
    nothing_to_do: tuple[Finding, ...] = ()
    # Photos the book holds already, on another record.
    photos_elsewhere: tuple[Photo, ...] = ()


def record(
    tree: Tree,
    *,
    by: User,
    now: datetime,
    seen_at: datetime,
    findings: Sequence[SeenSign] = (),
    all_well: bool = False,
    condition: int | None = None,
    note: str = "",
    key: uuid.UUID | None = None,
    done_tasks: Iterable[int] = (),
    bbch: int | None = None,
    pictures: Sequence[Picture] = (),
    made_at: datetime | None = None,
    arrival: Arrival | None = None,
    site: Site | None = None,
    written_by: User | None = None,
) -> Logged:
    """Keep one look at a tree with its verdicts, and open the work that follows.

    A form that comes twice (same key) is one inspection: the first one is returned.
    Looks of one day at many trees share a `site`. What somebody saw may be `written_by`
    another. Call it outside a transaction, because photos are written to the store
    first.

    Raises:
        Refused (no_verdicts), seen_in_future, seen_before_planted, bad_condition,
        Refused (well_with_sign), nothing_noted, sign_twice, key_taken, no_such_task,
            unknown_sign, no_member_then,
        Refused (bad_answer): as their names say; nothing is kept then.
    """
    submission = Submission(
        seen_at=seen_at,
        made_at=made_at,
        findings=tuple(findings),
        all_well=all_well,
        condition=condition,
        bbch=bbch,
        note=note,
        pictures=tuple(pictures),
        done_tasks=tuple(done_tasks),
    )
    return submit(
        tree,
        submission,
        by=by,
        now=now,
        key=key,
        arrival=arrival,
        site=site,
        written_by=written_by,
    )


def submit(
    tree: Tree,
    submission: Submission,
    *,
    by: User,
    now: datetime,
    key: uuid.UUID | None = None,
    arrival: Arrival | None = None,
    site: Site | None = None,
    written_by: User | None = None,
    beside: Callable[[Logged], object] | None = None,
) -> Logged:
    """Keep what a form brought of one look; promises and refuses as `record` does.

    What is to be kept `beside` it is written in its transaction, told what it became.
    """
    if written_by == by:
        written_by = None
    if written_by is not None:
        seen_on = submission.seen_on(tree)
        permissions.check_was_member(tree.orchard, by, on=seen_on)
        arrival = replace(arrival or Arrival(), written_by=written_by)
    look = TreeLook(tree, submission, by, now, key, arrival)
    with audit.written_down_by(written_by):
        [logged] = submit_all([look], site=site, beside=beside)
    return logged


def submit_all(
    looks: Sequence[TreeLook],
    *,
    site: Site | None = None,
    beside: Callable[[Logged], object] | None = None,
) -> list[Logged]:
    """Keep looks at several trees at once, such as a morning's: all of them or none.

    Each is judged and followed as if it came alone; promises and refuses as `record`.

    Raises:
        Refused (tree_twice): a second look at a tree is judged by the first.
        Refused (key_taken): two of them have the same key.
    """
    seen: set[int] = set()
    keys: set[uuid.UUID] = set()
    for look in looks:
        if look.tree.pk in seen:
            raise Refused(
                _("%(tree)s is there twice. Record its second look after the first.")
                % {"tree": look.tree.code},
                code="tree_twice",
            )
        seen.add(look.tree.pk)
        if look.key in keys:
            raise _key_taken()
        if look.key is not None:
            keys.add(look.key)
    # What an outbox sends has been looked up by its receipt.
    asked = [look for look in looks if look.arrival is None]
    try:
        return _kept_or_entered(looks, site, beside, ask=asked)
    except IntegrityError:
        # The same form or the same photo arrived twice at the same moment: the other
        # one was first, and is there now.
        return _kept_or_entered(looks, site, beside, ask=looks)


def _kept_or_entered(
    looks: Sequence[TreeLook],
    site: Site | None,
    beside: Callable[[Logged], object] | None,
    *,
    ask: Iterable[TreeLook],
) -> list[Logged]:
    """Enter looks, except those of which the book, asked for them, has the form."""
    kept = {look.tree.pk: before for look in ask if (before := _kept_before(look))}
    new = [look for look in looks if look.tree.pk not in kept]
    entries = _checked(new, site)
    with (
        laid(*(entry.look for entry in entries)) as names,
        transaction.atomic(),
        audit.written_together(),
    ):
        for entry, logged in zip(entries, enter_all(entries, names), strict=True):
            kept[entry.tree.pk] = logged
        every = [kept[look.tree.pk] for look in looks]
        if beside is not None:
            for logged in every:
                beside(logged)
    return every


def _checked(looks: Sequence[TreeLook], site: Site | None) -> list[CheckedLook]:
    """Check and judge looks; what was found before is read once for those of a site."""
    earlier: dict[int, EarlierFindings] = {}
    if site is not None:
        trees = [
            look.tree
            for look in looks
            if look.submission.findings
            and look.submission.seen_on(look.tree) == site.on
        ]
        earlier = read_earlier(trees, site.on)
    entries = []
    for new in looks:
        look = look_of(
            new.tree,
            new.submission,
            now=new.now,
            site=site,
            earlier=earlier.get(new.tree.pk),
        )
        arrival = new.arrival or Arrival()
        if says_nothing(look) and not (look.pictures or arrival.photos_follow):
            raise Refused(
                _("Nothing recorded yet. Choose a sign or All well, or take a photo."),
                code="nothing_noted",
            )
        entries.append(
            CheckedLook(
                tree=new.tree,
                look=look,
                by=new.by,
                now=new.now,
                key=new.key or uuid.uuid4(),
                arrival=arrival,
            )
        )
    return entries


def _kept_before(look: TreeLook) -> Logged | None:
    if look.key is None:
        return None
    kept = Inspection.objects.filter(key=look.key).first()
    if kept is None:
        return None
    if kept.tree_id != look.tree.pk or kept.by_id != look.by.pk:
        raise _key_taken()
    return Logged(kept, findings=tuple(kept.findings.order_by("pk")), already=True)


def _key_taken() -> Refused:
    return Refused(
        _("This form was used for another record. Open a new one for this tree."),
        code="key_taken",
    )


@contextmanager
def laid(*looks: Look) -> Iterator[Mapping[int, uuid.UUID]]:
    """Hold the photos of looks in the store, for as long as the book takes them.

    Gives the random name of each by the identity of its picture. What the book does
    not take, or holds already, is removed again.
    """
    every = [picture for look in looks for picture in look.every_picture]
    if not every:
        yield {}
        return
    names = {id(picture): name for name, picture in photos.lay_down(every)}
    try:
        yield names
    finally:
        photos.take_away_unentered(names.values())


def enter(entry: CheckedLook, names: Mapping[int, uuid.UUID]) -> Logged:
    """Enter a checked look in the book, inside the caller's transaction."""
    [logged] = enter_all([entry], names)
    return logged


def enter_all(
    entries: Sequence[CheckedLook], names: Mapping[int, uuid.UUID]
) -> list[Logged]:
    """Enter checked looks at different trees, inside the caller's transaction."""
    # Two people at one tree: the second waits here, so that work opens once.
    trees = _lock_trees([entry.tree for entry in entries])
    work = lock_open_work(trees.values())
    rows = [_inspection(entry, trees[entry.tree.pk]) for entry in entries]
    audit.insert(rows)
    found = [
        [_finding(row, seen, judged) for seen, judged in entry.look.findings]
        for entry, row in zip(entries, rows, strict=True)
    ]
    audit.insert([finding for findings in found for finding in findings])
    changes = WorkChanges()
    left_alone = LeftAlone(list(trees.values()))
    called = [
        _call_for(
            entry, row, findings, changes, work=work[row.tree_id], left_alone=left_alone
        )
        for entry, row, findings in zip(entries, rows, found, strict=True)
    ]
    closures = changes.write()
    logged = [
        _complete(entry, call, closures, names)
        for entry, call in zip(entries, called, strict=True)
    ]
    new = [row for row in rows if row.corrects is None]
    side_effects.renew_by(new)
    return logged


def _lock_trees(trees: Iterable[Tree]) -> dict[int, Tree]:
    """Lock trees, each in the order of its number, and read anew what may change."""
    found = {tree.pk: tree for tree in trees}
    locked = Tree.objects.select_for_update(no_key=True).filter(pk__in=found)
    # To put one into order takes longer than to find it.
    if len(found) > 1:
        locked = locked.order_by("pk")
    for pk, *values in locked.values_list("pk", *MAY_CHANGE):
        for name, value in zip(MAY_CHANGE, values, strict=True):
            setattr(found[pk], name, value)
    return found


def _inspection(entry: CheckedLook, tree: Tree) -> Inspection:
    """Return the row of a look at a locked tree, not yet in the book."""
    look, arrival = entry.look, entry.arrival
    seen_on, corrects = look.seen_on(tree), entry.corrects
    took_it = corrects is not None and (corrects.tree_id, corrects.seen_on) == (
        tree.pk,
        seen_on,
    )
    closed = why_closed(tree, on=seen_on)
    if closed is not None and not took_it:
        raise closed
    inspection = Inspection(
        orchard=tree.orchard,
        tree=tree,
        by=arrival.seen_by or entry.by,
        written_by=arrival.written_by,
        key=entry.key,
        seen_on=seen_on,
        seen_at=look.seen_at,
        made_at=look.made_at,
        received_at=arrival.received_at or entry.now,
        all_well=look.all_well,
        condition=look.condition,
        note=look.note,
        has_private=suspects(look),
        corrects=entry.corrects,
        correction_reason=entry.reason,
        offset_seconds=arrival.offset_seconds,
        round=arrival.round,
        photo_only=_is_photo_only(entry),
    )
    # That the key is new, the database alone can say for certain; constraints it holds
    # by itself, and to ask it beforehand costs more than the rest of the look.
    inspection.full_clean(
        exclude=["orchard", "tree", "by", "written_by", "corrects", "round"],
        validate_unique=False,
        validate_constraints=False,
    )
    return inspection


def _is_photo_only(entry: CheckedLook) -> bool:
    """Tell whether photos are all that a look brings; a correction adds none to it."""
    corrects = entry.corrects
    return says_nothing(entry.look) and (corrects is None or corrects.photo_only)


@dataclass(frozen=True, slots=True)
class CalledFor:
    """A look in the book, and what it calls for; its work is only decided on."""

    inspection: Inspection
    findings: tuple[Finding, ...]
    tasks: tuple[Task, ...]
    # By the number of the finding, the work it asked for that was done at once.
    done: Mapping[int, Sequence[Task]]
    cases: tuple[Case, ...]
    closed_before: tuple[int, ...]


def _call_for(
    entry: CheckedLook,
    inspection: Inspection,
    findings: Sequence[Finding],
    changes: WorkChanges,
    *,
    work: Sequence[Task],
    left_alone: LeftAlone,
) -> CalledFor:
    """Decide on the work that a look calls for and ends, and open its cases.

    `work` is what is open at its tree, locked like it.
    """
    look, by, now = entry.look, entry.by, entry.now
    ticked, closed_before = side_effects.read_ticked(
        inspection, look.done_tasks, by=by, now=now, work=work
    )
    if look.findings:
        # What was done here is no work any more when its sign asks for some.
        changes.end(ticked, today=inspection.seen_on)
        ticked = []
    also_ticked = dict.fromkeys((*entry.arrival.also_ticked, *closed_before))
    if also_ticked:
        inspection.also_ticked = list(also_ticked)
        inspection.save(update_fields=["also_ticked"])
    tasks: list[Task] = []
    done: dict[int, Sequence[Task]] = {}
    opened = []
    beside = look.findings and agreement.is_beside_another(inspection)
    for finding, (seen, judged) in zip(findings, look.findings, strict=True):
        called = decide_on_finding(
            finding,
            judged.judgement,
            changes,
            by=by,
            now=now,
            work=work,
            left_alone=left_alone,
            done=seen.done,
        )
        tasks += called
        if seen.done:
            done[finding.pk] = decide_on_done(finding, called, changes, by=by, now=now)
        if finding.private:
            opened.append(cases.open_for(finding, by=by, now=now))
            left_alone.read_anew()
        differs = agreement.differs(finding) if beside else ""
        if differs or not seen.sure or judged.sign.second_look:
            side_effects.ask(finding, by=by, now=now, reason=differs)
    side_effects.end_what_was_seen(
        inspection,
        {finding.sign for finding in findings},
        changes,
        by=by,
        now=now,
        work=work,
        ticked=ticked,
    )
    side_effects.watch_condition(inspection, changes, by=by, now=now)
    return CalledFor(
        inspection,
        findings=tuple(findings),
        tasks=tuple(tasks),
        done=done,
        cases=tuple(opened),
        closed_before=closed_before,
    )


def _complete(
    entry: CheckedLook,
    called: CalledFor,
    closures: Mapping[int, Closure],
    names: Mapping[int, uuid.UUID],
) -> Logged:
    """Enter the photos and the stage of a look, and write it in the ledger.

    `closures` are those that all looks brought about, by the number of the task.
    """
    look, by, now = entry.look, entry.by, entry.now
    inspection, findings = called.inspection, called.findings
    tree, private = inspection.tree, inspection.has_private
    kept: list[Photo] = []

    def enter_photos(
        pictures: Sequence[Picture],
        finding: Finding | None = None,
        closure: Closure | None = None,
    ) -> None:
        kept.extend(
            photos.enter(
                names[id(picture)],
                picture,
                orchard=tree.orchard,
                by=by,
                now=now,
                tree=tree,
                inspection=inspection,
                finding=finding,
                closure=closure,
                private=private,
            )
            for picture in pictures
        )

    for finding, (seen, _judged) in zip(findings, look.findings, strict=True):
        done = next(iter(called.done.get(finding.pk, ())), None)
        closure = None if done is None else closures[done.pk]
        enter_photos(seen.pictures, finding, closure)
    enter_photos(look.pictures)
    if look.bbch is not None:
        observations.note_stage(
            tree.orchard,
            tree=tree,
            bbch=look.bbch,
            seen_on=inspection.seen_on,
            by=by,
            now=now,
        )
    corrects = entry.corrects
    if corrects is not None:
        side_effects.renew(tree)
    audit.write(
        Verb.CORRECT if corrects else Verb.RECORD,
        inspection,
        by=by,
        now=now,
        orchard=tree.orchard,
        tree=tree,
        before=_snapshot(corrects) if corrects else None,
        after=_snapshot(inspection, findings),
        reason=entry.reason,
        # What stood there before is told in the same line.
        private=private or (corrects is not None and corrects.has_private),
    )
    return Logged(
        inspection,
        findings=findings,
        tasks=called.tasks,
        cases=called.cases,
        closed_before=called.closed_before,
        nothing_to_do=tuple(
            finding
            for finding in findings
            if finding.pk in called.done and not called.done[finding.pk]
        ),
        photos_elsewhere=_elsewhere(kept, inspection),
    )


def _elsewhere(kept: Sequence[Photo], inspection: Inspection) -> tuple[Photo, ...]:
    """Return the photos that the book had before and that stay where they were."""
    if not kept:
        return ()
    here = set(inspection.photos.values_list("pk", flat=True))
    return tuple(photo for photo in kept if photo.pk not in here)


def told_as_done(logged: Logged) -> list[str]:
    """Say of which findings nothing was closed, though it was said to be done."""
    signs = guide.load().signs
    return [
        _("%(sign)s: you said the work is done; no open task asks for it.")
        % {"sign": signs[finding.sign].name}
        for finding in logged.nothing_to_do
    ]


def suspects(look: Look) -> bool:
    """Tell whether anything in a look is kept private."""
    return any(_is_private(judged) for _seen, judged in look.findings)


def _is_private(judged: Judged) -> bool:
    return judged.judgement.verdict == Verdict.REPORT


def _finding(inspection: Inspection, seen: SeenSign, judged: Judged) -> Finding:
    """Return the row of a sign that was seen and judged, not yet in the book."""
    judgement = judged.judgement
    day = inspection.seen_on
    finding = Finding(
        inspection=inspection,
        tree=inspection.tree,
        sign=judged.sign.key,
        part=seen.part,
        answers=dict(seen.answers),
        typed=dict(seen.typed),
        sure=seen.sure,
        note=seen.note.strip(),
        verdict=judgement.verdict,
        due_on=day_after(day, judgement.due_days),
        recheck_on=day_after(day, judgement.recheck_days),
        because=list(judgement.because),
        rule=judgement.rule_id,
        edition=judgement.edition,
        facts=audit.plain(judged.facts),
        asks=judgement.asks or "",
        private=_is_private(judged),
        continues_id=judged.continues,
    )
    finding.full_clean(
        exclude=["inspection", "tree", "continues"], validate_constraints=False
    )
    return finding


def day_after(day: date, days: int | None) -> date | None:
    """Return the day so many days after another, or None."""
    return None if days is None else day + timedelta(days=days)


def _snapshot(
    inspection: Inspection, findings: Iterable[Finding] | None = None
) -> dict[str, Any]:
    """Return a look with its findings, as the ledger keeps it."""
    fields = ("sign", "answers", "verdict", "rule", "sure", "part", "note")
    if findings is None:
        findings = inspection.findings.order_by("pk")
    return {
        **audit.snapshot(inspection, *KEPT),
        "findings": [audit.snapshot(finding, *fields) for finding in findings],
    }
