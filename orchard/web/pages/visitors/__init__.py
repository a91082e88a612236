"""Visitors: the page behind a tag, that of an orchard, and the stories for both."""

from __future__ import annotations

from orchard.web.pages.visitors.orchards import visit
from orchard.web.pages.visitors.pictures import public_photo
from orchard.web.pages.visitors.stories import kind_story, tree_story
from orchard.web.pages.visitors.tags import public_tag

__all__ = ["kind_story", "public_photo", "public_tag", "tree_story", "visit"]
