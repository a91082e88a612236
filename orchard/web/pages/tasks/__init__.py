"""The board and each task."""

from __future__ import annotations

from orchard.web.pages.tasks.board_place import line_url
from orchard.web.pages.tasks.board_views import board, print_board
from orchard.web.pages.tasks.by_hand_views import ask_for_task, withdraw
from orchard.web.pages.tasks.closed_views import closed
from orchard.web.pages.tasks.forms import DoneForm, SkipForm
from orchard.web.pages.tasks.many_views import (
    close_chosen,
    hand_over_chosen,
    move_chosen,
    skip_chosen,
    take_chosen,
    undo_chosen,
)
from orchard.web.pages.tasks.views import (
    closure,
    handing,
    pages_from_tree,
    reopening,
    show,
    taking,
    undo_of_closing,
    way_back,
)
from orchard.web.pages.tasks.wording import time_taken

__all__ = [
    "DoneForm",
    "SkipForm",
    "ask_for_task",
    "board",
    "close_chosen",
    "closed",
    "closure",
    "hand_over_chosen",
    "handing",
    "line_url",
    "move_chosen",
    "pages_from_tree",
    "print_board",
    "reopening",
    "show",
    "skip_chosen",
    "take_chosen",
    "time_taken",
    "taking",
    "undo_chosen",
    "undo_of_closing",
    "way_back",
    "withdraw",
]
