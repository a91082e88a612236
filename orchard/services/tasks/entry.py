"""Work at a tree that was closed after a treatment: refused, or kept as a breach."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime, time, timedelta
from hashlib import blake2s
from zoneinfo import ZoneInfo

from django.db import transaction
from django.db.models import Q, QuerySet
from django.utils.translation import gettext as _

from orchard.records.models import (
    Closure,
    HoldBreach,
    Orchard,
    Task,
    TaskRequest,
    TreatedTree,
    User,
)
from orchard.services import audit, holds
from orchard.services.audit import Verb
from orchard.services.errors import Refused
from orchard.services.tasks import turns


def closed_by_treatment(task: Task, on: date, *, now: datetime) -> str:
    """Say why nobody may have worked at a task's tree on a day, or nothing.

    Today it is asked for this moment; of an earlier day only what was closed all day
    is known to have been closed.
    """
    if task.tree_id is None:
        return ""
    zone = ZoneInfo(task.orchard.time_zone)
    first = datetime.combine(on, time(), tzinfo=zone)
    last = datetime.combine(on + timedelta(days=1), time(), tzinfo=zone)
    if first <= now < last:
        first = last = now
    rows = TreatedTree.objects.filter(
        Q(entry_at=None) | Q(entry_at__gt=last),
        tree=task.tree_id,
        counts=True,
        treatment__started_at__lte=first,
    )
    ends = list(rows.values_list("entry_at", flat=True))
    if not ends:
        return ""
    moments = [end for end in ends if end is not None]
    until = max(moments) if len(moments) == len(ends) else None
    return holds.entry_words(until, zone)


def check_entry(task: Task, on: date, *, despite_hold: str, now: datetime) -> str:
    """Refuse work where nobody may enter, unless it is said that it was done.

    Return the hold that stood, as it is kept with the breach; nothing where none did.

    Raises:
        Refused (entry_hold): the tree was closed, and nothing is said of it.
    """
    hold = closed_by_treatment(task, on, now=now)
    if hold and not despite_hold.strip():
        raise Refused(
            _(
                "%(hold)s If it was done all the same, say so below: it is kept, and "
                "the coordinator looks into it."
            )
            % {"hold": hold},
            code="entry_hold",
            field="despite_hold",
        )
    return hold


def keep_breach(
    closure: Closure,
    hold: str,
    words: str,
    *,
    by: User,
    now: datetime,
    today: date,
) -> HoldBreach:
    """Keep that work was done although nobody could enter, and ask the coordinator."""
    task = closure.task
    assert task.tree is not None
    row = HoldBreach(
        orchard=task.orchard,
        tree=task.tree,
        closure=closure,
        hold=hold[:300],
        happened_at=now,
        words=words.strip()[:500],
        by=by,
        received_at=now,
    )
    audit.save(Verb.NOTE, row, by=by, now=now)
    ask_coordinator(
        task.orchard,
        title=_("Look into work at %(code)s while it was closed")
        % {"code": task.tree.code},
        steps=[hold, words.strip()],
        subject=f"breach:{row.pk}",
        due_on=today,
        by=by,
        now=now,
        today=today,
    )
    return row


def _key_of(subject: str) -> str:
    return f"asked_{blake2s(subject.encode(), digest_size=8).hexdigest()}"


def asked_about(orchard: Orchard, subject: str) -> QuerySet[Task]:
    """Return the open task that asks the coordinator about something."""
    rows = Task.objects.in_orchard(orchard).open().filter(key=_key_of(subject))
    return rows.filter(kind=Task.Kind.ONCE, tree=None, block=None)


def ask_coordinator(
    orchard: Orchard,
    *,
    title: str,
    steps: Iterable[str],
    subject: str,
    due_on: date,
    by: User,
    now: datetime,
    today: date,
) -> Task | None:
    """Open a task on the whole orchard about something that went wrong.

    `subject` names what it is about; where its task is open already, none is added.
    """
    if asked_about(orchard, subject).exists():
        return None
    lines = [line for line in steps if line]
    with transaction.atomic():
        request = TaskRequest(
            orchard=orchard,
            by=by,
            made_at=now,
            title=title[:160],
            steps="\n".join(lines),
        )
        audit.save(Verb.MAKE, request, by=by, now=now, fields=["title", "steps"])
        task = Task(
            orchard=orchard,
            kind=Task.Kind.ONCE,
            rank=Task.RANKS[Task.Kind.ACT],
            key=_key_of(subject),
            title=title[:160],
            opens_on=today,
            due_on=max(due_on, today),
            rhythm_days=max((due_on - today).days, 1),
            made_at=now,
            request=request,
            occurrence=turns.turn_of_request(request),
        )
        audit.save(
            Verb.OPEN,
            task,
            by=by,
            now=now,
            after=audit.snapshot(task, "title", "opens_on", "due_on"),
        )
    return task
