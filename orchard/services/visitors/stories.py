"""Stories: what staff write for visitors about a tree, or about all of a cultivar."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext as _

from orchard.records.models import Kind, Membership, Tree
from orchard.services import audit, permissions
from orchard.services.audit import Verb
from orchard.services.errors import Refused
from orchard.services.permissions import Deed

MOST_LETTERS = 1500


def write_story(
    subject: Tree | Kind, *, member: Membership, now: datetime, text: str
) -> bool:
    """Keep what visitors read about a tree or a cultivar; say whether it changed.

    Plain text; an empty one takes the story away. What stood there before stays in the
    ledger.

    Raises:
        MayNot: the member's role writes no stories.
        Refused (too_long): it has more letters than a visitor reads at a tree.
    """
    permissions.require(member, Deed.WRITE_STORIES)
    text = "\n".join(line.rstrip() for line in text.strip().splitlines())
    if len(text) > MOST_LETTERS:
        raise Refused(
            _("The story has %(letters)d letters. Shorten it to %(most)d.")
            % {"letters": len(text), "most": MOST_LETTERS},
            code="too_long",
            field="story",
        )
    with transaction.atomic():
        row = (
            type(subject)
            .objects.select_for_update(of=("self",), no_key=True)
            .get(pk=subject.pk)
        )
        if row.story == text:
            return False
        before = audit.snapshot(row, "story")
        row.story = subject.story = text
        audit.save(
            Verb.DESCRIBE,
            row,
            by=member.user,
            now=now,
            before=before,
            after=audit.snapshot(row, "story"),
        )
    return True
