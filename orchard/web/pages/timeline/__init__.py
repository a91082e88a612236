"""The timeline as a page tells it."""

from __future__ import annotations

from orchard.web.pages.timeline.story import Link, Links, shot_shown, timeline_of

__all__ = ["Link", "Links", "shot_shown", "timeline_of"]
