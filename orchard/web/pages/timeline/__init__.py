"""The timeline as a page tells it."""

from __future__ import annotations

from orchard.web.pages.timeline.story import Link, Links, timeline_of

__all__ = ["Link", "Links", "timeline_of"]
