"""Second looks: asked when unsure, answered by other eyes, the original kept."""

from __future__ import annotations

import pytest

from orchard.records.models import Inspection, SecondLook
from orchard.services import errors, inspections
from orchard.services.errors import MayNot
from orchard.services.inspections import SeenSign
from tests.conftest import NOW
from tests.refusals import refused


@pytest.fixture
def look(tree, vera):
    inspections.record(
        tree,
        by=vera,
        now=NOW,
        seen_at=NOW,
        findings=[
            SeenSign("sucker", {"graft": "below", "woody": False}, sure=False),
            SeenSign("leafminer", {"pct": 5}),
        ],
        condition=3,
    )
    return SecondLook.objects.get()


def answer(look, by, said, **more):
    return inspections.answer_second_look(look, by=by, now=NOW, answer=said, **more)


def test_an_unsure_finding_waits_in_the_queue(orchard, look):
    assert list(inspections.open_second_looks(orchard)) == [look]
    assert look.finding.sign == "sucker"


def test_agreed_leaves_the_finding_as_it_is(orchard, look, lee):
    answer(look, lee, "agreed", note="Three leaflets")
    assert list(inspections.open_second_looks(orchard)) == []
    assert Inspection.objects.count() == 1
    with refused("already_answered", match="Lee"):
        answer(look, lee, "nothing")


def test_another_sign_is_a_correction_by_who_looked(look, lee, vera):
    with refused("names_no_sign"):
        answer(look, lee, "other")
    answer(look, lee, "other", sign="water_sprout", answers={"count": 3})
    new = Inspection.objects.current().get()
    assert (new.by, new.corrects.by) == (lee, vera)
    assert {finding.sign for finding in new.findings.all()} == {
        "water_sprout",
        "leafminer",
    }
    assert look.finding.inspection.findings.count() == 2
    assert new.condition == 3


def test_nothing_there_takes_only_that_finding_out(look, lee):
    answer(look, lee, "nothing", note="A leaf scar")
    new = Inspection.objects.current().get()
    assert [finding.sign for finding in new.findings.all()] == ["leafminer"]
    assert "A leaf scar" in new.correction_reason


def test_unsettled_is_an_answer_too(orchard, look, lee):
    answer(look, lee, "unsettled", note="Send a photo to the laboratory")
    assert Inspection.objects.count() == 1
    assert list(inspections.open_second_looks(orchard)) == []


def test_the_second_pair_of_eyes_is_another_and_a_practised_one(
    orchard, tree, look, vera, lee
):
    with pytest.raises(MayNot):
        answer(look, vera, "agreed")
    inspections.record(
        tree,
        by=lee,
        now=NOW,
        seen_at=NOW,
        findings=[SeenSign("aphids", {"pct": 5}, sure=False)],
    )
    own = SecondLook.objects.get(finding__sign="aphids")
    with refused("own_finding"):
        answer(own, lee, "agreed")


def test_a_refused_correction_leaves_the_look_waiting(orchard, look, lee):
    with pytest.raises(errors.Refused):
        answer(look, lee, "other", sign="leafminer", answers={"pct": 5})
    assert list(inspections.open_second_looks(orchard)) == [look]


def test_what_was_withdrawn_needs_no_look_any_more(orchard, look, lee, vera):
    first = look.finding.inspection
    inspections.withdraw(first, by=vera, now=NOW, reason="Wrong tree")
    assert list(inspections.open_second_looks(orchard)) == []
    with refused("not_current"):
        answer(look, lee, "agreed")
