"""Paper sheets: what others saw and did, written down for them."""

from __future__ import annotations

from orchard.web.pages.paper.sheet import PaperSheet, sheet_in
from orchard.web.pages.paper.views import paper

__all__ = ["PaperSheet", "paper", "sheet_in"]
