"""Happenings and growth stages are noted, corrected, withdrawn; refusals beside."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from orchard.records.models import Change, Happening, StageNote
from orchard.services import observations
from tests.conftest import NOW, TODAY
from tests.refusals import refused

pytestmark = pytest.mark.django_db


def frost(orchard, vera, **fields):
    values = {"what": "frost_night", "happened_on": date(2026, 1, 9), **fields}
    return observations.note_event(orchard, by=vera, now=NOW, **values)


def test_a_frost_night_is_noted_for_the_whole_orchard(orchard, vera):
    row = frost(orchard, vera, note="-2 at the low end")
    assert (row.tree, row.note) == (None, "-2 at the low end")
    assert Change.objects.get(verb="note").after["what"] == "frost_night"


def test_what_happens_to_one_tree_is_noted_on_it(orchard, tree, vera):
    with refused("only_of_a_tree"):
        frost(orchard, vera, what="potted")
    assert frost(orchard, vera, what="potted", tree=tree).tree == tree


def test_something_else_says_what(orchard, tree, vera):
    with refused("note_missing"):
        frost(orchard, vera, what="other", tree=tree)
    assert frost(orchard, vera, what="other", tree=tree, note="Gate left open").pk


def test_no_day_to_come_and_none_before_planting(orchard, tree, vera):
    with refused("wrong_day", match="in the future"):
        frost(orchard, vera, happened_on=TODAY + timedelta(days=1))
    with refused("wrong_day", match="only planted on 20 Mar 2016"):
        frost(orchard, vera, tree=tree, happened_on=date(2016, 3, 19))
    assert frost(orchard, vera, tree=tree, happened_on=date(2016, 3, 20)).pk
    assert frost(orchard, vera, happened_on=TODAY).pk


def test_a_removed_tree_takes_no_later_notes(orchard, tree, vera):
    tree.state, tree.removed_on, tree.removal_reason = "removed", TODAY, "Wind"
    tree.save()
    assert frost(orchard, vera, tree=tree, what="bark_bared", happened_on=TODAY).pk
    tree.removed_on = TODAY - timedelta(days=1)
    tree.save()
    with refused("wrong_day", match="was removed"):
        frost(orchard, vera, tree=tree, what="bark_bared", happened_on=TODAY)


def test_a_correction_keeps_what_it_corrects(orchard, vera, lee):
    old = frost(orchard, vera)
    with refused("reason_missing"):
        observations.correct_event(old, by=lee, now=NOW, reason=" ", note="x")
    new = observations.correct_event(
        old, by=lee, now=NOW, reason="Wrong night", happened_on=date(2026, 1, 10)
    )
    assert list(Happening.objects.current()) == [new]
    old.refresh_from_db()
    assert (new.corrects, old.superseded_at) == (old, NOW)
    assert new.correction_reason == "Wrong night"
    with refused("not_current"):
        observations.correct_event(old, by=lee, now=NOW, reason="Again")


def test_a_withdrawn_note_stands_no_longer_but_stays(orchard, vera, lee):
    row = frost(orchard, vera)
    with refused("reason_missing"):
        observations.withdraw_event(row, by=lee, now=NOW, reason="")
    observations.withdraw_event(row, by=lee, now=NOW, reason="It was dew")
    assert not Happening.objects.current().exists()
    assert Happening.objects.get().withdrawn_by == lee
    with refused("not_current"):
        observations.withdraw_event(row, by=lee, now=NOW, reason="Again")


def test_a_growth_stage_is_noted_on_a_tree_or_a_group(orchard, tree, vera):
    def stage(**fields):
        values = {"bbch": 65, "seen_on": TODAY, **fields}
        return observations.note_stage(orchard, by=vera, now=NOW, **values)

    assert (stage(tree=tree).tree, stage(group="navel").group) == (tree, "navel")
    with refused("no_such_stage", match="Say which trees"):
        stage()
    with refused("no_such_stage", match="97"):
        stage(tree=tree, bbch=97)
    with refused("wrong_day"):
        stage(tree=tree, seen_on=TODAY + timedelta(days=1))


def test_a_growth_stage_is_corrected_and_withdrawn_with_reasons(
    orchard, tree, vera, lee
):
    old = observations.note_stage(
        orchard, tree=tree, bbch=60, seen_on=TODAY, by=vera, now=NOW
    )
    new = observations.correct_stage(old, by=lee, now=NOW, reason="Half open", bbch=65)
    assert list(StageNote.objects.current()) == [new]
    observations.withdraw_stage(new, by=lee, now=NOW, reason="Wrong tree")
    assert not StageNote.objects.current().exists()
    assert StageNote.objects.count() == 2


def test_notes_of_others_are_changed_by_those_who_lead(orchard, vera, eddy, lee):
    row = frost(orchard, vera)
    with refused("not_yours"):
        observations.correct_event(row, by=eddy, now=NOW, reason="Colder", note="-3")
    with refused("not_yours"):
        observations.withdraw_event(row, by=eddy, now=NOW, reason="No")
    row = observations.correct_event(row, by=vera, now=NOW, reason="Colder", note="-3")
    assert (
        observations.withdraw_event(row, by=lee, now=NOW, reason="Dew").withdrawn_by
        == lee
    )
