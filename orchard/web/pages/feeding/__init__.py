"""Feeding: how much one tree gets, and what it had."""

from __future__ import annotations

from orchard.web.pages.feeding.views import feeding_of_tree

__all__ = ["feeding_of_tree"]
