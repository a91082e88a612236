"""Tasks: opened by findings, taken, closed, reopened; the board they stand on."""

from __future__ import annotations

from orchard.services.tasks.assignment import (
    give_back_task,
    hand_over_task,
    take_task,
    who_may_take_on,
)
from orchard.services.tasks.blockers import (
    Circumstances,
    circumstances,
    is_forbidden,
    why_it_waits,
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
    Ending,
    cancel_all,
    close,
    close_all,
    close_locked,
    fall_away,
    fall_away_all,
    lock_open_work,
    reopen,
    reopen_those_of,
)
from orchard.services.tasks.detail import task_detail
from orchard.services.tasks.from_findings import (
    endings_by_look,
    open_from_finding,
    open_look,
    open_put_off,
    retire,
    tasks_of_findings,
)

__all__ = [
    "BlockTally",
    "Board",
    "BoardFilters",
    "BoardRow",
    "Ending",
    "Circumstances",
    "FirstTasks",
    "board_rows",
    "first_tasks",
    "cancel_all",
    "circumstances",
    "close",
    "close_all",
    "close_locked",
    "endings_by_look",
    "fall_away",
    "fall_away_all",
    "give_back_task",
    "hand_over_task",
    "is_forbidden",
    "lock_open_work",
    "open_from_finding",
    "open_look",
    "open_put_off",
    "reopen",
    "reopen_those_of",
    "retire",
    "take_task",
    "tallies_for",
    "task_detail",
    "tasks_of_findings",
    "who_may_take_on",
    "why_it_waits",
]
