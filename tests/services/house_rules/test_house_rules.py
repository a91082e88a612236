"""House rules and the pest list: signed, dated, checked, lifted, never erased."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from orchard.records.models import Change, HouseRule, PestStatus
from orchard.science import guide, verdict
from orchard.services import house_rules
from orchard.services.errors import Refused
from tests.conftest import NOW, TODAY, make_orchard
from tests.refusals import refused

pytestmark = pytest.mark.django_db


def rows_of(sign="leafminer", **first) -> list[dict]:
    """Return the guide's own rules as data, the first row changed."""
    rows = guide.write_rules(guide.load().signs[sign].rules)
    return [{**rows[0], **first}, *rows[1:]]


def set_one(orchard, by, rules=None, **fields) -> HouseRule:
    values = {
        "sign": "leafminer",
        "rules": rules or rows_of(due=3),
        "reason": "We graft here",
        "starts_on": TODAY,
        "by": by,
        "now": NOW,
        "today": TODAY,
    }
    return house_rules.set_rule(orchard, **{**values, **fields})


def lift(rule, by, today=TODAY, reason="Not needed") -> HouseRule:
    return house_rules.lift(rule, by=by, now=NOW, today=today, reason=reason)


class TestSet:
    def test_a_rule_holds_from_its_day_on(self, orchard, cora):
        row = set_one(orchard, cora, starts_on=TODAY + timedelta(days=2))
        assert house_rules.holding(orchard, TODAY + timedelta(days=1)) == {}
        held = house_rules.holding(orchard, TODAY + timedelta(days=2))["leafminer"]
        assert (held.id, held.author, held.reason) == (
            str(row.pk),
            "Cora",
            "We graft here",
        )
        assert held.rules[0].due == 3

    def test_it_changes_the_verdict_from_its_day_and_its_lift_changes_it_back(
        self, orchard, cora
    ):
        """The guide's first leafminer rule: young tree, a quarter of the leaves."""
        facts = {"age_y": 2, "pct": 30, "sm": 5, "frost_ahead": False, "yes": True}
        facts = {
            name: value
            for name, value in facts.items()
            if name in {"sm"} | {c.fact for r in guide.load().signs["leafminer"].rules
                                 for c in r.conditions}
        }  # fmt: skip
        assert {"age_y", "pct"} <= set(facts)
        rule = set_one(
            orchard, cora,
            rules=rows_of(due=1, because="Grafts are here."),
            starts_on=TODAY + timedelta(days=1),
        )  # fmt: skip

        def judged(on: date) -> verdict.Judgement:
            held = house_rules.holding(orchard, on).values()
            return verdict.decide("leafminer", facts, held)

        own = judged(TODAY)
        changed = judged(TODAY + timedelta(days=1))
        assert own.rule_id == "leafminer/0"
        assert (changed.rule_id, changed.due_days) == (f"house:{rule.pk}", 1)
        assert own.due_days != 1
        assert any("Cora" in said and "We graft here" in said
                   for said in changed.because)  # fmt: skip
        lift(rule, cora, today=TODAY + timedelta(days=5))
        assert judged(TODAY + timedelta(days=4)).due_days == 1
        assert judged(TODAY + timedelta(days=5)) == own

    def test_another_orchard_keeps_the_guides_rules(self, orchard, cora, southbank):
        set_one(orchard, cora)
        assert house_rules.holding(southbank, TODAY) == {}

    def test_a_new_rule_ends_the_old_one_on_the_day_it_begins(self, orchard, cora):
        first = set_one(orchard, cora)
        later = TODAY + timedelta(days=10)
        second = set_one(orchard, cora, rules=rows_of(due=5), starts_on=later)
        first.refresh_from_db()
        assert first.lifted_on == later
        day_before = later - timedelta(days=1)
        held = house_rules.holding(orchard, day_before)["leafminer"]
        assert held.id == str(first.pk)
        assert house_rules.holding(orchard, later)["leafminer"].id == str(second.pk)

    def test_a_sooner_rule_ends_one_that_was_to_begin_later(self, orchard, cora):
        first = set_one(orchard, cora)
        later = TODAY + timedelta(days=10)
        set_one(orchard, cora, rules=rows_of(due=5), starts_on=later)
        third = set_one(
            orchard, cora, rules=rows_of(due=6), starts_on=TODAY + timedelta(days=4)
        )
        for day in range(30):
            rows = HouseRule.objects.holding(orchard, TODAY + timedelta(days=day))
            assert [row.pk for row in rows] == [first.pk if day < 4 else third.pk]

    def test_who_set_what_stands_in_the_ledger(self, orchard, cora):
        row = set_one(orchard, cora)
        line = Change.objects.get(subject_type="houserule", subject_id=row.pk)
        assert (line.verb, line.by, line.reason) == ("set", cora, "We graft here")
        assert line.after["rules"][0]["due"] == 3

    @pytest.mark.parametrize(
        ("rules", "said"),
        [
            (rows_of()[:-1], "last rule must have an empty if"),
            ([*rows_of(), rows_of()[-1]], "always wins before it"),
            ([{**rows_of()[0], "if": {"moon": 1}}, rows_of()[-1]], "no fact"),
            ([{**rows_of()[0], "if": {"pct>": 200}}, rows_of()[-1]], "0 to 100"),
            ([{**rows_of()[0], "verdict": "panic"}, rows_of()[-1]], "panic"),
            ([{**rows_of()[0], "because": " "}, rows_of()[-1]], "because"),
        ],
    )
    def test_a_list_that_does_not_hold_together_is_refused(
        self, orchard, cora, rules, said
    ):
        with refused("bad_rules", match=said):
            set_one(orchard, cora, rules=rules)
        assert not HouseRule.objects.exists()

    def test_a_rule_needs_a_reason(self, orchard, cora):
        with refused("reason_missing", match="Give the reason"):
            set_one(orchard, cora, reason="  ")

    def test_a_rule_does_not_reach_back(self, orchard, cora):
        with refused("wrong_day", match="before today"):
            set_one(orchard, cora, starts_on=TODAY - timedelta(days=1))

    def test_the_guides_own_list_is_no_house_rule(self, orchard, cora):
        with refused("nothing_changed", match="in force already"):
            set_one(orchard, cora, rules=rows_of())

    def test_an_unknown_sign_is_refused(self, orchard, cora):
        with refused("unknown_sign", match="no sign"):
            set_one(orchard, cora, sign="dragons")


class TestReport:
    """What must be reported cannot be talked down while the pest list says so."""

    def lowered(self) -> list[dict]:
        rows = rows_of("psyllid_nymph", verdict="watch")
        rows[0].pop("due")
        return rows

    def test_a_reportable_pest_stays_reported(self, orchard, cora):
        for rules in (
            self.lowered(),
            rows_of("psyllid_nymph", due=5),
            rows_of("psyllid_nymph", **{"if": {"count>=": 9}}),
        ):
            with refused("report_must_stay", match="pest list first"):
                set_one(orchard, cora, sign="psyllid_nymph", rules=rules)

    def test_once_the_pest_is_common_here_the_orchard_may_watch_it(self, orchard, cora):
        house_rules.set_pest_status(
            orchard, code="DIAACI", status="common", source="Notice of May 2026",
            by=cora, now=NOW,
        )  # fmt: skip
        set_one(orchard, cora, sign="psyllid_nymph", rules=self.lowered())
        assert "psyllid_nymph" in house_rules.holding(orchard, TODAY)

    def test_what_else_the_rule_says_may_change(self, orchard, cora):
        set_one(
            orchard, cora, sign="psyllid_nymph", rules=rows_of("psyllid_nymph", due=0)
        )
        held = house_rules.holding(orchard, TODAY)["psyllid_nymph"]
        assert held.rules[0].due == 0


class TestLift:
    def test_a_lifted_rule_stays_readable(self, orchard, cora):
        row = set_one(orchard, cora)
        lift(row, cora, today=TODAY + timedelta(days=3))
        [kept] = house_rules.history(orchard, "leafminer")
        assert kept.lifted_on == TODAY + timedelta(days=3)
        assert (kept.lifted_by, kept.lifted_reason) == (cora, "Not needed")
        verbs = Change.objects.filter(subject_type="houserule").values_list("verb")
        assert sorted(verb for (verb,) in verbs) == ["lift", "set"]

    def test_a_rule_lifted_before_its_day_never_holds(self, orchard, cora):
        later = TODAY + timedelta(days=10)
        lift(set_one(orchard, cora, starts_on=later), cora)
        assert house_rules.holding(orchard, later) == {}

    def test_a_lift_needs_a_reason_and_happens_once(self, orchard, cora):
        row = set_one(orchard, cora)
        with refused("reason_missing", match="Give the reason"):
            lift(row, cora, reason="")
        lift(row, cora)
        with refused("already_lifted", match="nothing to lift"):
            lift(row, cora)


def test_a_stored_rule_that_todays_guide_cannot_read_does_not_hold(orchard, cora):
    row = set_one(orchard, cora)
    HouseRule.objects.filter(pk=row.pk).update(
        rules=[{**rows_of()[0], "if": {"moon": 1}}, rows_of()[-1]]
    )
    assert house_rules.holding(orchard, TODAY) == {}
    [kept] = house_rules.history(orchard)
    assert house_rules.rule_set_of(kept) is None


def test_a_rule_reads_the_same_in_whatever_order_its_conditions_were_stored(
    orchard, cora
):
    """PostgreSQL keeps no order of keys in jsonb (manual, JSON types)."""
    row = set_one(orchard, cora)
    before = house_rules.rule_set_of(row)
    first = row.rules[0]
    assert len(first["if"]) > 1
    turned = {**first, "if": dict(reversed(list(first["if"].items())))}
    row.rules = [turned, *row.rules[1:]]
    assert house_rules.rule_set_of(row) == before
    assert house_rules.read("leafminer", row.rules) == before.rules


class TestPests:
    def say(self, orchard, by, **fields):
        values = {"code": "DIAACI", "status": "regulated", "source": "Notice 7"}
        return house_rules.set_pest_status(
            orchard, by=by, now=NOW, **{**values, **fields}
        )

    def test_every_pest_has_a_status_before_anybody_says_so(self, orchard):
        statuses = house_rules.pest_status(orchard)
        assert set(statuses) == set(guide.load().pests)
        assert statuses["DIAACI"] == "absent"

    def test_what_the_orchard_says_wins_there_alone(self, orchard, southbank, cora):
        self.say(orchard, cora)
        self.say(orchard, cora, status="common", source="Notice 8")
        assert house_rules.pest_status(orchard)["DIAACI"] == "common"
        assert house_rules.pest_status(southbank)["DIAACI"] == "absent"
        assert PestStatus.objects.count() == 1
        first, second = Change.objects.filter(subject_type="peststatus").order_by("id")
        assert first.before is None
        assert second.before["status"] == "regulated"
        assert second.after["status"] == "common"

    @pytest.mark.parametrize(
        ("fields", "refusal"),
        [
            ({"code": "DRAGON"}, Refused),
            ({"source": " "}, Refused),
        ],
    )
    def test_it_is_refused_in_words(self, orchard, cora, fields, refusal):
        with pytest.raises(refusal):
            self.say(orchard, cora, **fields)
        assert not PestStatus.objects.exists()

    def test_saying_the_same_again_is_no_change(self, orchard, cora):
        self.say(orchard, cora)
        with refused("nothing_changed"):
            self.say(orchard, cora)
        assert Change.objects.filter(subject_type="peststatus").count() == 1


def test_reading_what_holds_takes_one_query_each(
    orchard, cora, django_assert_num_queries
):
    set_one(orchard, cora)
    set_one(orchard, cora, sign="aphids", rules=rows_of("aphids", recheck=9))
    for number in range(3):
        make_orchard(f"other-{number}")
    with django_assert_num_queries(1):
        assert len(house_rules.holding(orchard, TODAY)) == 2
    with django_assert_num_queries(1):
        house_rules.pest_status(orchard)
