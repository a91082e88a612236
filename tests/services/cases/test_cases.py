"""Cases: opened by a suspicion, one for a tree and sign, ended by an answer."""

from __future__ import annotations

import pytest

from orchard.records.models import Case, Change, Task
from orchard.science.words import HoldKind
from orchard.services import cases, holds, inspections
from orchard.services.errors import MayNot
from orchard.services.inspections import SeenSign
from tests.conftest import NOW, TODAY, make_tree
from tests.refusals import refused


def suspect(tree, by):
    seen = [SeenSign("psyllid_nymph", {"count": 1})]
    return inspections.record(tree, by=by, now=NOW, seen_at=NOW, findings=seen)


def test_one_case_for_a_tree_and_sign(tree, vera, lee):
    [first] = suspect(tree, vera).cases
    [second] = suspect(tree, lee).cases
    assert first == second
    assert Case.objects.count() == 1
    assert Task.objects.filter(kind="report", key="psyllid_nymph").count() == 1


def test_nothing_leaves_the_tree_while_the_case_is_open(orchard, tree, vera, cora):
    other = make_tree(orchard, "A-2")
    [case] = suspect(tree, vera).cases
    found = holds.holds_of(orchard, today=TODAY)
    assert {pk: [one.kind for one in of_tree] for pk, of_tree in found.items()} == {
        tree.pk: [HoldKind.OPEN_CASE]
    }
    assert holds.holds_of(orchard, [other.pk], today=TODAY) == {}
    cases.close(case, by=cora, now=NOW, outcome="Not found by the laboratory")
    assert holds.holds_of(orchard, today=TODAY) == {}


def test_the_coordinator_closes_it_with_an_answer(tree, vera, lee, cora):
    [case] = suspect(tree, vera).cases
    with pytest.raises(MayNot):
        cases.close(case, by=lee, now=NOW, outcome="Not found")
    with refused("outcome_missing"):
        cases.close(case, by=cora, now=NOW, outcome="  ")
    closed = cases.close(case, by=cora, now=NOW, outcome="Not found")
    assert (closed.closed_by, closed.outcome) == (cora, "Not found")
    assert not tree.tasks.open().exists()
    look = tree.tasks.get(kind="look", key="psyllid_nymph")
    assert look.private
    closure = look.closures.get()
    assert (closure.how, closure.by) == ("cancelled", cora)
    assert closure.reason == f"Case {case.pk} closed: Not found"
    with refused("already_closed"):
        cases.close(case, by=cora, now=NOW, outcome="Found")


def test_every_line_of_the_ledger_about_a_case_is_private(tree, vera, cora):
    [case] = suspect(tree, vera).cases
    cases.close(case, by=cora, now=NOW, outcome="Not found")
    lines = Change.objects.filter(tree=tree)
    assert {line.private for line in lines.filter(subject_type="case")} == {True}
    told = lines.filter(private=False)
    assert not [line for line in told if "psyllid" in str((line.before, line.after))]


def test_a_correction_does_not_close_a_case(tree, vera):
    logged = suspect(tree, vera)
    inspections.correct(
        logged.inspection,
        by=vera,
        now=NOW,
        reason="It was an aphid",
        findings=[SeenSign("aphids", {"pct": 3})],
    )
    assert Case.objects.open().filter(tree=tree).exists()
