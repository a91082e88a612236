"""The ledger to read: who changed what, when, and what is different since."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

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


def changes_page(
    member: Membership,
    *,
    person: int | None = None,
    sort: str = "",
    tree: Tree | None = None,
    after: str = "",
    size: int = SIZE,
) -> Page[AuditLine]:
    """Return a page of the ledger; private lines only to those who may see them.

    The number of queries does not depend on what the lines say.
    """
    changes = Change.objects.in_orchard(member.orchard)
    if not may(member, Deed.SEE_PRIVATE):
        changes = changes.not_private()
    if person is not None:
        changes = changes.by_person(person)
    if sort:
        changes = changes.about(sort)
    if tree is not None:
        changes = changes.on_tree(tree)
    page = page_by_key(changes.select_related("tree"), "-id", after=after, size=size)
    names = names_for(page.rows)
    return Page(
        rows=tuple(
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
            for row in page.rows
        ),
        next_key=page.next_key,
    )


def people_in_ledger(member: Membership) -> list[tuple[int, str]]:
    """Return everybody who belongs or belonged to the orchard, by name."""
    rows = Membership.objects.in_orchard(member.orchard).select_related("user")
    return [(row.user_id, row.user.name) for row in rows.order_by("user__name", "id")]


def subject_types() -> list[tuple[str, str]]:
    """Return the sorts of things the ledger speaks of, by their word."""
    return sorted(subject_words().items(), key=lambda pair: pair[1])
