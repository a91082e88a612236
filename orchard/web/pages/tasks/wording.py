"""A line of the board in words: where it is, how long it takes, who has it."""

from __future__ import annotations

from collections.abc import Iterable

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from orchard.records.models import User
from orchard.services.tasks import GroupLine, LeftTask

# More codes than this are counted instead.
BLOCKS_NAMED = 5
PLACES_NAMED = 12


def where(line: GroupLine) -> str:
    """Say on how many trees and in which blocks the tasks of a line are."""
    count = len(line.blocks)
    blocks = ", ".join(line.blocks)
    if count > BLOCKS_NAMED:
        blocks = _("%(count)d blocks") % {"count": count}
    if not line.trees:
        if not count:
            return _("whole orchard")
        if count > BLOCKS_NAMED:
            return blocks
        return ngettext("block %(codes)s", "blocks %(codes)s", count) % {
            "codes": blocks
        }
    words = {"trees": line.trees, "blocks": blocks}
    return (
        ngettext(
            "%(trees)d tree in %(blocks)s", "%(trees)d trees in %(blocks)s", line.trees
        )
        % words
    )


def time_taken(minutes: int | None) -> str:
    """Say how long something takes: minutes below two hours, else hours."""
    if minutes is None:
        return ""
    if minutes < 120:
        return _("%(count)d min") % {"count": minutes}
    return _("%(count)d h") % {"count": round(minutes / 60)}


def who_has(line: GroupLine, reader: User) -> str:
    """Say who has the tasks of a line, and how many of them."""
    if not line.taken:
        return _("unassigned")
    counts = {"taken": line.taken, "tasks": line.tasks}
    if line.taken_by is None:
        return _("%(taken)d of %(tasks)d taken") % counts
    name = _("you") if line.taken_by == reader else line.taken_by.name
    if line.taken == line.tasks:
        return name
    return _("%(name)s: %(taken)d of %(tasks)d") % {**counts, "name": name}


def left_as_they_were(left: Iterable[LeftTask]) -> str:
    """Say which tasks a deed on many left as they were, by the reason."""
    places: dict[str, list[str]] = {}
    for each in left:
        place = each.task.tree or each.task.block
        name = place.code if place else each.task.title
        places.setdefault(each.why, []).append(name)
    sentences = []
    for why, names in places.items():
        shown = ", ".join(names[:PLACES_NAMED])
        if len(names) > PLACES_NAMED:
            more = len(names) - PLACES_NAMED
            shown = _("%(places)s and %(more)d more") % {"places": shown, "more": more}
        sentences.append(
            _("Left: %(places)s (%(why)s).") % {"places": shown, "why": why}
        )
    return " ".join(sentences)
