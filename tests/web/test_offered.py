"""What a page offers somebody, somebody may: links and forms lead to no refusal."""

from __future__ import annotations

from collections import Counter
from html.parser import HTMLParser

import pytest
from django.test import Client
from django.urls import resolve, reverse

from tests.web.test_who_may import ALL, INSIDE, NO, things

__all__ = ["things"]

pytestmark = pytest.mark.on_sqlite

# Who may send a form to some thing of its sort: what is hidden offers none.
POSTED = {
    name: "".join(row.post for row in INSIDE if row.name == name)
    for name in {row.name for row in INSIDE}
}
# Whoever may see one sign of the guide, or one job of the plan, may see all, and a page
# whatever is asked of it.
ALIKE = {"sign", "job"}
MOST_ALIKE = 8


class Offers(HTMLParser):
    """Collect where the links of a page lead and where its forms go."""

    def __init__(self) -> None:
        super().__init__()
        self.links: set[str] = set()
        self.posts: set[str] = set()

    def handle_starttag(self, tag, attrs):
        given = dict(attrs)
        if tag == "a" and given.get("href"):
            self.links.add(given["href"].partition("#")[0])
        for action in (given.get("action"), given.get("formaction")):
            if action and given.get("method", "post").lower() == "post":
                self.posts.add(action.partition("?")[0])


def worth_following(link: str, followed: Counter[str]) -> bool:
    """Tell whether to follow a link: of pages alike in rights, of signs, only some."""
    path, _, question = link.partition("?")
    match = resolve(path)
    if not question and not ALIKE & set(match.kwargs):
        return True
    followed[match.url_name] += 1
    return followed[match.url_name] <= MOST_ALIKE


@pytest.mark.parametrize("letter", ALL)
def test_whatever_a_page_offers_its_reader_may_do(letter, things):
    client = Client()
    client.force_login(things.people[letter])
    refused, asked, followed, alike = {}, set(), 0, Counter()
    for row in INSIDE:
        if row.get == NO or letter not in row.get:
            continue
        address = reverse(row.name, args=["alderbrook", *row.args(things)])
        answer = client.get(address)
        if "text/html" not in answer.get("Content-Type", "") or answer.streaming:
            continue
        offers = Offers()
        offers.feed(answer.content.decode())
        for link in sorted(offers.links - asked):
            if link.startswith("/alderbrook/") and worth_following(link, alike):
                followed += 1
                if client.get(link).status_code == 403:
                    refused[link] = row.name
        asked |= offers.links
        for action in offers.posts:
            if action.startswith("/alderbrook/"):
                name = resolve(action).url_name
                if letter not in POSTED.get(name, ALL):
                    refused[f"POST {action}"] = row.name
    assert followed > 20
    assert refused == {}
