"""The pages of leaf analyses: entered from a report, refused in words, corrected."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from orchard.records.models import LeafTest
from tests.conftest import NOW

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
