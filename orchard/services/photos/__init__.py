"""Photos: checked, stored once, linked where they belong, shown to who may see them."""

from __future__ import annotations

from orchard.services.photos.consents import (
    consents_to,
    given_by,
    note_consent,
    withdraw_consent,
)
from orchard.services.photos.depicting import Depicted, DepictedSign, depicted
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
from orchard.services.photos.library import (
    CONDITIONS,
    PhotoFilters,
    chosen_photos,
    library,
    photographers,
    photos_that_fit,
)
from orchard.services.photos.many import (
    MOST_CHOSEN,
    describe_many,
    note_consent_to_many,
)
from orchard.services.photos.quality import (
    Flaw,
    alike,
    doubles_of,
    flaw_of,
    measure_old,
)
from orchard.services.photos.showing import (
    is_free,
    lacking,
    why_not_free,
)
from orchard.services.photos.unassigned import (
    assign,
    bring,
    suggested,
    unassigned_photos,
)

__all__ = [
    "CONDITIONS",
    "MOST_CHOSEN",
    "SIZES",
    "Depicted",
    "DepictedSign",
    "Description",
    "Flaw",
    "PhotoFilters",
    "Picture",
    "alike",
    "assign",
    "bring",
    "carry_over",
    "chosen_photos",
    "confirmed",
    "consents_to",
    "current_photos",
    "depicted",
    "describe",
    "describe_many",
    "enter",
    "enter_as_proof",
    "doubles_of",
    "flaw_of",
    "given_by",
    "is_free",
    "lacking",
    "lay_down",
    "library",
    "measure_old",
    "note_consent",
    "note_consent_to_many",
    "path_of",
    "photographers",
    "photos_that_fit",
    "read_picture",
    "set_aside_abandoned",
    "store",
    "suggested",
    "take_away",
    "take_away_unentered",
    "unassigned_photos",
    "withdraw",
    "withdraw_consent",
    "work_proven_by",
    "why_not_free",
]
