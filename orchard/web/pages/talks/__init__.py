"""Talk sets: their list, their slides, and the files they leave as."""

from __future__ import annotations

from orchard.web.pages.talks.cards import cards
from orchard.web.pages.talks.files import deck, handout, pictures, player
from orchard.web.pages.talks.purposes import by_purpose
from orchard.web.pages.talks.slides import (
    photo_place,
    photo_removal,
    slide_new,
    slide_photos,
    slide_place,
    slide_removal,
    slide_show,
)
from orchard.web.pages.talks.views import (
    bringing_back,
    copies,
    emptying,
    index,
    removal,
    show,
    undoing,
)

__all__ = [
    "cards",
    "by_purpose",
    "bringing_back",
    "copies",
    "deck",
    "emptying",
    "handout",
    "index",
    "photo_place",
    "photo_removal",
    "pictures",
    "player",
    "removal",
    "show",
    "slide_new",
    "slide_photos",
    "slide_place",
    "slide_removal",
    "slide_show",
    "undoing",
]
