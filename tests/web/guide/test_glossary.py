"""Words of the trade on pages of the guide: each opens what it means, once."""

from __future__ import annotations

import re
from html.parser import HTMLParser

import pytest
from django.template import Context, Template

from orchard.records.models import CarePlan
from orchard.science import guide
from tests.conftest import NOW
from tests.web.test_who_may import make_task

pytestmark = pytest.mark.django_db


class Popovers(HTMLParser):
    """What opens and what is opened on a page."""

    def __init__(self, page):
        super().__init__()
        self.openers, self.opened, self.ids = [], [], []
        self.feed(page)

    def handle_starttag(self, tag, attrs):
        attrs = dict(attrs)
        if attrs.get("class") == "term":
            assert (tag, attrs["type"]) == ("button", "button")
            self.openers.append(attrs["popovertarget"])
        if "popover" in attrs:
            self.opened.append(attrs["id"])
        if "id" in attrs:
            self.ids.append(attrs["id"])


@pytest.mark.parametrize("sign", sorted(guide.load().signs))
def test_each_word_of_a_sign_opens_once_and_every_name_is_there_once(as_vera, sign):
    page = as_vera.get(f"/alderbrook/guide/{sign}/").content.decode()
    seen = Popovers(page)
    assert sorted(seen.openers) == sorted(seen.opened)
    assert len(set(seen.openers)) == len(seen.openers)
    assert len(set(seen.ids)) == len(seen.ids)


def test_a_sign_tells_its_words_with_their_meaning(as_vera):
    page = as_vera.get("/alderbrook/guide/aphids/").content.decode()
    assert re.search(r'popovertarget="term-honeydew">honeydew</button>', page)
    honeydew = guide.load().terms["honeydew"]
    assert page.count(honeydew.means) == 1


def test_a_page_without_such_words_has_nothing_to_open(as_vera, orchard):
    seen = Popovers(as_vera.get("/alderbrook/details/").content.decode())
    assert (seen.openers, seen.opened) == ([], [])


def test_a_task_tells_the_words_of_its_steps(as_vera, orchard, tree):
    task = make_task(orchard, tree, 1, because="Honeydew & soot within 30 cm of it.")
    page = as_vera.get(f"/alderbrook/tasks/{task.pk}/").content.decode()
    assert Popovers(page).openers[0] == "term-honeydew"
    assert "</button> &amp; soot within 30" in page


def test_a_job_tells_the_words_of_its_reason(as_vera, orchard):
    terms = guide.load().terms.values()
    for job in guide.load().jobs.values():
        if any(piece.term for piece in guide.told_apart(job.why, terms, set())):
            CarePlan.objects.create(orchard=orchard, job=job.key, set_at=NOW)
            page = as_vera.get(f"/alderbrook/care/{job.key}/").content.decode()
            assert Popovers(page).openers, job.key
            break
    else:
        pytest.fail("no job's reason holds a word of the trade")


def test_a_card_that_joins_the_form_names_its_words_after_its_sign(as_vera, tree):
    url = "/alderbrook/trees/A-1/inspections/signs/aphids/"
    seen = Popovers(as_vera.get(url).content.decode())
    assert "term-honeydew-aphids" in seen.openers
    assert sorted(seen.openers) == sorted(seen.opened)


def test_measures_inside_a_told_text_are_the_orchards_own():
    text = "{% load glossary %}{% glossed text %}"
    context = {"text": "Skirt <30 cm", "orchard": type("O", (), {"units": "us"})}
    told = Template(text).render(Context({**context, "explained": set()}))
    assert re.fullmatch(r'<button [^>]*skirt">Skirt</button> &lt;12\sin', told)


def test_all_words_stand_on_one_page_with_what_was_read(as_vera, orchard):
    page = as_vera.get("/alderbrook/guide/words/").content.decode()
    ids = Popovers(page).ids
    for term in guide.load().terms.values():
        assert f"term-{term.key}" in ids
        assert term.means in page
    assert "Citrus Propagation" in page
    assert "No published source was found" not in page


def test_the_guide_leads_to_its_words(as_vera, orchard):
    page = as_vera.get("/alderbrook/guide/").content.decode()
    assert 'href="/alderbrook/guide/words/"' in page
