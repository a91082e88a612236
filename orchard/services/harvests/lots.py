"""The number of a lot: place, day, block and a serial, as it stands on the crate."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from orchard.records.models import Harvest, Orchard, Tree

LONGEST_PLACE = 24
LONGEST_BLOCKS = 20


def next_lot(orchard: Orchard, trees: Iterable[Tree], *, on: date) -> str:
    """Return the next free number of a lot; call it with the orchard locked.

    No number is given twice, whatever was corrected or withdrawn.
    """
    blocks = sorted({tree.spot.block.code for tree in trees})
    place = orchard.slug.upper()[:LONGEST_PLACE].strip("-")
    block = "+".join(blocks)[:LONGEST_BLOCKS]
    start = f"{place}-{on:%Y%m%d}-{block}-"
    taken = Harvest.objects.in_orchard(orchard).filter(lot__startswith=start)
    ends = (lot[len(start) :] for lot in taken.values_list("lot", flat=True))
    serials = [int(end) for end in ends if end.isdecimal()]
    return f"{start}{max(serials, default=0) + 1}"
