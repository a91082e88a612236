"""The ledger to read: who changed what, when, and what is different since."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from django.db.models import QuerySet

from orchard.records.models import Change, Membership, Tree
from orchard.services.audit.wording import (
    Difference,
    did,
    differences,
    names_for,
    subject,
    subject_words,
)
from orchard.services.paging import Page, page_by_key
from orchard.services.permissions import Deed, may

SIZE = 50
# So many lines are read at once for a file of all of them.
EXPORTED_AT_ONCE = 500
NEWEST_FIRST = ("-at", "-id")


@dataclass(frozen=True, slots=True)
class AuditLine:
    """One line of the ledger in words. `by_name` is "" for what the clock did."""

    number: int
    at: datetime
    by_name: str
    did: str
    subject: str
    tree_code: str
    reason: str
    private: bool
    is_new: bool
    differences: tuple[Difference, ...]


@dataclass(frozen=True, slots=True)
class LedgerFilter:
    """What of the ledger is asked for; days are those of the orchard, both included."""

    person: int | None = None
    sort: str = ""
    tree: Tree | None = None
    first_day: date | None = None
    last_day: date | None = None


def changes_page(
    member: Membership,
    wanted: LedgerFilter | None = None,
    *,
    after: str = "",
    size: int = SIZE,
) -> Page[AuditLine]:
    """Return a page of the ledger, newest first; private lines only to those who may.

    The number of queries does not depend on what the lines say.
    """
    changes = _readable(member, wanted or LedgerFilter())
    page = page_by_key(changes, *NEWEST_FIRST, after=after, size=size)
    return Page(rows=_in_words(page.rows), next_key=page.next_key)


def all_changes(member: Membership, wanted: LedgerFilter) -> Iterator[AuditLine]:
    """Yield every line that `changes_page` would show, some hundreds at a time."""
    changes = _readable(member, wanted)
    after = ""
    while True:
        page = page_by_key(changes, *NEWEST_FIRST, after=after, size=EXPORTED_AT_ONCE)
        yield from _in_words(page.rows)
        after = page.next_key
        if not after:
            return


def _readable(member: Membership, wanted: LedgerFilter) -> QuerySet[Change]:
    changes = Change.objects.in_orchard(member.orchard)
    if not may(member, Deed.SEE_PRIVATE):
        changes = changes.not_private()
    if wanted.person is not None:
        changes = changes.by_person(wanted.person)
    if wanted.sort:
        changes = changes.about(wanted.sort)
    if wanted.tree is not None:
        changes = changes.on_tree(wanted.tree)
    zone = ZoneInfo(member.orchard.time_zone)
    if wanted.first_day is not None and wanted.first_day > date.min:
        changes = changes.written_from(_midnight(wanted.first_day, zone))
    if wanted.last_day is not None and wanted.last_day < date.max:
        day_after = wanted.last_day + timedelta(days=1)
        changes = changes.written_before(_midnight(day_after, zone))
    return changes.select_related("tree")


def _midnight(day: date, zone: ZoneInfo) -> datetime:
    return datetime.combine(day, time.min, tzinfo=zone)


def _in_words(rows: Iterable[Change]) -> tuple[AuditLine, ...]:
    rows = tuple(rows)
    names = names_for(rows)
    return tuple(
        AuditLine(
            number=row.pk,
            at=row.at,
            by_name=row.by_name,
            did=did(row),
            subject=subject(row, names),
            tree_code=row.tree.code if row.tree else "",
            reason=row.reason,
            private=row.private,
            is_new=not row.before,
            differences=differences(row, names),
        )
        for row in rows
    )


def people_in_ledger(member: Membership) -> list[tuple[int, str]]:
    """Return everybody who belongs or belonged to the orchard, by name."""
    rows = Membership.objects.in_orchard(member.orchard).select_related("user")
    return [(row.user_id, row.user.name) for row in rows.order_by("user__name", "id")]


def subject_types() -> list[tuple[str, str]]:
    """Return the sorts of things the ledger speaks of, by their word."""
    return sorted(subject_words().items(), key=lambda pair: pair[1])
