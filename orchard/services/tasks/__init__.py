"""Tasks: opened by findings, taken, closed, reopened; the board they stand on."""

from __future__ import annotations

from orchard.services.tasks.assignment import (
    give_back_task,
    hand_over_task,
    take_task,
    who_may_take_on,
    who_may_work,
)
from orchard.services.tasks.blockers import (
    Circumstances,
    circumstances,
    is_forbidden,
    why_it_waits,
)
from orchard.services.tasks.board import (
    Board,
    BoardBand,
    BoardFilters,
    GroupKey,
    GroupLine,
    board_for,
)
from orchard.services.tasks.closed import (
    ClosedFilters,
    ClosedTasks,
    closed_tasks,
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
from orchard.services.tasks.first import (
    BlockTally,
    FirstTasks,
    first_tasks,
    tallies_for,
)
from orchard.services.tasks.from_findings import (
    close_done,
    endings_by_look,
    open_from_finding,
    open_look,
    open_put_off,
    reopen_done,
    retire,
    tasks_of_findings,
    work_done_at,
)
from orchard.services.tasks.many import (
    BulkOutcome,
    LeftTask,
    choose_tasks,
    close_many,
    hand_over_many,
    move_many,
    skip_many,
    take_many,
    undo_many,
)
from orchard.services.tasks.printing import PrintedBoard, board_to_print
from orchard.services.tasks.rows import BoardRow, job_name

__all__ = [
    "ClosedFilters",
    "ClosedTasks",
    "PrintedBoard",
    "board_to_print",
    "closed_tasks",
    "BoardBand",
    "BlockTally",
    "Board",
    "BoardFilters",
    "BoardRow",
    "Ending",
    "LeftTask",
    "BulkOutcome",
    "choose_tasks",
    "close_many",
    "hand_over_many",
    "move_many",
    "skip_many",
    "take_many",
    "undo_many",
    "Circumstances",
    "FirstTasks",
    "GroupKey",
    "GroupLine",
    "board_for",
    "first_tasks",
    "cancel_all",
    "circumstances",
    "close",
    "close_all",
    "close_done",
    "close_locked",
    "endings_by_look",
    "fall_away",
    "fall_away_all",
    "give_back_task",
    "hand_over_task",
    "is_forbidden",
    "job_name",
    "lock_open_work",
    "open_from_finding",
    "open_look",
    "open_put_off",
    "reopen",
    "reopen_done",
    "reopen_those_of",
    "retire",
    "take_task",
    "tallies_for",
    "task_detail",
    "tasks_of_findings",
    "who_may_take_on",
    "who_may_work",
    "why_it_waits",
    "work_done_at",
]
