"""The inbox: what phones send comes in exactly once, each with a receipt.

Receipt and effect are written in one transaction, so that a crash leaves either both or
neither. The phone keeps its entry until it has read an answer that says `kept` or
`already`; a refusal leaves no receipt, so a mended entry may come again under its key.
"""

from __future__ import annotations

import uuid
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from enum import StrEnum
from typing import IO, Any

from django.db import IntegrityError, transaction
from django.utils.translation import gettext as _

from orchard.records.days import day_in
from orchard.records.models import (
    Closure,
    Inspection,
    Membership,
    Orchard,
    Photo,
    Product,
    Receipt,
    Round,
    Task,
    Treatment,
    Tree,
    User,
)
from orchard.science import guide
from orchard.services import (
    care_plan,
    corrections,
    inspections,
    permissions,
    photos,
    tasks,
    treatments,
)
from orchard.services.errors import NotThere, Refused
from orchard.services.inbox.deeds import ParsedDeed
from orchard.services.inspections import Arrival, Logged, Submission
from orchard.services.permissions import Deed

# A phone whose clock is this far off is mended; less is the time a message takes.
CLOCK_TOLERANCE = timedelta(seconds=60)
# No phone had a page of this book before.
FIRST_PAGES = datetime(2026, 1, 1, tzinfo=UTC)
# A crew's whole morning fits into it; a runaway script does not.
MOST_IN_A_MINUTE = 400
# By the number of a person: the minute of the last entry, and how many came in it.
_sent_lately: dict[int, tuple[datetime, int]] = {}


class Answer(StrEnum):
    """What the phone is told; it deletes its entry on the first two only."""

    KEPT = "kept"
    ALREADY = "already"
    WAIT = "wait"
    REFUSED = "refused"


class EntryKind(StrEnum):
    """What an entry holds."""

    INSPECTION = "inspection"
    PHOTO = "photo"
    CLOSURE = "closure"
    TAKING = "taking"
    EVENT = "event"
    STAGE = "stage"
    RIPENESS_TEST = "ripeness_test"
    WATERING = "watering"
    WITHDRAWAL = "withdrawal"
    SECOND_LOOK = "second_look"
    TREATMENT = "treatment"
    WET_SPELL = "wet_spell"
    HARVEST = "harvest"
    HARVEST_SHARE = "harvest_share"
    DRY_CHECK = "dry_check"
    PRODUCT = "product"
    PRACTICE = "practice"


NEEDED = {
    EntryKind.INSPECTION: Deed.INSPECT,
    EntryKind.PHOTO: Deed.INSPECT,
    EntryKind.CLOSURE: Deed.WORK,
    EntryKind.TAKING: Deed.WORK,
    EntryKind.EVENT: Deed.WORK,
    EntryKind.STAGE: Deed.WORK,
    EntryKind.RIPENESS_TEST: Deed.WORK,
    EntryKind.WATERING: Deed.WORK,
    EntryKind.WITHDRAWAL: Deed.INSPECT,
    EntryKind.SECOND_LOOK: Deed.SECOND_LOOK,
    EntryKind.TREATMENT: Deed.WORK,
    EntryKind.WET_SPELL: Deed.WORK,
    EntryKind.HARVEST: Deed.WORK,
    EntryKind.HARVEST_SHARE: Deed.WORK,
    EntryKind.DRY_CHECK: Deed.PLAN_TREATMENTS,
    EntryKind.PRODUCT: Deed.PLAN_TREATMENTS,
    EntryKind.PRACTICE: Deed.SEE,
}


@dataclass(frozen=True, slots=True)
class Entry:
    """One entry of a phone's outbox, as it arrived."""

    key: uuid.UUID
    kind: EntryKind
    orchard: str
    person: int
    made_at: datetime
    sent_at: datetime
    body_hash: str
    tree: str = ""
    task: int | None = None
    look: int | None = None
    harvest: int | None = None
    treatment: int | None = None
    form: tuple[tuple[str, str], ...] = ()
    parent: uuid.UUID | None = None
    sign: str = ""
    round: int | None = None
    photos_follow: bool = False
    taken_at: datetime | None = None
    file: IO[bytes] | None = field(default=None, compare=False)

    def offset(self, now: datetime) -> timedelta:
        """Return how far our clock is ahead of the phone's, as measured on arrival."""
        ahead = now - self.sent_at
        return ahead if abs(ahead) > CLOCK_TOLERANCE else timedelta(0)


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of an entry."""

    answer: Answer
    reason: str = ""
    kind: EntryKind | None = None
    subject_id: int | None = None
    retry_after: int | None = None
    notices: tuple[str, ...] = ()
    opened: tuple[Task, ...] = ()


@dataclass(frozen=True, slots=True)
class Admission:
    """An entry that may come in: whose it is, and the tree it is about, if any."""

    entry: Entry
    member: Membership
    tree: Tree | None = None

    @property
    def orchard(self) -> Orchard:
        return self.member.orchard

    @property
    def by(self) -> User:
        return self.member.user

    def offset(self, now: datetime) -> timedelta:
        """Return how far the phone's clock was behind ours, as measured on arrival."""
        return self.entry.offset(now)

    def clock_was_put_right(self, now: datetime) -> bool:
        """Tell whether the phone's clock was another when this was made.

        By the clock it was sent with, it was made after its sending, or before anybody
        had a page to write it on: a clock that is lost begins at 1970 or 2000 again.
        """
        entry = self.entry
        if entry.made_at > entry.sent_at + CLOCK_TOLERANCE:
            return True
        return entry.made_at + entry.offset(now) < FIRST_PAGES

    def made_at(self, now: datetime) -> datetime:
        """Return when it was made by our clock; if nobody knows, when it was sent."""
        entry = self.entry
        put_right = self.clock_was_put_right(now)
        moment = entry.sent_at if put_right else entry.made_at
        return min(moment + entry.offset(now), now)


def admit(entry: Entry, *, by: User, now: datetime) -> Admission | Outcome:
    """Say whether an entry may come in, or at once what became of it."""
    if entry.person != by.pk:
        return Outcome(
            Answer.WAIT,
            _("Somebody else recorded this. It waits until that person signs in."),
        )
    if _sends_too_much(by, now):
        return Outcome(
            Answer.WAIT,
            _("The server is busy. Sending goes on in a minute."),
            retry_after=60,
        )
    try:
        member = permissions.member_for(by, entry.orchard)
        permissions.require(member, NEEDED[entry.kind])
    except NotThere:
        text = _(
            "You are no longer a member of this orchard. Save the entry as a file and "
            "hand it to the coordinator."
        )
        return refuse(entry, text, by=by)
    except Refused as refusal:
        return refuse(entry, str(refusal), by=by)
    if not (entry.tree or entry.kind is EntryKind.INSPECTION):
        return Admission(entry, member)
    tree = _tree(entry, member.orchard)
    if tree is None and entry.kind is EntryKind.PHOTO:
        # It waits without a tree rather than on the phone: a photo has no form to mend.
        return Admission(entry, member)
    if tree is None:
        text = _(
            "There is no tree %(code)s here. Look up its code and correct the entry."
        )
        return refuse(entry, text % {"code": entry.tree}, by=by)
    return Admission(entry, member, tree)


def _sends_too_much(by: User, now: datetime) -> bool:
    """Count one more entry of a person in this minute; tell whether it is too many.

    Each server process counts for itself: it is a script gone wild that is kept off,
    and to count what all of them took in, every entry would ask the database.
    """
    minute = now.replace(second=0, microsecond=0)
    begun, count = _sent_lately.get(by.pk, (minute, 0))
    count = count + 1 if begun == minute else 1
    _sent_lately[by.pk] = minute, count
    return count > MOST_IN_A_MINUTE


def receive(
    admission: Admission, brought: Submission | ParsedDeed | None, *, now: datetime
) -> Outcome:
    """Take an entry in, and say what became of it. Call it outside a transaction.

    `brought` is what the form of a look or a deed says, by our clock; a photo has none.
    """
    try:
        if brought is None:
            return _keep_photo(admission, now=now)
        if isinstance(brought, Submission):
            return _keep_look(admission, brought, now=now)
        return _carry_out(admission, brought, now=now)
    except Refused as refusal:
        return refuse(admission.entry, str(refusal), by=admission.by)
    except IntegrityError:
        # The same entry came in before, or twice at one moment.
        earlier = _earlier(admission.entry, admission.by)
        if earlier is None:
            raise
        return earlier


def refuse(entry: Entry, reason: str, *, by: User) -> Outcome:
    """Refuse an entry, unless it came in before: then say what became of it.

    Nearly all are new: only where one meets something is it asked whether it came.
    """
    return _earlier(entry, by) or Outcome(Answer.REFUSED, reason)


def _earlier(entry: Entry, by: User) -> Outcome | None:
    receipt = Receipt.objects.filter(key=entry.key).first()
    if receipt is None:
        return None
    if receipt.by_id != by.pk or receipt.kind != entry.kind:
        return Outcome(
            Answer.REFUSED,
            _(
                "Another record came in under the same number before. Save this entry "
                "as a file and enter it again."
            ),
        )
    if receipt.body_hash != entry.body_hash:
        # It was changed on the phone while it was on its way, or its answer was lost.
        return Outcome(
            Answer.REFUSED,
            _("It was saved as it was before. Correct what was saved."),
            kind=EntryKind(receipt.kind),
            subject_id=receipt.subject_id,
        )
    return Outcome(
        Answer.ALREADY,
        kind=EntryKind(receipt.kind),
        subject_id=receipt.subject_id,
        notices=tuple(receipt.notices),
    )


def _tree(entry: Entry, orchard: Orchard) -> Tree | None:
    trees = Tree.objects.in_orchard(orchard)
    if any(name == "sign" for name, _value in entry.form):
        # A verdict looks at the kind and the place; most looks find nothing.
        trees = trees.select_related("kind", "spot__block")
    for tree in trees.with_code(entry.tree)[:1]:
        tree.orchard = orchard
        return tree
    return None


def _keep_look(
    admission: Admission, submission: Submission, *, now: datetime
) -> Outcome:
    entry, orchard, by = admission.entry, admission.orchard, admission.by
    if admission.tree is None:
        raise Refused(_("An inspection needs its tree."), code="unknown_tree")
    offset = entry.offset(now)
    notices: tuple[str, ...] = ()

    def write_receipt(logged: Logged) -> None:
        nonlocal notices
        notices = _notices(admission, logged, now)
        number = logged.inspection.pk
        _receipt(entry, orchard, number, by=by, now=now, offset=offset, notices=notices)

    logged = inspections.submit(
        admission.tree,
        submission,
        by=by,
        now=now,
        key=entry.key,
        arrival=Arrival(
            offset_seconds=round(offset.total_seconds()),
            round=_round(entry, orchard),
            photos_follow=entry.photos_follow,
        ),
        beside=write_receipt,
    )
    return Outcome(
        Answer.KEPT,
        kind=EntryKind.INSPECTION,
        subject_id=logged.inspection.pk,
        notices=notices,
    )


def _carry_out(admission: Admission, deed: ParsedDeed, *, now: datetime) -> Outcome:
    entry, orchard, by = admission.entry, admission.orchard, admission.by
    with transaction.atomic():
        effect = deed(by=by, now=now)
        _receipt(
            entry,
            orchard,
            effect.subject_id,
            by=by,
            now=now,
            offset=entry.offset(now),
            notices=effect.notices,
        )
    opened: list[Task] = []
    if effect.asks_plan:
        today = day_in(now, orchard.time_zone)
        opened = care_plan.open_after(orchard, now=now, today=today)
    return Outcome(
        Answer.KEPT,
        kind=entry.kind,
        subject_id=effect.subject_id,
        notices=effect.notices,
        opened=tuple(opened),
    )


def _tree_shown(admission: Admission, record: Any) -> Tree | None:
    """Return the tree of a photo: that of its record, or the one it was sent with."""
    if record is None:
        return admission.tree
    if isinstance(record, Treatment):
        return treatments.only_tree(record)
    tree: Tree | None = getattr(record, "tree", None)
    return tree


def _keep_photo(admission: Admission, *, now: datetime) -> Outcome:
    entry, orchard, by = admission.entry, admission.orchard, admission.by
    # Sent again, it is not shrunk again.
    if (earlier := _earlier(entry, by)) is not None:
        return earlier
    record = _record_of(entry, orchard, by)
    if entry.parent is not None and record is None:
        return Outcome(
            Answer.WAIT,
            _("Its record has not come in yet; the photo waits for it."),
        )
    if entry.file is None:
        raise Refused(_("The photo of this entry is missing."), code="photo_missing")
    inspection = record if isinstance(record, Inspection) else None
    task = record if isinstance(record, Task) else None
    treatment = record if isinstance(record, Treatment) else None
    product = record if isinstance(record, Product) else None
    finding = (
        inspection.findings.filter(sign=entry.sign).first()
        if inspection is not None and entry.sign
        else None
    )
    closure = _closure_by(task, by)
    if finding is not None:
        closure = (
            tasks.work_done_at(finding.inspection).filter(task__finding=finding).first()
        )
    picture = photos.read_picture(entry.file)
    # Shrinking a photo loses its notes: the phone read the moment before that, by the
    # same clock that is off by as much as the entry's. A file in the one format that
    # phones cannot read still has them.
    taken = picture.taken if picture.file_format == "HEIC" else None
    taken = taken or entry.taken_at
    if taken is not None:
        picture = replace(picture, taken=taken + _clock_offset(entry, now))
    [(name, picture)] = photos.lay_down([picture])
    try:
        with transaction.atomic():
            photo = photos.enter(
                name,
                picture,
                orchard=orchard,
                by=by,
                now=now,
                tree=_tree_shown(admission, record),
                inspection=inspection,
                finding=finding,
                closure=closure,
                treatment=treatment,
                product=product,
                private=bool(
                    inspection.has_private if inspection else task and task.private
                ),
                round=_round(entry, orchard),
            )
            notices: tuple[str, ...] = ()
            if record is None and entry.tree and admission.tree is None:
                text = _("There is no tree %(code)s here: this photo has no tree yet.")
                notices = (text % {"code": entry.tree},)
            if inspection is not None and photo not in inspection.photos.all():
                notices = (
                    _(
                        "This photo is here already, with another record. "
                        "It stays there."
                    ),
                )
            _receipt(
                entry,
                orchard,
                photo.pk,
                by=by,
                now=now,
                offset=entry.offset(now),
                notices=notices,
            )
    finally:
        photos.take_away_unentered([name])
    return Outcome(
        Answer.KEPT, kind=EntryKind.PHOTO, subject_id=photo.pk, notices=notices
    )


def _record_of(
    entry: Entry, orchard: Orchard, by: User
) -> Inspection | Task | Treatment | Product | None:
    """Return what a photo was taken for, as it stands now, once that has come in."""
    if entry.parent is None:
        return None
    inspection = (
        Inspection.objects.in_orchard(orchard)
        .select_related("tree", "orchard")
        .filter(key=entry.parent, by=by)
        .first()
    )
    if inspection is not None:
        return corrections.latest_version(inspection)
    receipt = Receipt.objects.filter(key=entry.parent, orchard=orchard, by=by).first()
    if receipt is None:
        return None
    if receipt.kind == EntryKind.TREATMENT:
        uses = Treatment.objects.in_orchard(orchard).select_related("orchard")
        return corrections.latest_version(uses.get(pk=receipt.subject_id))
    if receipt.kind == EntryKind.PRODUCT:
        labels = Product.objects.in_orchard(orchard)
        return corrections.latest_version(labels.get(pk=receipt.subject_id))
    tasks_here = Task.objects.in_orchard(orchard).select_related("tree")
    is_closing = receipt.kind == EntryKind.CLOSURE
    return tasks_here.filter(pk=receipt.subject_id).first() if is_closing else None


def _closure_by(task: Task | None, by: User) -> Closure | None:
    """Return the closing that a photo shows; work that another closed has none."""
    if task is None:
        return None
    return Closure.objects.filter(task=task, by=by, undone_at=None).first()


def _clock_offset(entry: Entry, now: datetime) -> timedelta:
    """Return how far the phone's clock was off; its record was measured most exactly.

    A large photo on a weak line takes minutes, which is no fault of the clock.
    """
    receipt = Receipt.objects.filter(key=entry.parent).first() if entry.parent else None
    if receipt is None:
        return entry.offset(now)
    return timedelta(seconds=receipt.offset_seconds)


def _round(entry: Entry, orchard: Orchard) -> Round | None:
    if entry.round is None:
        return None
    return Round.objects.in_orchard(orchard).filter(pk=entry.round).first()


def _receipt(
    entry: Entry,
    orchard: Orchard,
    subject_id: int,
    *,
    by: User,
    now: datetime,
    offset: timedelta,
    notices: tuple[str, ...],
) -> Receipt:
    receipt = Receipt(
        key=entry.key,
        body_hash=entry.body_hash,
        orchard=orchard,
        by=by,
        kind=entry.kind,
        subject_id=subject_id,
        made_at=entry.made_at,
        received_at=now,
        offset_seconds=round(offset.total_seconds()),
        notices=list(notices),
    )
    receipt.save(force_insert=True)
    return receipt


def _notices(admission: Admission, logged: Logged, now: datetime) -> tuple[str, ...]:
    """Say what the phone could not know when it showed its verdict."""
    notices = []
    entry = admission.entry
    if admission.clock_was_put_right(now) and logged.inspection.seen_at == (
        admission.made_at(now)
    ):
        notices.append(
            _(
                "Your phone's clock was set right after this inspection. It counts as "
                "seen when it was sent. Correct the day if it was another."
            )
        )
    shown = {
        name.removesuffix(":shown"): verdict
        for name, verdict in entry.form
        if name.endswith(":shown")
    }
    for finding in logged.findings:
        seen_verdict = shown.get(finding.sign)
        if seen_verdict and seen_verdict != finding.verdict:
            notices.append(
                _(
                    "%(sign)s: the phone showed “%(shown)s”, the record says "
                    "“%(verdict)s”. The record holds."
                )
                % {
                    "sign": finding.sign,
                    "shown": seen_verdict,
                    "verdict": finding.verdict,
                }
            )
    if dict(entry.form).get("edition", guide.load().edition) != guide.load().edition:
        notices.append(
            _(
                "The guide has changed since your page was made. The new guide gave "
                "this verdict."
            )
        )
    if logged.closed_before:
        notices.append(_("A task you ticked had been closed by somebody else."))
    notices += inspections.told_as_done(logged)
    return tuple(notices)


def photo_name(number: int) -> uuid.UUID:
    """Return the name under which a photo that came in is shown."""
    name: uuid.UUID = Photo.objects.values_list("name", flat=True).get(pk=number)
    return name
