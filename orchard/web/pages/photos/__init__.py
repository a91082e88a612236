"""A photo, and photos without a tree."""

from __future__ import annotations

from orchard.web.pages.photos.unassigned import assign_photos, unassigned_photos
from orchard.web.pages.photos.views import file, index, show, withdrawal

__all__ = [
    "assign_photos",
    "file",
    "index",
    "show",
    "unassigned_photos",
    "withdrawal",
]
