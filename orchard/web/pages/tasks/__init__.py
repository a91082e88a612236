"""The board and each task."""

from __future__ import annotations

from orchard.web.pages.tasks.board_views import board
from orchard.web.pages.tasks.views import closure, handing, reopening, show, taking

__all__ = ["board", "closure", "handing", "reopening", "show", "taking"]
