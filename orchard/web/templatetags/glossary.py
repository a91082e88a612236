"""Words of the trade, explained where they stand: the first of each on a page."""

from __future__ import annotations

from typing import Any

from django import template
from django.utils.html import conditional_escape, format_html, format_html_join
from django.utils.safestring import SafeString

from orchard.science import guide
from orchard.science.units import in_text

register = template.Library()


@register.simple_tag(takes_context=True)
def glossed(context: Any, text: str) -> SafeString:
    """Write a text of the guide in the orchard's units, its words made to open.

    What they open is written by `parts/_glosses.html`, once, below all that is glossed.
    A part that joins a page later sets `gloss_scope`, so that its names are its own.
    """
    scope = context.get("gloss_scope", "")
    units = getattr(context.get("orchard"), "units", "") or "metric"
    explained = context["explained"]
    pieces = guide.told_apart(
        in_text(str(text), units), guide.load().terms.values(), explained
    )
    return format_html_join("", "{}", ((_shown(piece, scope),) for piece in pieces))


def _shown(piece: guide.Piece, scope: str) -> SafeString:
    if piece.term is None:
        return conditional_escape(piece.text)
    return format_html(
        '<button class="term" type="button" popovertarget="term-{}{}">{}</button>',
        piece.term.key,
        scope,
        piece.text,
    )


@register.simple_tag(takes_context=True)
def explained_terms(context: Any) -> list[guide.Term]:
    """Return the words that this page explains, by name."""
    explained = context.get("explained", ())
    terms = [guide.load().terms[key] for key in explained]
    return sorted(terms, key=lambda term: term.name)
