"""The parts, the drawings and how small words are written."""

from __future__ import annotations

import gzip
import re
from datetime import UTC, date, datetime
from decimal import Decimal
from types import SimpleNamespace

import pytest
from django.conf import settings
from django.template import Context, Template
from django.template.loader import render_to_string
from django.test import RequestFactory
from django.utils import timezone

from orchard.web.pages.style_sheet import look
from orchard.web.templatetags.orchard import days_said

STATIC = settings.BASE_DIR / "static"
TODAY = date(2026, 5, 12)
US = SimpleNamespace(units="us")


def written(source: str, **context) -> str:
    template = Template("{% load orchard %}" + source)
    return template.render(Context({"today": TODAY, **context}))


def text_of(html: str) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", html)).strip()


@pytest.mark.parametrize(
    ("days", "due", "said"),
    [
        (3, True, "in 3 days"),
        (1, True, "tomorrow"),
        (0, True, "today"),
        (-1, True, "1 day late"),
        (-4, True, "4 days late"),
        (-1, False, "yesterday"),
        (-4, False, "4 days ago"),
        (-59, False, "59 days ago"),
        (-61, False, "2 months ago"),
        (-729, False, "24 months ago"),
        (-731, False, "2 years ago"),
    ],
)
def test_a_day_says_how_far_it_is(days, due, said):
    assert days_said(days, due=due) == said


def test_a_due_day_that_is_past_is_marked_late_and_a_past_event_is_not():
    day = date(2026, 5, 8)
    assert 'class="when late"' in written("{% due day %}", day=day)
    assert 'class="when"' in written("{% when day %}", day=day)
    assert text_of(written("{% due day %}", day=day)) == "4 days late Fri 8 May"


def test_a_day_of_another_year_says_its_year():
    assert text_of(written("{% when day %}", day=date(2024, 1, 2))).endswith(
        "2 Jan 2024"
    )


def test_a_moment_is_written_in_the_orchards_zone_with_its_clock():
    moment = datetime(2026, 5, 11, 23, 30, tzinfo=UTC)
    with timezone.override("Australia/Adelaide"):
        html = written("{% when moment %}", moment=moment)
    # Adelaide is 9 h 30 min ahead of UTC in May: the same moment is the next day there.
    assert text_of(html) == "today Tue 12 May 09:00"


def test_a_missing_day_is_said():
    assert text_of(written("{% due day %}", day=None)) == "no date"


@pytest.mark.parametrize(
    ("source", "context", "said"),
    [
        ('{% number v "L" %}', {"v": 12.5}, "12.5\u00a0L"),
        ('{% number v "L" %}', {"v": Decimal("12.0")}, "12\u00a0L"),
        ('{% number v "L" %}', {"v": 0}, "0\u00a0L"),
        ('{% number v "L" %}', {"v": None}, "not known"),
        ('{% number v "%" %}', {"v": 64}, "64\u00a0%"),
        ('{% number v "m" 2 %}', {"v": 1.005}, "1\u00a0m".replace("1", "1.00")),
        ('{% number v "°C" %}', {"v": 0, "orchard": US}, "32\u00a0°F"),
        ('{% number v "°C" difference=True %}', {"v": 5, "orchard": US}, "9\u00a0°F"),
        ('{% number v "kg" %}', {"v": 10, "orchard": US}, "22\u00a0lb"),
    ],
)
def test_a_number_keeps_its_unit_in_the_orchards_units(source, context, said):
    assert re.sub(r"<[^>]+>", "", written(source, **context)) == said


def test_a_person_is_you_or_a_name_or_has_left():
    vera = SimpleNamespace(name="Vera", is_active=True)
    lee = SimpleNamespace(name="Lee <b>", is_active=False)
    assert written("{% person vera %}", vera=vera, user=vera) == "you"
    assert written("{% person vera %}", vera=vera, user=lee) == "Vera"
    left = written("{% person who %}", who=SimpleNamespace(user=lee), user=vera)
    assert left == "Lee &lt;b&gt; (has left)"
    assert written("{% person nobody %}", nobody=None, user=vera) == "nobody"


@pytest.mark.parametrize(
    ("verdict", "word"),
    [("act", "Act"), ("watch", "Watch"), ("leave", "Leave"), ("report", "Report")],
)
def test_a_verdict_is_a_word_beside_a_mark_of_its_own(verdict, word):
    html = written("{% verdict_mark v %}", v=verdict)
    assert text_of(html) == word
    others = {"act", "watch", "leave", "report"} - {verdict}
    mark = re.search(r"<svg.*</svg>", html, re.S).group(0)
    for other in others:
        assert mark not in written("{% verdict_mark v %}", v=other)


def test_an_unknown_verdict_is_a_fault_and_none_is_nothing():
    assert written("{% verdict_mark v %}", v=None) == ""
    with pytest.raises(KeyError):
        written("{% verdict_mark v %}", v="perhaps")


def test_the_page_of_parts_shows_them_without_inline_code(db):
    request = RequestFactory().get("/look/")
    html = look(request).content.decode()
    assert len(re.findall(r"<h1\b", html)) == 1
    for part in (
        'class="entry whole"',
        'class="tile"',
        'class="condition"',
        'class="notice refused"',
        'class="empty"',
        'class="timeline"',
        'class="deeds at-hand"',
        "days late",
        "not known",
    ):
        assert part in html, part
    assert not re.search(r"\sstyle=|\son[a-z]+=|<style|<script>", html)


@pytest.mark.parametrize("page", ["404.html", "403.html", "500.html", "503.html"])
def test_an_error_page_needs_no_database_and_says_the_way_out(page):
    html = render_to_string(page)
    assert len(re.findall(r"<h1\b", html)) == 1
    assert 'href="/"' in html


def test_a_refusal_on_the_403_page_is_its_own_sentence():
    html = render_to_string("403.html", {"refusal": "Only a lead hands out rounds."})
    assert "Only a lead hands out rounds." in html


def test_the_styles_of_every_page_stay_small():
    main = (STATIC / "css" / "main.css").read_text()
    names = re.findall(r'@import "\./([^"]+)"', main)
    shared = [name for name in names if not name.startswith("pages/")]
    assert len(shared) > 8
    size = len(gzip.compress(main.encode()))
    size += sum(len(gzip.compress((STATIC / "css" / n).read_bytes())) for n in shared)
    assert size <= 9_000, size


def test_every_import_of_a_script_can_be_hashed():
    for path in (STATIC / "js").rglob("*.js"):
        for line in path.read_text().splitlines():
            if line.startswith("import "):
                assert re.search(r'from "\.{1,2}/[^"]+\.js";$', line), (path.name, line)
