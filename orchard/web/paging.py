"""The links below a list in pages: on to the next page, and back to the first."""

from __future__ import annotations

from django.http import HttpRequest

AFTER = "after"


def key_in(request: HttpRequest) -> str:
    """Return the key that the page asked for begins after."""
    return request.GET.get(AFTER, "")


def links(request: HttpRequest, next_key: str) -> dict[str, str]:
    """Return the addresses that `parts/_pager.html` shows; "" for a link left out.

    What the list is narrowed to goes along.
    """
    asked = request.GET.copy()
    asked.pop(AFTER, None)
    first = f"{request.path}?{asked.urlencode()}" if asked else request.path
    asked[AFTER] = next_key
    return {
        "earlier_url": first if key_in(request) else "",
        "later_url": f"{request.path}?{asked.urlencode()}" if next_key else "",
    }
