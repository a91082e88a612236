"""Photos: checked, stored once, linked where they belong, shown to who may see them."""

from __future__ import annotations

from orchard.services.photos.images import SIZES, Picture, read_picture
from orchard.services.photos.keeping import (
    carry_over,
    confirmed,
    current_photos,
    describe,
    enter,
    enter_as_proof,
    lay_down,
    path_of,
    set_aside_abandoned,
    store,
    take_away,
    take_away_unentered,
    withdraw,
    work_proven_by,
)
from orchard.services.photos.lists import photos_for_all
from orchard.services.photos.unassigned import (
    assign,
    bring,
    suggested,
    unassigned_photos,
)

__all__ = [
    "SIZES",
    "Picture",
    "assign",
    "bring",
    "carry_over",
    "confirmed",
    "current_photos",
    "describe",
    "enter",
    "enter_as_proof",
    "store",
    "lay_down",
    "path_of",
    "photos_for_all",
    "read_picture",
    "set_aside_abandoned",
    "suggested",
    "take_away",
    "take_away_unentered",
    "unassigned_photos",
    "withdraw",
    "work_proven_by",
]
