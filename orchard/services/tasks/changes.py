"""Changes to work: decided on one after the other, written all together."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime

from orchard.records.models import Change, Closure, Task, User
from orchard.services import audit
from orchard.services.audit import Verb
from orchard.services.tasks import closing
from orchard.services.tasks.closing import Ending


@dataclass(frozen=True, slots=True)
class OpenedTask:
    """A task to be opened, by whom, and which of its fields the ledger tells."""

    task: Task
    by: User
    now: datetime
    shown: Sequence[str]


@dataclass(slots=True)
class WorkChanges:
    """What is decided about the work of trees and not yet in the book.

    Whoever decides holds the tasks locked, with their trees and orchards. A task shows
    at once what was decided of it, so that the next decision knows.
    """

    _endings: list[Ending] = field(default_factory=list)
    _opened: list[OpenedTask] = field(default_factory=list)
    _refreshed: dict[int, Task] = field(default_factory=dict)
    _lines: list[Change] = field(default_factory=list)

    def end(self, endings: Iterable[Ending], *, today: date) -> None:
        """Let tasks end.

        Raises:
            Refused: as closing them does.
        """
        self._add(closing.checked(ending, today=today) for ending in endings)

    def fall_away(
        self,
        tasks: Iterable[tuple[Task, str]],
        *,
        by: User | None,
        now: datetime,
        today: date,
    ) -> None:
        """Let tasks fall away, each for its reason."""
        self._add(closing.endings_of_fallen(tasks, by=by, now=now, today=today))

    def _add(self, endings: Iterable[Ending]) -> None:
        for ending in endings:
            self._endings.append(ending)
            ending.task.closed_at = ending.now

    def open(
        self, task: Task, *, by: User, now: datetime, shown: Sequence[str]
    ) -> None:
        """Open a task whose fields are checked; the ledger tells some of them."""
        self._opened.append(OpenedTask(task, by, now, shown))

    def refresh(self, task: Task, line: Change) -> None:
        """Keep an open task as it now is, with a line for the ledger."""
        self._refreshed[task.pk] = task
        self._lines.append(line)

    def write(self) -> dict[int, Closure]:
        """Write all of it, and return the closures by the tasks they closed.

        Call it once, in the transaction that holds the locks.
        """
        # What was open before makes room for its next turn.
        before = [ending for ending in self._endings if ending.task.pk is not None]
        at_once = [ending for ending in self._endings if ending.task.pk is None]
        closures = closing.end_checked(before)
        Task.objects.bulk_create(opened.task for opened in self._opened)
        audit.write_lines(_line(opened) for opened in self._opened)
        # To write many into one statement takes longer than to send them all.
        for task in self._refreshed.values():
            task.save(update_fields=REFRESHED)
        audit.write_lines(self._lines)
        closures += closing.end_checked(at_once)
        return {closure.task_id: closure for closure in closures}


# What of a task may follow a newer finding.
REFRESHED = (
    "title", "caution", "due_on", "opens_on", "rhythm_days", "finding_id",
    "because", "private", "rank",
)  # fmt: skip


def _line(opened: OpenedTask) -> Change:
    task = opened.task
    return audit.line(
        Verb.OPEN,
        task,
        by=opened.by,
        now=opened.now,
        orchard=task.orchard,
        tree=task.tree,
        after=audit.snapshot(task, *opened.shown),
        private=task.private,
    )
