"""Fruit after a frost: which trees wait for a cut test, and until when none is picked.

Nothing is picked or given away from a tree while this says so.
"""

from __future__ import annotations

from datetime import date, timedelta

from django.db.models import Q
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from orchard.records.models import Happening, Orchard, Task
from orchard.science.figures import figure

CUT_TEST = "job:frost_fruit_cut"


def cut_tests(orchard: Orchard) -> tuple[Task, ...]:
    """List the open cut tests, each with its tree, the first due first."""
    return tuple(
        Task.objects.of(orchard)
        .open()
        .filter(what=CUT_TEST)
        .select_related("tree__kind")
        .order_by("due_on", "id")
    )


def held(orchard: Orchard, *, today: date) -> dict[int, str]:
    """Return the trees whose fruit stays on them today, each with the reason.

    A tree is held while its cut test is open, and after a severe frost for as many
    days as the guide says. Two queries.
    """
    reasons = {
        task.tree_id: _(
            "Cut test open: no fruit is picked or given away until it passes."
        )
        for task in cut_tests(orchard)
        if task.tree_id is not None
    }
    for tree_id, until in _severe(orchard, today):
        reasons[tree_id] = _(
            "Severe frost: no fruit is picked or given away before %(day)s."
        ) % {"day": date_format(until, "j M Y")}
    return reasons


def _severe(orchard: Orchard, today: date) -> list[tuple[int, date]]:
    days = timedelta(days=figure("fruit_hold_days").value)
    nights = list(
        Happening.objects.current()
        .filter(orchard=orchard, what=Happening.What.SEVERE_FROST)
        .filter(happened_on__gt=today - days, happened_on__lte=today)
        .order_by("happened_on", "id")
        .values_list("tree_id", "happened_on")
    )
    if not nights:
        return []
    found = []
    trees = orchard.trees.filter(Q(removed_on=None)).values_list("pk", flat=True)
    for tree_id, on in nights:
        held_trees = [tree_id] if tree_id else list(trees)
        found += [(pk, on + days) for pk in held_trees]
    return found
