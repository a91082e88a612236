"""Photos: checked, stored once, linked where they belong, shown to who may see them."""

from __future__ import annotations

from orchard.services.photos.consents import (
    consents_to,
    note_consent,
    withdraw_consent,
)
from orchard.services.photos.images import SIZES, Picture, read_picture
from orchard.services.photos.keeping import (
    Description,
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
from orchard.services.photos.showing import is_free, lacking, lacking_in
from orchard.services.photos.unassigned import (
    assign,
    bring,
    suggested,
    unassigned_photos,
)

__all__ = [
    "SIZES",
    "Description",
    "Picture",
    "assign",
    "bring",
    "carry_over",
    "confirmed",
    "consents_to",
    "current_photos",
    "describe",
    "enter",
    "enter_as_proof",
    "store",
    "is_free",
    "lacking",
    "lacking_in",
    "lay_down",
    "note_consent",
    "path_of",
    "photos_for_all",
    "read_picture",
    "set_aside_abandoned",
    "suggested",
    "take_away",
    "take_away_unentered",
    "unassigned_photos",
    "withdraw",
    "withdraw_consent",
    "work_proven_by",
]
