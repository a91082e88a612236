"""How a number of the outlook is written: the figure, and how it came about."""

from __future__ import annotations

from typing import Any

from django import template
from django.urls import reverse

from orchard.services.explained import Number
from orchard.web import explain

register = template.Library()


@register.inclusion_tag("parts/_number.html", takes_context=True)
def explained(context: Any, number: Number, heading: str = "") -> dict[str, Any]:
    """Write a number with its inputs, method and source one tap away."""
    orchard = context["orchard"]
    anchor = explain.anchor_of(number.law) if number.law else ""
    page = reverse("computed", args=[orchard.slug])
    return {
        "number": number,
        "heading": heading or number.what,
        "law_url": f"{page}?open={anchor}#{anchor}" if anchor else "",
        "orchard": orchard,
    }
