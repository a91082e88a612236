"""Tasks: opened by findings, taken, closed, reopened; the board they stand on."""

from __future__ import annotations

from orchard.services.tasks.assignment import (
    give_back_task,
    hand_over_task,
    take_task,
    who_may_take_on,
)
from orchard.services.tasks.board import (
    BlockTally,
    Board,
    BoardFilters,
    BoardRow,
    FirstTasks,
    board_rows,
    first_tasks,
    tallies_for,
)
from orchard.services.tasks.closing import (
    cancel_all,
    close,
    fall_away,
    reopen,
    reopen_those_of,
)
from orchard.services.tasks.detail import task_detail
from orchard.services.tasks.from_findings import (
    look_done,
    open_from_finding,
    retire,
    tasks_of_findings,
)

__all__ = [
    "BlockTally",
    "Board",
    "BoardFilters",
    "BoardRow",
    "FirstTasks",
    "board_rows",
    "first_tasks",
    "cancel_all",
    "close",
    "fall_away",
    "give_back_task",
    "hand_over_task",
    "look_done",
    "open_from_finding",
    "reopen",
    "reopen_those_of",
    "retire",
    "take_task",
    "tallies_for",
    "task_detail",
    "tasks_of_findings",
    "who_may_take_on",
]
