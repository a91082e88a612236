"""The drawing of a tag's address as a square of dots that phones read."""

from __future__ import annotations

import segno
from django.conf import settings
from django.urls import reverse
from django.utils.safestring import SafeString, mark_safe


def address_of(token: str) -> str:
    """Return the whole address that a tag's square holds."""
    return settings.SITE_URL + reverse("tag", args=[token])


def drawn(token: str) -> SafeString:
    """Return a tag's square as SVG with its quiet border, black on white."""
    # Level Q still reads with a quarter of it scratched or faded (ISO/IEC 18004,
    # from memory): a tag hangs in the sun for years.
    code = segno.make(address_of(token), error="q", micro=False, boost_error=False)
    drawing = code.svg_inline(
        border=4,
        omitsize=True,
        dark="#000",
        light="#fff",
        svgclass="qr",
        lineclass=None,
    )
    # Only our own address goes in, and segno writes no script and no style.
    return mark_safe(drawing)  # noqa: S308
