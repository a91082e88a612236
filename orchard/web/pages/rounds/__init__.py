"""Rounds made, walked, watched."""

from __future__ import annotations

from orchard.web.pages.rounds.views import (
    closure,
    handing,
    index,
    live,
    new,
    order,
    pages,
    show,
    taking,
)

__all__ = [
    "closure",
    "handing",
    "index",
    "live",
    "new",
    "order",
    "pages",
    "show",
    "taking",
]
