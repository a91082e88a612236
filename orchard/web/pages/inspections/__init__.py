"""The form at the tree, the record, corrections, moves, second looks."""

from __future__ import annotations

from orchard.web.pages.inspections.blank import blank
from orchard.web.pages.inspections.forms import InspectionForm, round_of
from orchard.web.pages.inspections.lists import index, my_second_looks
from orchard.web.pages.inspections.moves import move_inspection
from orchard.web.pages.inspections.second_opinions import (
    answer_second_look,
    read_answer,
    second_looks,
)
from orchard.web.pages.inspections.sign_blocks import (
    block_of,
    part_word,
    part_words,
    pictures_of,
    plans_of,
)
from orchard.web.pages.inspections.views import (
    all_well,
    correction,
    new,
    override,
    saved_text,
    show,
    sign_card,
    withdrawal,
)

__all__ = [
    "InspectionForm",
    "all_well",
    "answer_second_look",
    "blank",
    "block_of",
    "correction",
    "index",
    "move_inspection",
    "my_second_looks",
    "new",
    "part_word",
    "part_words",
    "override",
    "pictures_of",
    "read_answer",
    "round_of",
    "saved_text",
    "second_looks",
    "show",
    "sign_card",
    "plans_of",
    "withdrawal",
]
