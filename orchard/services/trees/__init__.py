"""The verbs of places and trees, so that callers write `trees.plant(…)`."""

from __future__ import annotations

from orchard.services.trees.kinds import add_kind, correct_kind, kinds_of
from orchard.services.trees.lists import Filters, Listing, listed, meant
from orchard.services.trees.lives import (
    died,
    move,
    remove,
    replace,
    scion_died,
    take_back,
)
from orchard.services.trees.past import history_of
from orchard.services.trees.places import (
    SpotPlan,
    add_block,
    add_spot,
    add_spots,
    arrange_spots,
    blocks_of,
    correct_block,
    free_spots,
    spots_of,
)
from orchard.services.trees.planting import correct, plant
from orchard.services.trees.public import public_face, tag_for
from orchard.services.trees.tags import (
    Choice,
    make_tags,
    retag,
    retire,
    tag_of,
    trees_for_tags,
)

__all__ = [
    "Choice",
    "Filters",
    "Listing",
    "SpotPlan",
    "add_block",
    "add_kind",
    "add_spot",
    "add_spots",
    "arrange_spots",
    "blocks_of",
    "correct",
    "correct_block",
    "correct_kind",
    "died",
    "free_spots",
    "history_of",
    "kinds_of",
    "listed",
    "meant",
    "make_tags",
    "move",
    "plant",
    "public_face",
    "remove",
    "replace",
    "retag",
    "retire",
    "scion_died",
    "spots_of",
    "tag_for",
    "tag_of",
    "take_back",
    "trees_for_tags",
]
