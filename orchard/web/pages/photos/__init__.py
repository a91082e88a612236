"""A photo, and photos without a tree."""

from __future__ import annotations

from orchard.web.pages.photos.consents import note_consent, withdraw_consent
from orchard.web.pages.photos.library import (
    chosen,
    chosen_consents,
    chosen_talk,
    index,
)
from orchard.web.pages.photos.unassigned import assign_photos, unassigned_photos
from orchard.web.pages.photos.views import file, photo_answer, show, withdrawal

__all__ = [
    "assign_photos",
    "chosen",
    "chosen_consents",
    "chosen_talk",
    "file",
    "index",
    "note_consent",
    "photo_answer",
    "show",
    "unassigned_photos",
    "withdraw_consent",
    "withdrawal",
]
