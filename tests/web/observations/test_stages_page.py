"""The growth stage log: per tree and per cultivar group, noted, filtered, paged."""

from __future__ import annotations

import html as markup
from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from orchard.records.models import Kind, StageNote
from orchard.services import observations
from tests.conftest import NOW, TODAY, make_tree


@pytest.fixture
def address(orchard):
    return reverse("stages", args=[orchard.slug])


@pytest.fixture
def lemon(orchard):
    kind = Kind.objects.create(orchard=orchard, name="Eureka lemon", group="lemon")
    return make_tree(orchard, "A-2", kind=kind)


def page_of(response) -> str:
    return " ".join(markup.unescape(response.content.decode()).split())


def note(orchard, vera, bbch=65, ago=0, **whose):
    seen_on = TODAY - timedelta(days=ago)
    return observations.note_stage(
        orchard, by=vera, now=NOW, bbch=bbch, seen_on=seen_on, **whose
    )


def test_a_stage_of_a_group_is_noted_and_stands(as_vera, orchard, tree, lemon, address):
    said = {
        "group": "lemon",
        "bbch": "65",
        "seen_on": timezone.localdate().isoformat(),
    }
    done = as_vera.post(address, said, follow=True)
    assert "Growth stage recorded." in page_of(done)
    row = StageNote.objects.get()
    assert (row.group, row.tree, row.bbch) == ("lemon", None, 65)
    assert "Latest stage of each group" in page_of(done)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"group": "moon"}, "not one of the available choices"),
        ({"bbch": "66"}, "not one of the available choices"),
        ({"seen_on": "2999-01-01"}, "in the future"),
        ({"seen_on": ""}, "Give the day"),
    ],
)
def test_a_note_that_cannot_be_is_refused(as_vera, tree, address, change, said):
    right = {"group": "navel", "bbch": "65", "seen_on": TODAY.isoformat()}
    answer = as_vera.post(address, {**right, **change})
    assert answer.status_code == 422
    assert said in page_of(answer)
    assert not StageNote.objects.exists()


def test_only_hands_note_a_stage(client, olga, tree, address):
    client.force_login(olga)
    assert client.get(address).status_code == 200
    assert client.post(address, {"group": "navel"}).status_code == 403


def test_a_group_shows_its_own_notes_and_those_of_its_trees(
    as_vera, orchard, vera, tree, lemon, address
):
    note(orchard, vera, 10, tree=tree)
    note(orchard, vera, 65, ago=9, group="navel")
    note(orchard, vera, 60, group="lemon")
    shown = observations.growth_stage_log(orchard, group="navel")
    assert [line.whose for line in shown.lines] == ["A-1", "navel"]
    assert {line.whose for line in observations.growth_stage_log(orchard).standing} == {
        "navel",
        "lemon",
    }
    assert "The log of navel" in page_of(as_vera.get(address, {"group": "navel"}))


def test_withdrawn_notes_do_not_stand(orchard, vera, tree):
    row = note(orchard, vera, group="navel")
    observations.withdraw_stage(row, by=vera, now=NOW, reason="Another tree")
    assert observations.growth_stage_log(orchard).lines == ()
    assert observations.growth_stage_log(orchard).standing == ()


def test_a_long_log_is_paged_by_key(as_vera, orchard, vera, tree, address):
    for ago in range(60):
        note(orchard, vera, 65, ago=ago // 2, group="navel")
    first = observations.growth_stage_log(orchard)
    second = observations.growth_stage_log(orchard, after=first.next_key)
    assert (len(first.lines), len(second.lines)) == (50, 10)
    numbers = [line.note.pk for line in (*first.lines, *second.lines)]
    assert len(set(numbers)) == 60
    assert "More" in page_of(as_vera.get(address))
    assert as_vera.get(address, {"before": "nonsense"}).status_code == 200


def test_an_empty_log_says_how_it_fills(as_vera, orchard, address):
    assert "No growth stage recorded yet." in page_of(as_vera.get(address))
