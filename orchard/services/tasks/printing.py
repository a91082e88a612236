"""The board on paper: tasks with boxes, block by block, as one walks."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from itertools import groupby, islice

from django.db.models import F

from orchard.records.models import Block, Membership
from orchard.services.tasks import blockers
from orchard.services.tasks.board import (
    BoardBand,
    BoardFilters,
    GroupKey,
    filtered,
    in_band,
    in_group,
)
from orchard.services.tasks.rows import (
    BoardRow,
    open_tasks_seen_by,
    row_of,
    with_names,
)

LINES = 30
MOST_LINES = 600


@dataclass(frozen=True, slots=True)
class PrintedPage:
    """A page of at most thirty tasks in one block; None for those of no block."""

    block: Block | None
    rows: tuple[BoardRow, ...]


@dataclass(frozen=True, slots=True)
class PrintedBoard:
    """All pages; `is_cut` where there were more tasks than are printed at once."""

    pages: tuple[PrintedPage, ...]
    is_cut: bool


def board_to_print(
    member: Membership,
    *,
    today: date,
    filters: BoardFilters,
    opened: GroupKey | None = None,
) -> PrintedBoard:
    """Return what is due in the order of a walk, or of one line of the board alone."""
    if opened is None:
        shown = in_band(BoardBand.DANGER, today) | in_band(BoardBand.DUE, today)
    else:
        shown = in_group(opened, today)
    tasks = filtered(open_tasks_seen_by(member), member, filters, today).filter(shown)
    rows = list(
        with_names(tasks).order_by(
            F("block__position").asc(nulls_first=True),
            "block_id",
            F("tree__spot__position").asc(nulls_first=True),
            "tree_id",
            "rank",
            "due_on",
            "id",
        )[: MOST_LINES + 1]
    )
    now = blockers.circumstances(member.orchard, today=today)
    pages = []
    for _block, group in groupby(rows[:MOST_LINES], key=lambda task: task.block_id):
        while chunk := list(islice(group, LINES)):
            lines = tuple(row_of(task, member, now) for task in chunk)
            pages.append(PrintedPage(chunk[0].block, lines))
    return PrintedBoard(tuple(pages), is_cut=len(rows) > MOST_LINES)
