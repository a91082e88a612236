"""The links below a list in pages: on to the next page, and back.

A page with two lists calls the place in the second by a name of its own, and goes on
with either at the list (`at`).
"""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest

from orchard.services.paging import NumberedPage

AFTER, NUMBER = "after", "page"


def key_in(request: HttpRequest, *, name: str = AFTER) -> str:
    """Return the key that the page asked for begins after."""
    return request.GET.get(name, "")


def number_in(request: HttpRequest) -> int:
    """Return the number of the page asked for; what makes no sense is the first."""
    text = request.GET.get(NUMBER, "")
    return int(text) if text.isdecimal() and len(text) < 7 else 1


def links(
    request: HttpRequest, next_key: str, *, name: str = AFTER, at: str = ""
) -> dict[str, str]:
    """Return the addresses that `parts/_pager.html` shows; "" for a link left out.

    What the list is narrowed to goes along.
    """
    return {
        "earlier_url": _address(request, name, "", at)
        if key_in(request, name=name)
        else "",
        "later_url": _address(request, name, next_key, at) if next_key else "",
    }


def number_links(
    request: HttpRequest, page: NumberedPage[Any], *, at: str = ""
) -> dict[str, str]:
    """Return the same of a list that is paged by number."""
    number = page.number
    return {
        "earlier_url": _address(request, NUMBER, str(number - 1), at)
        if number > 1
        else "",
        "later_url": _address(request, NUMBER, str(number + 1), at)
        if number < page.pages
        else "",
    }


def _address(request: HttpRequest, name: str, place: str, at: str) -> str:
    """Return the address of this page with another place in one of its lists."""
    asked = request.GET.copy()
    asked.pop(name, None)
    if place:
        asked[name] = place
    query = f"?{asked.urlencode()}" if asked else ""
    return f"{request.path}{query}#{at}" if at else f"{request.path}{query}"
