"""What a tag tells: only what the plan does, what is seen, and nothing suspected.

No published figures here; when a cultivar is ripe is the guide's, tested with it.
"""

from __future__ import annotations

from datetime import timedelta

import pytest

from orchard.records.models import (
    CarePlan,
    Finding,
    HouseRule,
    PestStatus,
    Task,
)
from orchard.science import guide
from orchard.science.words import Verdict
from orchard.services import guide_sync, inspections, tasks, trees, visitors
from orchard.services.inspections import SeenSign
from tests.conftest import NOW, TODAY, make_tree

pytestmark = pytest.mark.django_db


@pytest.fixture
def face(tree):
    def shown(of=tree, now=NOW):
        tag = visitors.tag_for(trees.tag_of(of, now=NOW).token)
        return visitors.public_face(tag, now=now)

    return shown


@pytest.fixture
def planned(orchard):
    guide_sync.bring_up_to_date(orchard, NOW)
    return orchard


def look(tree, by, *seen, now=NOW, **details):
    return inspections.record(
        tree, by=by, now=now, seen_at=now, findings=list(seen), **details
    )


def all_common(orchard, by):
    """Confirm every pest as common here."""
    for code in guide.load().pests:
        PestStatus.objects.update_or_create(
            orchard=orchard, code=code,
            defaults={"status": "common", "set_by": by, "set_at": NOW},
        )  # fmt: skip


# what is promised


def test_nothing_is_promised_that_the_plan_does_not_have(face, planned):
    promised = {promise.text for promise in face().promises}
    job = guide.load().jobs["sucker_round"]
    assert job.for_visitors in promised
    CarePlan.objects.filter(job="sucker_round").update(active=False)
    assert job.for_visitors not in {promise.text for promise in face().promises}


def test_nor_what_the_plan_has_for_other_trees(face, planned):
    book = guide.load().jobs
    potted = make_tree(planned, "A-2", setting="container")
    ground = {promise.text for promise in face().promises}
    pot = {promise.text for promise in face(potted).promises}
    assert book["water_pot"].for_visitors in pot - ground
    assert book["weed_ring"].for_visitors in ground - pot


def test_without_a_plan_nothing_is_promised(face):
    assert face().promises == ()
    assert not face().is_covered


def test_every_promise_is_of_work_at_the_tree_or_its_block():
    jobs = [job for job in guide.load().jobs.values() if job.for_visitors]
    assert len(jobs) > 20
    assert {job.scope.value for job in jobs} == {"tree", "block"}
    assert all(len(job.for_visitors) <= 120 for job in jobs)


# what is going on


def test_a_finding_is_told_in_the_words_of_the_guide(face, tree, vera, cora, orchard):
    all_common(orchard, cora)
    [found] = look(tree, vera, SeenSign("aphids", {"pct": 60})).findings
    [told] = face().findings
    sign = guide.load().signs["aphids"]
    assert (told.name, told.why, told.seen_on) == (sign.name, sign.why, TODAY)
    assert told.verdict == found.verdict
    assert told.because in {rule.because for rule in sign.rules}


def test_what_was_done_is_told_as_done_and_stands_no_more(
    face, tree, vera, cora, orchard
):
    all_common(orchard, cora)
    look(tree, vera, SeenSign("sucker", {"graft": "below", "woody": False}))
    [told] = face().findings
    assert told.verdict is Verdict.ACT
    task = Task.objects.open().get(kind="act", key="sucker")
    tasks.close(task, by=vera, now=NOW, today=TODAY, evidence="Torn off by Vera")
    Task.objects.open().filter(key="sucker").update(closed_at=NOW)
    shown = face()
    assert shown.findings == ()
    assert [(row.what, row.done_on) for row in shown.done] == [(told.name, TODAY)]
    later = face(now=NOW + timedelta(days=91))
    assert later.done == ()


def test_what_may_be_a_regulated_pest_is_never_told(face, tree, vera, orchard):
    """Not even where the guide itself says to leave it, and no case is open."""
    shown = visitors.findings.signs_for_all(orchard, TODAY)
    book = guide.load().signs
    for key, sign in book.items():
        if any(rule.verdict is Verdict.REPORT for rule in sign.rules) or sign.eppo:
            assert key not in shown
    assert "sucker" in shown


def test_nor_a_sign_that_a_house_rule_reports(tree, cora, orchard, face, vera):
    look(tree, vera, SeenSign("sucker", {"graft": "below", "woody": False}))
    assert len(face().findings) == 1
    HouseRule.objects.create(
        orchard=orchard, sign="sucker", reason="Asked for by the authority",
        rules=[{"if": {}, "verdict": "report", "due": 0, "recheck": 7,
                "because": "The authority wants to know."}],
        starts_on=TODAY, author=cora, written_at=NOW,
    )  # fmt: skip
    assert face().findings == ()


def test_what_nobody_has_confirmed_is_not_told(face, tree, vera):
    look(tree, vera, SeenSign("sucker", {"graft": "below", "woody": False}, sure=False))
    assert Finding.objects.get().second_look.answer == ""
    assert face().findings == ()


def test_work_that_a_person_worded_is_not_told(face, tree, lee, orchard):
    task = Task.objects.create(
        orchard=orchard, tree=tree, kind="care", rank=2, key="psyllid_watch",
        occurrence="1", title="Look for the psyllid", opens_on=TODAY, due_on=TODAY,
        rhythm_days=30, made_at=NOW,
    )  # fmt: skip
    tasks.close(task, by=lee, now=NOW, today=TODAY, evidence="Looked")
    assert face().done == ()


# how ripe


def test_the_season_is_told_and_a_picked_tree_says_so(face, tree):
    """Washington navels of the north are ripe from November to February."""
    shown = face().ripening
    assert (shown.state, shown.first.month) == ("later", 11)
    winter = NOW.replace(month=12)
    assert face(now=winter).ripening.state == "season"


def test_a_tree_that_is_gone_has_only_its_story(tree, cora, planned):
    tree.story = "Grew from a pip."
    tree.save()
    tag = trees.tag_of(tree, now=NOW)
    trees.remove(tree, by=cora, now=NOW, today=TODAY, on=TODAY, reason="canker")
    shown = visitors.public_face(visitors.tag_for(tag.token), now=NOW)
    assert shown.story == "Grew from a pip."
    assert (shown.promises, shown.findings, shown.done, shown.ripening) == (
        (), (), (), None,
    )  # fmt: skip
