"""The register: places and trees, from planting to removal, and their tags."""

from __future__ import annotations

from orchard.services.trees.codes import code_in, old_codes
from orchard.services.trees.history import history_of
from orchard.services.trees.kinds import (
    add_kind,
    all_kinds,
    correct_kind,
    hosts_grown,
    kinds_of,
    near_names,
    rootstock_named,
    spellings,
)
from orchard.services.trees.lifecycle import (
    died,
    move,
    remove,
    replace,
    scion_died,
    take_back,
)
from orchard.services.trees.lists import (
    UNSEEN_DAYS,
    TreeFilters,
    matching_trees,
    tree_list,
    trees_that_fit,
)
from orchard.services.trees.places import (
    BlockLine,
    SpotLine,
    SpotPlan,
    add_block,
    add_spots,
    all_spots,
    arrange_spots,
    blocks_of,
    correct_block,
    free_spots,
    short_code_in,
    spots_of,
)
from orchard.services.trees.planting import (
    DETAILS,
    columns,
    correct,
    late_planting,
    plant,
    poor_match,
)
from orchard.services.trees.saving import EARLIEST
from orchard.services.trees.tags import (
    TagChoice,
    codes_by_token,
    make_tags,
    retag,
    tag_of,
    tags_of,
    trees_for_tags,
)

__all__ = [
    "DETAILS",
    "EARLIEST",
    "UNSEEN_DAYS",
    "BlockLine",
    "SpotLine",
    "SpotPlan",
    "TagChoice",
    "TreeFilters",
    "add_block",
    "add_kind",
    "add_spots",
    "all_kinds",
    "all_spots",
    "arrange_spots",
    "blocks_of",
    "code_in",
    "codes_by_token",
    "columns",
    "correct",
    "correct_block",
    "correct_kind",
    "died",
    "free_spots",
    "history_of",
    "hosts_grown",
    "kinds_of",
    "late_planting",
    "make_tags",
    "matching_trees",
    "move",
    "near_names",
    "old_codes",
    "plant",
    "poor_match",
    "remove",
    "replace",
    "retag",
    "rootstock_named",
    "scion_died",
    "short_code_in",
    "spellings",
    "spots_of",
    "tag_of",
    "tags_of",
    "take_back",
    "tree_list",
    "trees_that_fit",
    "trees_for_tags",
]
