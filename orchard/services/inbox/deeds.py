"""Deeds done without signal, carried out when their entry comes in.

Meanwhile somebody else may have done the same work. Then the deed changes nothing, what
was written down with it is kept in the ledger, and the phone is told who was first.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, Protocol

from django.utils.translation import gettext as _

from orchard.records.models import Task, User
from orchard.services import audit, tasks, water
from orchard.services.audit import Verb
from orchard.services.errors import Refused


@dataclass(frozen=True, slots=True)
class Effect:
    """What a deed became: its row, the work it opened, what the phone is told."""

    subject_id: int
    opened: tuple[Task, ...] = ()
    notices: tuple[str, ...] = ()


class ParsedDeed(Protocol):
    """A deed as its form says it, ready to be carried out."""

    def __call__(self, *, by: User, now: datetime) -> Effect:
        """Carry it out.

        Raises:
            Refused: it cannot be done as it is written down.
        """


def close_task(
    task: Task,
    *,
    by: User,
    now: datetime,
    today: date,
    litres: float | None = None,
    **ending: Any,
) -> Effect:
    """Close a task as done or skipped; one that is closed by now stays as it is.

    Raises:
        Refused: as closing a task and closing a watering say, but for already_closed.
    """
    when: dict[str, Any] = {"by": by, "now": now, "today": today}
    try:
        if litres is None:
            tasks.close(task, **when, **ending)
        else:
            water.close_watering(task, litres=litres, **when, **ending)
    except Refused as refusal:
        if refusal.code != "already_closed":
            raise
        return _keep_words(task, refusal, by=by, now=now, litres=litres, **ending)
    return Effect(task.pk)


def take_task(task: Task, *, by: User, now: datetime, gives: bool = False) -> Effect:
    """Take a task or give it back; whoever comes too late is told who has it."""
    verb = tasks.give_back_task if gives else tasks.take_task
    try:
        verb(task, by=by, now=now)
    except Refused as refusal:
        return Effect(task.pk, notices=(str(refusal),))
    return Effect(task.pk)


def _keep_words(
    task: Task, refusal: Refused, *, by: User, now: datetime, **ending: Any
) -> Effect:
    audit.write(
        Verb.NOTE,
        task,
        by=by,
        now=now,
        orchard=task.orchard,
        tree=task.tree,
        after={name: value for name, value in ending.items() if value},
        private=task.private,
    )
    notice = _("%(why)s What you wrote is kept in the ledger.") % {"why": refusal}
    return Effect(task.pk, notices=(notice,))
