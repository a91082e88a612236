"""The growth stage log, read newest first, of trees and groups."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from orchard.records.models import Orchard, StageNote, Tree
from orchard.science import guide
from orchard.services.paging import page_by_key

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
    next_key: str


def growth_stage_log(orchard: Orchard, *, group: str = "", after: str = "") -> StageLog:
    """Return the notes that stand, newest first, of all or of one group.

    Three queries. `after` is the `next_key` of the page before.
    """
    notes = (
        StageNote.objects.current()
        .filter(orchard=orchard)
        .select_related("tree__kind", "by")
    )
    if group:
        notes = notes.filter(group=group) | notes.filter(tree__kind__group=group)
    page = page_by_key(notes, "-seen_on", "-id", after=after, size=PAGE)
    return StageLog(
        lines=tuple(_lines(page.rows)),
        standing=() if after else tuple(_lines(_newest_of_groups(orchard))),
        next_key=page.next_key,
    )


def cultivar_groups(orchard: Orchard) -> list[str]:
    """Name the cultivar groups of the trees that stand here; one query."""
    names = (
        Tree.objects.in_orchard(orchard)
        .standing()
        .exclude(kind__group="")
        .values_list("kind__group", flat=True)
    )
    return sorted(set(names))


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


def _lines(notes: Iterable[StageNote]) -> Iterator[StageLine]:
    stages = guide.load().stages
    for note in notes:
        stage = stages.get(note.bbch)
        yield StageLine(note, stage.meaning if stage else "")
