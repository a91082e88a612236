"""Second looks: asked when unsure, answered by other eyes, the original kept."""

from __future__ import annotations

import pytest

from orchard.records.models import Inspection, SecondLook
from orchard.services import access, inspections, second_looks
from orchard.services.inspections import Seen
from tests.conftest import NOW


@pytest.fixture
def look(tree, vera):
    inspections.record(
        tree,
        by=vera,
        now=NOW,
        seen_at=NOW,
        findings=[
            Seen("sucker", {"graft": "below", "woody": False}, sure=False),
            Seen("leafminer", {"pct": 5}),
        ],
        condition=3,
    )
    return SecondLook.objects.get()


def answer(look, by, said, **more):
    return second_looks.answer(look, by=by, now=NOW, answer=said, **more)


def test_an_unsure_finding_waits_in_the_queue(orchard, look):
    assert second_looks.waiting(orchard) == [look]
    assert look.finding.sign == "sucker"


def test_agreed_leaves_the_finding_as_it_is(orchard, look, lee):
    answer(look, lee, "agreed", note="Three leaflets")
    assert second_looks.waiting(orchard) == []
    assert Inspection.objects.count() == 1
    with pytest.raises(second_looks.AlreadyAnswered, match="Lee"):
        answer(look, lee, "nothing")


def test_another_sign_is_a_correction_by_who_looked(look, lee, vera):
    with pytest.raises(second_looks.NamesNoSign):
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
    assert second_looks.waiting(orchard) == []


def test_the_second_pair_of_eyes_is_another_and_a_practised_one(
    orchard, tree, look, vera, lee
):
    with pytest.raises(access.MayNot):
        answer(look, vera, "agreed")
    inspections.record(
        tree,
        by=lee,
        now=NOW,
        seen_at=NOW,
        findings=[Seen("aphids", {"pct": 5}, sure=False)],
    )
    own = SecondLook.objects.get(finding__sign="aphids")
    with pytest.raises(second_looks.OwnEyes):
        answer(own, lee, "agreed")


def test_a_refused_correction_leaves_the_look_waiting(orchard, look, lee):
    with pytest.raises(second_looks.Refused):
        answer(look, lee, "other", sign="leafminer", answers={"pct": 5})
    assert second_looks.waiting(orchard) == [look]


def test_what_was_withdrawn_needs_no_look_any_more(orchard, look, lee, vera):
    first = look.finding.inspection
    inspections.withdraw(first, by=vera, now=NOW, reason="Wrong tree")
    assert second_looks.waiting(orchard) == []
    with pytest.raises(second_looks.NoLongerStands):
        answer(look, lee, "agreed")
