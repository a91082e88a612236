"""The board and each task."""

from __future__ import annotations

from orchard.web.pages.tasks.board_views import board
from orchard.web.pages.tasks.forms import DoneForm, SkipForm
from orchard.web.pages.tasks.views import (
    closure,
    handing,
    reopening,
    show,
    taking,
    undo_of_closing,
    way_back,
)

__all__ = [
    "DoneForm",
    "SkipForm",
    "board",
    "closure",
    "handing",
    "reopening",
    "show",
    "taking",
    "undo_of_closing",
    "way_back",
]
