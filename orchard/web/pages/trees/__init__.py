"""The register, a tree's page, and its tag."""

from __future__ import annotations

from orchard.web.pages.trees.page import timeline_part, tree_page
from orchard.web.pages.trees.place_forms import HOST_WORDS
from orchard.web.pages.trees.places import block, blocks, kind, kinds
from orchard.web.pages.trees.tags import choose_tags, tag_codes, tag_sheet
from orchard.web.pages.trees.views import (
    details,
    index,
    new,
    removal,
    replacement,
    spot,
    state,
    tag,
)

__all__ = [
    "HOST_WORDS",
    "block",
    "blocks",
    "choose_tags",
    "details",
    "index",
    "kind",
    "kinds",
    "new",
    "removal",
    "replacement",
    "spot",
    "state",
    "tag",
    "tag_codes",
    "tag_sheet",
    "timeline_part",
    "tree_page",
]
