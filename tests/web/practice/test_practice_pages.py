"""The pages of the practice, as somebody without a script walks through them."""

from __future__ import annotations

import re

import pytest
from django.urls import reverse
from django.utils import timezone

from orchard.records.models import PracticeAnswer
from orchard.science import guide

pytestmark = pytest.mark.django_db
HOME = "/alderbrook/practice/"


def hidden(html):
    return dict(re.findall(r'type="hidden" name="(\w+)" value="([^"]*)"', html))


def test_a_question_is_answered_and_the_guide_says_what_it_was(as_vera, tree, vera):
    html = as_vera.get(HOME).content.decode()
    sent = hidden(html)
    sign = guide.load().signs[sent["sign"]]
    assert html.count('name="taken_for"') == 5
    assert f'value="{sign.key}">{sign.name}' in html
    right = as_vera.post(HOME, sent | {"taken_for": sign.key}, follow=True)
    html = right.content.decode()
    assert f"Right: {sign.name}" in html
    assert "How to tell" in html
    assert "What it calls for" in html
    assert PracticeAnswer.objects.get().by == vera


def test_a_miss_shows_both_and_the_one_difference(as_vera, tree):
    sent = hidden(as_vera.get(HOME).content.decode())
    alike = next(row for row in guide.load().signs["sucker"].alike if row.sign)
    sent |= {"sign": "sucker", "taken_for": alike.sign}
    html = as_vera.post(HOME, sent, follow=True).content.decode()
    assert "You said: " in html
    assert "The difference" in html
    assert html.count("<figure") == 2


def test_i_dont_know_is_an_answer(as_vera, tree):
    sent = hidden(as_vera.get(HOME).content.decode())
    html = as_vera.post(HOME, sent | {"taken_for": ""}, follow=True).content.decode()
    assert "It is asked again tomorrow." in html
    assert "You said" not in html


def test_what_cannot_be_read_asks_anew(as_vera, tree):
    assert as_vera.post(HOME, {"sign": "sucker"}).status_code == 422
    sent = hidden(as_vera.get(HOME).content.decode()) | {"sign": "no_such"}
    response = as_vera.post(HOME, sent)
    assert response.status_code == 422
    assert "Ask for the next question." in response.content.decode()


def test_the_page_for_no_signal_says_that_its_answers_count(as_vera, tree):
    html = as_vera.get("/alderbrook/guide/practice/").content.decode()
    assert "counts in your practice once a day" in html
    assert html.count('class="card"') == 24
    # Each is asked easily, and harder by its look-alikes, named by the one difference.
    assert html.count('data-level="drawing"') == html.count('data-level="alike"') == 24
    assert html.count('data-level="alike" hidden') == 24
    assert "Not Water sprout:" in html
    guide_page = as_vera.get("/alderbrook/guide/").content.decode()
    # With the links of the guide it is kept on phones.
    assert 'href="/alderbrook/guide/practice/"' in guide_page


def test_the_coordinator_reads_sums_and_no_names(
    as_cora, orchard, tree, vera, lee, eddy
):
    address = reverse("mix-ups", args=["alderbrook"])
    assert (
        "Nothing that three people mixed up." in as_cora.get(address).content.decode()
    )
    for person in (vera, lee, eddy):
        PracticeAnswer.objects.create(
            orchard=orchard, by=person, sign="sucker", taken_for="water_sprout",
            level="drawing", answered_at=timezone.now(),
        )  # fmt: skip
    html = as_cora.get(address).content.decode()
    assert "was taken for" in html
    assert "3 times." in html
    for name in ("Vera", "Lee", "Eddy"):
        assert name not in html
