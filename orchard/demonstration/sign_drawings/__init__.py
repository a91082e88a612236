"""Drawings of ours for every sign, and for words of the trade that need one."""

from __future__ import annotations

from html import escape

from orchard.demonstration.sign_drawings import (
    fruit,
    insects,
    leaf_colours,
    other_fruit,
    reported,
    skin_marks,
    wood,
    words,
)
from orchard.demonstration.sign_drawings.sheet import svg_text, word_text
from orchard.science import guide

__all__ = ["sign_files", "word_files"]

GROUPS = (reported, leaf_colours, fruit, skin_marks, insects, wood, other_fruit)


def sign_files() -> dict[str, str]:
    """Return the text of each sign's drawing by the name of its file, without ending.

    A drawing is the function that bears the sign's key; its title is the sign's name.
    """
    signs = guide.load().signs
    return {
        draw.__name__: svg_text(escape(signs[draw.__name__].name), draw())
        for group in GROUPS
        for draw in group.SIGNS
        if draw.__name__ in signs
    }


def word_files() -> dict[str, str]:
    """Return the text of each word's drawing by the name of its file, likewise."""
    terms = guide.load().terms
    return {
        draw.__name__: word_text(escape(terms[draw.__name__].name), draw())
        for draw in words.WORDS
    }
