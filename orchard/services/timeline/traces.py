"""What would otherwise be lost from sight: looks moved, and work done twice."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.db.models import QuerySet
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from orchard.records.models import Change, Closure
from orchard.science.words import Lane
from orchard.services.audit import Verb
from orchard.services.timeline.shapes import Event, Mark, Rank, Scope


@dataclass(frozen=True, slots=True)
class DoneBefore:
    """Work that a look ticked off when somebody else had closed it already."""

    task: int
    title: str
    by_id: int | None
    by: str
    on: date

    @property
    def text(self) -> str:
        values = {"title": self.title, "day": date_format(self.on, "j M Y")}
        if not self.by:
            return _("%(title)s: closed already, %(day)s") % values
        values["name"] = self.by
        return _("%(title)s: already done by %(name)s, %(day)s") % values


def done_before(numbers: Iterable[int], *, sees_private: bool) -> dict[int, DoneBefore]:
    """Tell who had closed some tasks, by number; without those that are private."""
    wanted = set(numbers)
    if not wanted:
        return {}
    rows = Closure.objects.filter(task_id__in=wanted)
    if not sees_private:
        rows = rows.filter(task__private=False)
    closed: dict[int, DoneBefore] = {}
    # The closure that stands comes last, so it is the one returned.
    for row in sorted(
        rows.select_related("task", "by"),
        key=lambda row: (row.undone_at is None, row.pk),
    ):
        closed[row.task_id] = DoneBefore(
            task=row.task_id,
            title=row.task.title,
            by_id=row.by_id,
            by=row.by.name if row.by else "",
            on=row.done_on,
        )
    return closed


def moved() -> QuerySet[Change]:
    """Return the lines of looks that were moved from one tree to another."""
    return Change.objects.filter(subject_type="inspection", verb=Verb.MOVE)


def moves(scope: Scope) -> list[Event]:
    """Return the looks that came to the tree, or went from it, as logged wrongly."""
    rows = (
        moved()
        .filter(scope.moments("at", Rank.SHIFTED), tree_id=scope.tree.pk)
        .order_by("-at", "-id")
        .values(
            "id",
            "at",
            "subject_id",
            "before",
            "after",
            "reason",
            "private",
            "by_id",
            "by_name",
        )[: scope.size]
    )
    return [_move(scope, row) for row in rows]


def _move(scope: Scope, row: Mapping[str, Any]) -> Event:
    code = scope.tree.code
    left, came = row["before"]["tree"], row["after"]["tree"]
    seen_at = datetime.fromisoformat(row["before"]["seen_at"]).astimezone(scope.zone)
    values = {"day": date_format(seen_at.date(), "j M Y"), "tree": came}
    title = _(
        "Inspection of %(day)s moved to %(tree)s: it was recorded here by mistake"
    )
    if came == code:
        values["tree"] = left
        title = _("Inspection of %(day)s moved here from %(tree)s")
    may_see_all = scope.sees_private or row["by_id"] == scope.member.user_id
    return Event(
        mark=Mark(row["at"], Rank.SHIFTED, row["id"]),
        on=row["at"].astimezone(scope.zone).date(),
        at=row["at"],
        lane=Lane.LOOKS,
        title=title % values,
        note="" if row["private"] and not may_see_all else row["reason"],
        by_id=row["by_id"],
        by=row["by_name"],
        target=("inspection", row["subject_id"]),
    )
