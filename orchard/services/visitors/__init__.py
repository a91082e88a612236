"""Visitors: what anybody may know of a tree or an orchard, and stories for them."""

from __future__ import annotations

from orchard.services.visitors.findings import PublicFinding
from orchard.services.visitors.orchard_face import (
    KindHere,
    OrchardFace,
    Sight,
    WorthSeeing,
    orchard_face,
    public_orchard,
)
from orchard.services.visitors.pictures import public_photo
from orchard.services.visitors.stories import MOST_LETTERS, write_story
from orchard.services.visitors.tree_face import (
    DoneLately,
    FruitNow,
    Promise,
    PublicFace,
    public_face,
    tag_for,
)

__all__ = [
    "MOST_LETTERS",
    "DoneLately",
    "KindHere",
    "OrchardFace",
    "Promise",
    "PublicFace",
    "PublicFinding",
    "FruitNow",
    "Sight",
    "WorthSeeing",
    "orchard_face",
    "public_face",
    "public_orchard",
    "public_photo",
    "tag_for",
    "write_story",
]
