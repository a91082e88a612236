"""Stories: who writes them, how long they are, and that none is erased."""

from __future__ import annotations

import pytest

from orchard.records.models import Change
from orchard.services import permissions, trees, visitors
from orchard.services.errors import MayNot
from tests.conftest import NOW
from tests.refusals import refused

pytestmark = pytest.mark.django_db


def member(orchard, person):
    return permissions.member_for(person, orchard.slug)


def test_staff_write_the_story_of_a_tree_and_of_a_cultivar(orchard, tree, eddy, cora):
    assert visitors.write_story(
        tree,
        member=member(orchard, eddy),
        now=NOW,
        text=" Grew from a pip.\r\n\r\nYes ",
    )
    tree.refresh_from_db()
    assert tree.story == "Grew from a pip.\n\nYes"
    [line] = trees.history_of(tree)
    assert line.what == "Story for visitors written"
    assert visitors.write_story(
        tree.kind, member=member(orchard, cora), now=NOW, text="Seedless."
    )
    tree.kind.refresh_from_db()
    assert tree.kind.story == "Seedless."


def test_what_stood_there_stays_in_the_ledger(orchard, tree, eddy):
    for text in ("Old words", "New words", "New words"):
        visitors.write_story(tree, member=member(orchard, eddy), now=NOW, text=text)
    lines = Change.objects.filter(verb="describe", subject_type="tree").order_by("id")
    assert [(line.before, line.after) for line in lines] == [
        ({"story": ""}, {"story": "Old words"}),
        ({"story": "Old words"}, {"story": "New words"}),
    ]


def test_volunteers_and_leads_write_none(orchard, tree, vera, lee, olga):
    for person in (vera, lee, olga):
        with pytest.raises(MayNot):
            visitors.write_story(
                tree, member=member(orchard, person), now=NOW, text="Words"
            )


def test_a_story_is_short_enough_to_be_read_standing(orchard, tree, eddy):
    write = {"member": member(orchard, eddy), "now": NOW}
    assert visitors.write_story(tree, text="a" * visitors.MOST_LETTERS, **write)
    with refused("too_long"):
        visitors.write_story(tree, text="b" * (visitors.MOST_LETTERS + 1), **write)
