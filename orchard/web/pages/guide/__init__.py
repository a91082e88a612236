"""The guide to read."""

from __future__ import annotations

from orchard.web.pages.guide.views import index, own_rule, show, words

__all__ = ["index", "own_rule", "show", "words"]
