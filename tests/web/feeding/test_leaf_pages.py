"""The pages of leaf analyses: entered from a report, refused in words, corrected."""

from __future__ import annotations

import re

import pytest
from django.test import Client
from django.urls import reverse

from orchard.records.models import Kind, LeafTest
from tests.conftest import NOW
from tests.services.tasks.test_tasks import make_task

pytestmark = pytest.mark.django_db


def test_a_report_is_typed_in_shown_beside_each_set_and_corrected(tree, vera):
    client = Client()
    client.force_login(vera)
    listed = reverse("leaf-tests", args=["alderbrook"])
    assert "No leaf analysis yet" in client.get(listed).content.decode()
    new = reverse("leaf-test-new", args=["alderbrook"])
    typed = {
        "place": tree.code, "taken_on": NOW.date().isoformat(), "leaf_months": "5",
        "unit": "g_per_kg", "N": "24.5", "Zn": "0.0025", "sample": "Lab 7/12",
    }  # fmt: skip
    answer = client.post(new, typed)
    assert answer.status_code == 422
    text = answer.content.decode()
    assert "enter 25 mg/kg" in text
    # Nothing typed is lost.
    assert "Lab 7/12" in text
    assert 'value="24.5"' in text
    page = client.post(new, typed | {"Zn": "25"}, follow=True)
    text = page.content.decode()
    assert LeafTest.objects.get().contents == {"N": 2.45, "Zn": 25.0}
    assert "One set fits. Florida SL 253, 25–100: in range." in text
    assert tree.code in client.get(listed).content.decode()
    feeding = reverse("tree-feeding", args=["alderbrook", tree.code])
    assert page.redirect_chain[-1][0] in client.get(feeding).content.decode()
    history = reverse("tree-show", args=["alderbrook", tree.code])
    assert page.redirect_chain[-1][0] in client.get(history).content.decode()
    correct = page.redirect_chain[-1][0] + "correction/"
    mended = typed | {"unit": "percent", "N": "2.6", "Zn": "25", "reason": "misread"}
    page = client.post(correct, mended, follow=True)
    newest = LeafTest.objects.get(superseded_at=None)
    assert page.redirect_chain[-1][0].endswith(f"/{newest.pk}/")
    assert "Nitrogen 2.6" in page.content.decode()


def test_the_open_task_is_closed_with_the_report_if_that_is_ticked(tree, vera):
    client = Client()
    client.force_login(vera)
    new = reverse("leaf-test-new", args=["alderbrook"])
    assert "closes_task" not in client.get(new).content.decode()
    task = make_task(tree, key="leaf_test", opens_on=NOW.date(), due_on=NOW.date())
    assert "Close the open task" in client.get(new).content.decode()
    typed = {
        "place": tree.code, "taken_on": NOW.date().isoformat(), "leaf_months": "5",
        "unit": "percent", "N": "2.4", "closes_task": "on",
    }  # fmt: skip
    shown = client.post(new, typed, follow=True).content.decode()
    assert "Leaf analysis recorded. 1 task closed." in shown
    task.refresh_from_db()
    assert task.closed_at is not None


def test_our_set_is_marked_first_and_says_what_it_says(tree, vera, cora):
    Kind.objects.update(group="Navel oranges")
    client = Client()
    client.force_login(cora)
    new = reverse("leaf-test-new", args=["alderbrook"])
    typed = {
        "place": tree.code, "taken_on": NOW.date().isoformat(), "leaf_months": "5",
        "unit": "percent", "K": "0.9",
    }  # fmt: skip
    shown = client.post(new, typed).url
    assert "No set is chosen as ours" in client.get(shown).content.decode()
    choice = reverse("leaf-set", args=["alderbrook"])
    assert client.post(choice, {"leaf_set": "of my own"}).status_code == 422
    client.post(choice, {"leaf_set": "israel_orange"})
    text = client.get(shown).content.decode()
    rows = re.findall(r'<th scope="row">(.*?)</th>', text, re.DOTALL)
    # Of sets that disagree, ours stands first and is named as such.
    assert "Israel" in rows[0]
    assert [("our set" in row) for row in rows] == [True, False, False]
    assert "Sets disagree: watch, and test again." in text
    assert "Our set: in range." in text
    assert "Cora" in text
