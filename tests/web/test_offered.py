"""What a page offers somebody, somebody may: links and forms lead to no refusal."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from html.parser import HTMLParser

import pytest
from django.http import QueryDict
from django.test import Client
from django.urls import resolve, reverse

from tests.web.test_who_may import ALL, INSIDE, NO, things

__all__ = ["things"]

POSTED = {row.name: row.post for row in INSIDE}
MOST_OF_ONE_ADDRESS = 8


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


def fresh(links: set[str], followed: Counter[tuple[str, str]]) -> Iterator[str]:
    """List some links to each address of the project, not the hundredth sign too."""
    for link in sorted(links):
        address, _mark, question = link.partition("?")
        way = (resolve(address).url_name, "?".join(sorted(QueryDict(question))))
        followed[way] += 1
        if followed[way] <= MOST_OF_ONE_ADDRESS:
            yield link


@pytest.mark.parametrize("letter", ALL)
def test_whatever_a_page_offers_its_reader_may_do(letter, things):
    client = Client()
    client.force_login(things.people[letter])
    refused, asked, followed = {}, set(), Counter()
    for row in INSIDE:
        if row.get == NO or letter not in row.get:
            continue
        address = reverse(row.name, args=["alderbrook", *row.args(things)])
        answer = client.get(address)
        if "text/html" not in answer.get("Content-Type", "") or answer.streaming:
            continue
        offers = Offers()
        offers.feed(answer.content.decode())
        new = {link for link in offers.links if link.startswith("/alderbrook/")} - asked
        asked |= new
        for link in fresh(new, followed):
            if client.get(link).status_code == 403:
                refused[link] = row.name
        for action in offers.posts:
            if action.startswith("/alderbrook/"):
                name = resolve(action).url_name
                if letter not in POSTED.get(name, ALL):
                    refused[f"POST {action}"] = row.name
    assert len(followed) > 20
    assert refused == {}
