"""The guide: what is known about signs, kinds and care, as data with sources.

`load` reads the files beside this module into frozen rows and refuses a guide in
which anything is missing, unknown, contradictory or out of reach.
"""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

from orchard.science.guide.glossary import Piece, told_apart
from orchard.science.guide.loading import read_guide
from orchard.science.guide.rule_lists import check_rules, read_rules, write_rules
from orchard.science.guide.rules import (
    ANYTHING_ELSE,
    Band,
    Condition,
    Fact,
    Option,
    Rule,
    SignStep,
    Value,
    bands,
    options,
    read_band,
    sample,
)
from orchard.science.guide.search import find_signs, search_index, short_words
from orchard.science.guide.shapes import (
    Alike,
    CareJob,
    Cultivar,
    Guide,
    HoldRule,
    Pest,
    PestStanding,
    Plan,
    Region,
    Rootstock,
    Sign,
    Stage,
    Tenderness,
    Term,
    TreatmentType,
)
from orchard.science.guide_files import GUIDE_FOLDER, Fault, GuideError

__all__ = [
    "ANYTHING_ELSE",
    "Alike",
    "Band",
    "CareJob",
    "Condition",
    "Cultivar",
    "Fact",
    "Fault",
    "Guide",
    "GuideError",
    "HoldRule",
    "TreatmentType",
    "Option",
    "Pest",
    "PestStanding",
    "Piece",
    "Region",
    "Plan",
    "Rootstock",
    "Rule",
    "Sign",
    "SignStep",
    "Stage",
    "Tenderness",
    "Term",
    "Value",
    "bands",
    "check_rules",
    "find_signs",
    "load",
    "options",
    "read_band",
    "read_rules",
    "sample",
    "search_index",
    "short_words",
    "told_apart",
    "write_rules",
]

VERSION = "2026.1"


def load(folder: Path | None = None) -> Guide:
    """Read a guide folder, by default the one beside this module, once per process.

    GuideError lists every fault of every file, each with its line and how to mend it:
    a rule list that is not total, a rule out of reach, an unknown fact, source, pest
    or look-alike, a value of the wrong type or outside its choices, a row without
    source or unit, a key that stands twice, and an act or report without due.
    """
    return _default() if folder is None else read_guide(folder, VERSION)


@lru_cache(maxsize=1)
def _default() -> Guide:
    return read_guide(GUIDE_FOLDER, VERSION)
