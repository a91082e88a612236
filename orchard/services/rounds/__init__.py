"""Rounds: trees chosen, handed out, walked, closed."""

from __future__ import annotations

from orchard.services.rounds.assignment import (
    give_back_round,
    hand_over_round,
    take_round,
    who_may_walk,
)
from orchard.services.rounds.planning import (
    arrange_round,
    close_round,
    make_round,
    reopen_round,
    trees_asked_for,
    trees_to_walk,
    usual_name,
)
from orchard.services.rounds.progress import (
    Walk,
    closed_rounds,
    next_tree,
    on_the_way,
    round_sheet,
    rounds_for,
)
from orchard.services.rounds.selection import TreeChoice, choose_trees, trees_around

__all__ = [
    "TreeChoice",
    "Walk",
    "arrange_round",
    "choose_trees",
    "close_round",
    "give_back_round",
    "hand_over_round",
    "make_round",
    "next_tree",
    "on_the_way",
    "reopen_round",
    "round_sheet",
    "closed_rounds",
    "rounds_for",
    "take_round",
    "trees_around",
    "trees_asked_for",
    "trees_to_walk",
    "usual_name",
    "who_may_walk",
]
