"""The growth stage log, read newest first, of trees and groups."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from orchard.records.models import Orchard, StageNote, Tree
from orchard.science import guide

PAGE = 50


@dataclass(frozen=True, slots=True)
class StageLine:
    """One note of the log with the stage in words; `tree` is None for a group."""

    note: StageNote
    meaning: str

    @property
    def whose(self) -> str:
        tree: Tree | None = self.note.tree
        return tree.code if tree else self.note.group


@dataclass(frozen=True, slots=True)
class StageLog:
    """A page of the log, where each group stands now, and the way to older notes."""

    lines: tuple[StageLine, ...]
    standing: tuple[StageLine, ...]
    older_than: str


def growth_stage_log(
    orchard: Orchard, *, group: str = "", before: str = ""
) -> StageLog:
    """Return the notes that stand, newest first, of all or of one group.

    Three queries. `before` is what the page before gave as `older_than`; one that
    makes no sense is passed over.
    """
    notes = (
        StageNote.objects.current()
        .filter(orchard=orchard)
        .select_related("tree__kind", "by")
        .order_by("-seen_on", "-id")
    )
    if group:
        notes = notes.filter(group=group) | notes.filter(tree__kind__group=group)
    place = _place(before)
    if place:
        day, number = place
        older = notes.filter(seen_on__lt=day)
        notes = older | notes.filter(seen_on=day, pk__lt=number)
    rows = list(notes[: PAGE + 1])
    more = rows[PAGE - 1] if len(rows) > PAGE else None
    return StageLog(
        lines=tuple(_lines(rows[:PAGE])),
        standing=() if before else tuple(_lines(_newest_of_groups(orchard))),
        older_than=f"{more.seen_on}_{more.pk}" if more else "",
    )


def cultivar_groups(orchard: Orchard) -> list[str]:
    """Name the cultivar groups of the trees that stand here; one query."""
    names = (
        Tree.objects.of(orchard)
        .standing()
        .exclude(kind__group="")
        .values_list("kind__group", flat=True)
    )
    return sorted(set(names))


def _place(before: str) -> tuple[date, int] | None:
    day, _bar, number = before.partition("_")
    try:
        return date.fromisoformat(day), int(number)
    except ValueError:
        return None


def _newest_of_groups(orchard: Orchard) -> list[StageNote]:
    """Return the newest standing note of each group, by name of group."""
    newest: dict[str, StageNote] = {}
    notes = (
        StageNote.objects.current()
        .filter(orchard=orchard)
        .exclude(group="")
        .select_related("by")
        .order_by("seen_on", "id")
    )
    for note in notes:
        newest[note.group] = note
    return [newest[name] for name in sorted(newest)]


def _lines(notes: list[StageNote]) -> Iterator[StageLine]:
    stages = guide.load().stages
    for note in notes:
        stage = stages.get(note.bbch)
        yield StageLine(note, stage.meaning if stage else "")
