from __future__ import annotations

from datetime import date, datetime, timedelta
from enum import StrEnum
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from orchard.records.models import (
    CarePlan,
    Change,
    HouseRule,
    Kind,
    Membership,
    Photo,
    SecondLook,
    Task,
)
from orchard.science import guide
from orchard.services import accounts, audit, inspections
from orchard.services.audit import ledger
from orchard.services.audit.wording import subject_words
from orchard.services.inspections import SeenSign
from tests.conftest import NOW, make_spot, make_tree

SERVICES = Path(ledger.__file__).parents[1]


def membership(user):
    return Membership.objects.select_related("orchard").get(user=user)


def write(orchard, user, subject, verb=audit.Verb.CORRECT, **fields):
    return audit.write(verb, subject, by=user, now=NOW, orchard=orchard, **fields)


def only_line(user, **filters):
    wanted = audit.LedgerFilter(**filters)
    (line,) = audit.changes_page(membership(user), wanted).rows
    return line


def said(line):
    return [(part.what, part.before, part.after) for part in line.differences]


def test_only_what_changed_is_told_and_in_words(orchard, cora, tree):
    before = audit.snapshot(tree)
    tree.kind = Kind.objects.create(orchard=orchard, name="Meyer")
    tree.spot = make_spot(orchard, number="2")
    tree.setting, tree.container_litres = "container", "60.0"
    tree.staked = True
    tree.planted_on = tree.planted_on + timedelta(days=1)
    after = audit.snapshot(tree)
    write(
        orchard, cora, tree, tree=tree, before=before, after=after, reason="read wrong"
    )
    line = only_line(cora)
    assert (line.by_name, line.did, line.subject) == ("Cora", "corrected", "tree A-1")
    assert (line.tree_code, line.reason) == ("A-1", "read wrong")
    assert sorted(said(line)) == sorted(
        [
            ("kind", "Washington navel", "Meyer"),
            ("spot", "A-1", "A-2"),
            ("setting", "in the ground", "in a container"),
            ("container, litres", "nothing", "60.0"),
            ("staked", "no", "yes"),
            ("planted on", "20 Mar 2016", "21 Mar 2016"),
        ]
    )


def test_a_new_row_tells_only_what_it_says(orchard, cora, tree):
    write(orchard, cora, tree, "plant", tree=tree, after=audit.snapshot(tree))
    line = only_line(cora)
    assert line.is_new
    told = {part.what for part in line.differences}
    assert "rootstock" in told
    assert "note" not in told
    assert "staked" not in told


def test_a_line_stays_readable_when_what_it_speaks_of_is_unknown(orchard, cora):
    write(orchard, cora, orchard, "graft anew", before={"kind_id": 1}, after={"x": 2})
    line = only_line(cora)
    assert line.did == "graft anew"
    assert ("x", "nothing", "2") in said(line)


def test_names_that_are_gone_stay_numbers(orchard, cora, tree):
    write(orchard, cora, tree, before={"kind_id": 987}, after={"kind_id": 988})
    assert said(only_line(cora)) == [("kind", "kind 987", "kind 988")]


def test_what_the_clock_did_has_no_person(orchard, cora):
    write(orchard, None, orchard, "open_next", after={"opened": 3})
    assert only_line(cora).by_name == ""


def test_a_changed_role_reads_in_the_words_for_roles(vera, cora):
    accounts.change_role(membership(vera), role="lead", by=cora, now=NOW)
    line = only_line(cora)
    assert line.did == "changed the role of"
    assert said(line) == [("role", "volunteer", "crew lead")]


NOTE = "The leaf is blotched like a greening disease"


def told(user) -> str:
    rows = audit.changes_page(membership(user)).rows
    return " ".join([str(rows), *(row.reason for row in rows)])


def test_a_note_that_became_private_leaves_the_lines_of_who_may_not_see_it(
    orchard, tree, vera, lee, cora, olga
):
    seen = SeenSign("sucker", {"graft": "below", "woody": False}, sure=False, note=NOTE)
    look = {"by": vera, "now": NOW, "seen_at": NOW, "note": NOTE, "findings": [seen]}
    earlier = inspections.record(tree, **look).inspection
    logged = inspections.correct(
        earlier,
        by=vera,
        now=NOW,
        reason="A word was missing",
        note=NOTE,
        findings=[seen],
    )
    beside = {**look, "note": "A gate was open", "findings": []}
    inspections.record(make_tree(orchard, "A-2"), **beside)
    second = SecondLook.objects.get(finding__inspection=logged.inspection)
    inspections.answer_second_look(
        second, by=lee, now=NOW, answer="agreed", note=f"Yes. {NOTE}"
    )
    assert NOTE in told(olga)
    [finding] = logged.findings
    inspections.override(
        finding, by=cora, now=NOW, verdict="report", reason="Blotches on one side"
    )
    assert NOTE in told(cora)
    assert "Blotches" in told(cora)
    for mine in (NOTE, "Blotches"):
        assert mine not in told(olga)
    # What stands beside it is still told.
    assert "A gate was open" in told(olga)


def test_private_lines_are_for_those_who_may_see_them(orchard, tree, cora, olga):
    write(orchard, cora, tree, "open", private=True, after={"rank": 1})
    assert only_line(cora).private
    assert audit.changes_page(membership(olga)).rows == ()


def test_lines_of_another_orchard_are_not_read(southbank, cora, otto):
    write(southbank, otto, southbank, "found")
    assert audit.changes_page(membership(cora)).rows == ()


def test_the_ledger_is_read_by_person_sort_and_tree(orchard, cora, lee, tree):
    other = make_tree(orchard, "A-2")
    write(orchard, cora, tree, tree=tree)
    write(orchard, lee, other, tree=other)
    write(orchard, lee, orchard)
    assert only_line(cora, person=cora.pk).tree_code == "A-1"
    assert only_line(cora, sort="orchard").by_name == "Lee"
    assert only_line(cora, tree=other).tree_code == "A-2"
    assert only_line(cora, person=lee.pk, sort="tree").tree_code == "A-2"


def test_the_ledger_is_read_by_the_days_of_the_orchard(orchard, cora):
    zone = ZoneInfo(orchard.time_zone)
    day = date(2026, 3, 4)
    for hour, minute in ((0, 0), (23, 59)):
        at = datetime(2026, 3, 4, hour, minute, tzinfo=zone)
        audit.write("add", orchard, by=cora, now=at, orchard=orchard)
    member = membership(cora)

    def count(first, last):
        wanted = audit.LedgerFilter(first_day=first, last_day=last)
        return len(audit.changes_page(member, wanted).rows)

    a_day = timedelta(days=1)
    assert count(day, day) == 2
    assert count(day + a_day, None) == count(None, day - a_day) == 0
    assert count(None, date.max) == count(date.min, None) == 2


def test_lines_come_by_when_they_were_written_not_by_number(orchard, cora):
    moments = [NOW, NOW - timedelta(days=9), NOW - timedelta(microseconds=1), NOW]
    for at in moments:
        audit.write("add", orchard, by=cora, now=at, orchard=orchard)
    member, read, after = membership(cora), [], ""
    while True:
        page = audit.changes_page(member, after=after, size=1)
        read += [line.at for line in page.rows]
        after = page.next_key
        if not after:
            break
    assert read == sorted(moments, reverse=True)


def test_rules_and_jobs_are_told_in_words(orchard, cora):
    book = guide.load()
    rows = [
        {"if": {"count>=": 10}, "verdict": "act", "due": 3, "because": "Too many."},
        {"if": {}, "verdict": "leave", "because": "Few."},
    ]
    rule = HouseRule(orchard=orchard, sign="overripe", rules=rows)
    rule.pk = 1
    write(orchard, cora, rule, "set", after={"sign": "overripe", "rules": rows})
    ((_, _, sign), (_, _, rules)) = said(only_line(cora, sort="houserule"))
    assert sign == book.signs["overripe"].name
    assert "count>=" not in rules and "verdict" not in rules
    assert "Act within 3 days" in rules and "In all other cases: Leave" in rules
    unread = [{"if": {"no_such": 1}, "verdict": "act", "because": "x"}]
    write(orchard, cora, rule, "lift", after={"sign": "overripe", "rules": unread})
    newest = audit.changes_page(membership(cora)).rows[0]
    assert said(newest)[1][2] == "1 rule"
    write(orchard, None, orchard, "open_next", after={"jobs": ["whitewash"]})
    opened = only_line(cora, sort="orchard")
    assert said(opened) == [("jobs", "nothing", book.jobs["whitewash"].name)]


def test_paging_skips_and_repeats_nothing_while_lines_are_added(orchard, cora):
    numbers = [write(orchard, cora, orchard).pk for _ in range(23)]
    read, after = [], ""
    while True:
        page = audit.changes_page(membership(cora), after=after, size=5)
        read += [line.number for line in page.rows]
        write(orchard, cora, orchard, "found")
        if not page.next_key:
            break
        after = page.next_key
    assert read == numbers[::-1]


@pytest.mark.parametrize("count", [3, 50])
def test_the_number_of_queries_does_not_grow(
    orchard, cora, vera, django_assert_num_queries, count
):
    for number in range(count):
        tree = make_tree(orchard, f"A-{number}")
        task = Task.objects.create(
            orchard=orchard,
            tree=tree,
            rank=2,
            kind="care",
            key="x",
            occurrence="1",
            title="Weed the ring",
            opens_on=NOW.date(),
            due_on=NOW.date(),
            rhythm_days=9,
            made_at=NOW,
        )
        after = {"spot_id": tree.spot_id, "kind_id": tree.kind_id}
        write(orchard, cora, tree, tree=tree, after=after)
        write(orchard, vera, task, tree=tree, after={"taken_by_id": vera.pk})
    member = membership(cora)
    with django_assert_num_queries(6):
        page = audit.changes_page(member, size=2 * count)
    assert {line.subject for line in page.rows} >= {"task Weed the ring"}


def test_every_verb_has_its_words_and_is_written_by_a_service():
    text = "".join(
        path.read_text() for path in SERVICES.rglob("*.py") if path.name != "verbs.py"
    )
    assert [verb for verb in audit.Verb if not str(verb.words)] == []
    assert [verb for verb in audit.Verb if f"Verb.{verb.name}" not in text] == []


def test_a_verb_without_words_is_impossible():
    with pytest.raises(TypeError, match="words"):

        class Wordless(StrEnum):
            __new__ = audit.Verb.__new_member__
            ADD = "add"


def test_every_sort_of_row_with_lines_has_its_word():
    tables = {model.lower() for model in ("Tree", "Task", "Orchard", "Membership")}
    assert tables <= set(subject_words())
    assert "change" not in subject_words()
    assert Change._meta.model_name == "change"


def test_what_has_no_name_is_told_by_its_tree_and_what_the_guide_knows_by_its_name(
    orchard, cora, tree
):
    photo = Photo.objects.create(
        orchard=orchard, by=cora, sha256="0" * 64, file_format="JPEG",
        width=1, height=1, size_bytes=1, received_at=NOW,
    )  # fmt: skip
    plan = CarePlan.objects.create(orchard=orchard, job="whitewash", set_at=NOW)
    before, after = {"confirmed_sign": ""}, {"confirmed_sign": "winter_yellow"}
    write(orchard, cora, photo, "describe", tree=tree, before=before, after=after)
    write(orchard, cora, plan, "set_job", after={"active": True})
    planned, described = audit.changes_page(membership(cora)).rows
    assert described.subject == "the photo of A-1"
    named = guide.load().signs["winter_yellow"].name
    assert said(described) == [("confirmed sign", "nothing", named)]
    assert planned.subject == f"care plan {guide.load().jobs['whitewash'].name}"


def test_a_line_says_nothing_twice(orchard, cora, vera, tree):
    before, after = {"taken_by_id": None}, {"taken_by_id": vera.pk}
    write(orchard, vera, tree, "take", before=before, after=after)
    write(orchard, cora, orchard, "open_next", after={"opened": 3})
    opened, took = audit.changes_page(membership(cora)).rows
    assert opened.subject == orchard.name
    assert took.differences == ()
