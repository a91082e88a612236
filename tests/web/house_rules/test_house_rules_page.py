"""House rules and pests on the page: all read, the coordinator sets and lifts."""

from __future__ import annotations

import re
from datetime import timedelta

import pytest
from django.utils import timezone

from orchard.records.models import HouseRule, PestStatus
from orchard.science import guide
from orchard.services import house_rules
from orchard.web.pages.house_rules.forms import RulesForm, starting_rows
from tests.services.house_rules.test_house_rules import rows_of, set_one

pytestmark = pytest.mark.django_db

PAGE = "/alderbrook/house-rules/leafminer/"
PESTS = "/alderbrook/pests/"


def today():
    return timezone.localdate()


def text_of(answer) -> str:
    return " ".join(answer.content.decode().split())


def typed(orchard, sign="leafminer", own=None, **changes) -> dict[str, str]:
    """Return what the form sends when nothing is changed, and then the changes."""
    form = RulesForm(
        sign=guide.load().signs[sign], orchard=orchard, own=own, today=today()
    )
    values = {}
    for name in form.fields:
        value = form.get_initial_for_field(form.fields[name], name)
        if value is True:
            values[name] = "on"
        elif value is not None and value is not False:
            values[name] = str(value)
    values |= {"reason": "We graft here", "step": "set"} | changes
    return {name: value for name, value in values.items() if value is not None}


class TestSet:
    def test_the_words_are_read_before_anything_is_saved(self, as_cora, orchard):
        answer = as_cora.post(PAGE, typed(orchard, **{"due-0": "3", "step": "words"}))
        assert answer.status_code == 200
        page = text_of(answer)
        assert "This is how it would read" in page
        assert "within 3 days" in page
        assert "Set this house rule" in page
        assert not HouseRule.objects.exists()

    def test_a_changed_line_becomes_the_house_rule(self, as_cora, orchard, cora):
        answer = as_cora.post(PAGE, typed(orchard, **{"due-0": "3"}))
        assert answer.status_code == 302
        row = HouseRule.objects.get()
        assert (row.author, row.reason, row.starts_on) == (
            cora,
            "We graft here",
            today(),
        )
        expected = guide.write_rules(guide.load().signs["leafminer"].rules)
        expected[0]["due"] = 3
        assert row.rules == expected

    def test_a_threshold_and_a_line_switched_off(self, as_cora, orchard):
        limits = [name for name in typed(orchard) if re.fullmatch(r"limit-0-\d", name)]
        rules = guide.load().signs["leafminer"].rules
        place = [one.fact for one in rules[0].conditions].index("pct")
        assert f"limit-0-{place}" in limits
        as_cora.post(PAGE, typed(orchard, **{f"limit-0-{place}": "40", "on-1": None}))
        rows = HouseRule.objects.get().rules
        assert rows[0]["if"]["pct>="] == 40
        assert len(rows) == len(rules) - 1

    def test_what_nobody_touched_comes_back_exactly(self, as_cora, orchard):
        """In inches 5 cm reads 2.0, which is 5.08 cm: the form must not drift."""
        orchard.units = "us"
        orchard.save()
        url = "/alderbrook/house-rules/buried_trunk/"
        answer = as_cora.post(
            url, typed(orchard, "buried_trunk", **{"recheck-0": "22"})
        )
        assert answer.status_code == 302, text_of(answer)
        row = HouseRule.objects.get()
        theirs = guide.write_rules(guide.load().signs["buried_trunk"].rules)
        assert [one["if"] for one in row.rules] == [one["if"] for one in theirs]

    @pytest.mark.parametrize(
        ("changes", "said"),
        [
            ({"reason": ""}, "This field is required"),
            ({"due-0": ""}, "Enter in how many days it must be done."),
            ({"verdict-0": "watch", "recheck-0": ""}, "Enter after how many days"),
            ({"verdict-0": "panic"}, "Select a valid choice"),
            ({"limit-0-0": "-3"}, "greater than or equal"),
            ({"because-0": ""}, "This field is required"),
            ({}, "These rules are in force already."),
            ({"starts_on": "2020-01-01", "due-0": "3"}, "begin before today"),
        ],
    )
    def test_a_wrong_form_comes_back_with_everything_typed(
        self, as_cora, orchard, changes, said
    ):
        answer = as_cora.post(PAGE, typed(orchard, **changes))
        page = text_of(answer)
        assert answer.status_code == 422
        assert said in page
        assert not HouseRule.objects.exists()
        assert changes.get("reason", "We graft here") in page

    def test_a_list_that_does_not_hold_together_is_refused_in_words(
        self, as_cora, orchard
    ):
        """Lower the first age limit's partner until one line hides the next."""
        rules = guide.load().signs["leafminer"].rules
        place = [one.fact for one in rules[0].conditions].index("pct")
        changes = {f"limit-0-{place}": "0", "step": "words"}
        answer = as_cora.post(PAGE, typed(orchard, **changes))
        assert answer.status_code == 422
        assert "always wins before it" in text_of(answer)

    def test_a_reportable_pest_is_not_talked_down(self, as_cora, orchard):
        url = "/alderbrook/house-rules/psyllid_nymph/"
        form = typed(orchard, "psyllid_nymph", **{"verdict-0": "watch"})
        answer = as_cora.post(url, form)
        assert answer.status_code == 422
        assert "must be reported here" in text_of(answer)

    def test_the_form_goes_on_from_the_rule_that_holds(self, orchard, cora):
        sign = guide.load().signs["leafminer"]
        rows = rows_of(due=3)
        del rows[1]
        set_one(orchard, cora, rules=rows, starts_on=today(), today=today())
        own = house_rules.holding(orchard, today())["leafminer"].rules
        start = starting_rows(sign, own)
        assert [on for _rule, on in start] == [True, False, True]
        assert start[0][0].due == 3

    def test_a_rule_of_another_shape_is_its_own_beginning(self, orchard):
        sign = guide.load().signs["leafminer"]
        rows = [{**rows_of()[0], "if": {"ants": True}}, rows_of()[-1]]
        own = guide.read_rules(rows, guide.load().facts, "test")
        assert [rule for rule, _on in starting_rows(sign, own)] == list(own)


class TestLift:
    def test_lifting_needs_a_reason_and_leaves_the_rule_readable(
        self, as_cora, orchard, cora
    ):
        set_one(orchard, cora, starts_on=today(), today=today())
        refused = as_cora.post(f"{PAGE}lifting/", {"lift-reason": ""})
        assert refused.status_code == 422
        done = as_cora.post(f"{PAGE}lifting/", {"lift-reason": "Grafts are grown"})
        assert done.status_code == 302
        assert house_rules.holding(orchard, today()) == {}
        page = text_of(as_cora.get(PAGE))
        assert "Grafts are grown" in page
        assert "We graft here" in page

    def test_where_nothing_stands_there_is_nothing_to_lift(self, as_cora, orchard):
        answer = as_cora.post(f"{PAGE}lifting/", {"lift-reason": "x"})
        assert answer.status_code == 404


class TestWho:
    @pytest.mark.parametrize("name", ["vera", "lee", "eddy", "olga"])
    def test_all_read_and_only_the_coordinator_sets(
        self, client, orchard, cora, name, request
    ):
        set_one(orchard, cora, starts_on=today(), today=today())
        client.force_login(request.getfixturevalue(name))
        for url in ("/alderbrook/house-rules/", PAGE, PESTS):
            answer = client.get(url)
            assert answer.status_code == 200
            assert 'method="post" action="#set"' not in text_of(answer)
        assert client.post(PAGE, typed(orchard)).status_code == 403
        assert client.post(f"{PAGE}lifting/", {}).status_code == 403
        assert client.post(PESTS, {"code": "DIAACI"}).status_code == 403
        assert HouseRule.objects.count() == 1
        assert not PestStatus.objects.exists()

    def test_an_outsider_finds_nothing(self, client, orchard, otto):
        client.force_login(otto)
        for url in ("/alderbrook/house-rules/", PAGE, PESTS):
            assert client.get(url).status_code == 404

    def test_an_unknown_sign_has_no_rules(self, as_cora, orchard):
        assert as_cora.get("/alderbrook/house-rules/dragons/").status_code == 404


class TestIndex:
    def test_what_holds_what_comes_and_what_was(self, as_cora, orchard, cora):
        now = {"today": today()}
        first = set_one(orchard, cora, starts_on=today(), **now)
        house_rules.lift(
            first, by=cora, now=timezone.now(), today=today(), reason="Too strict"
        )
        set_one(
            orchard, cora, sign="aphids", rules=rows_of("aphids", recheck=9),
            starts_on=today() + timedelta(days=5), **now,
        )  # fmt: skip
        page = text_of(as_cora.get("/alderbrook/house-rules/"))
        assert ">coming<" in page
        assert ">lifted<" in page
        assert "Too strict" in page

    def test_without_a_rule_it_says_that_the_guide_holds(self, as_cora, orchard):
        page = text_of(as_cora.get("/alderbrook/house-rules/"))
        assert "No house rule is in force." in page

    def test_choosing_a_sign_leads_to_its_rules(self, as_cora, orchard):
        answer = as_cora.get("/alderbrook/house-rules/?sign=leafminer")
        assert answer.headers["Location"] == PAGE

    def test_a_rule_the_guide_no_longer_reads_says_so(self, as_cora, orchard, cora):
        set_one(orchard, cora, starts_on=today(), today=today())
        HouseRule.objects.update(rules=[{"if": {"moon": 1}}])
        assert "No longer valid." in text_of(as_cora.get("/alderbrook/house-rules/"))


class TestPests:
    def test_every_pest_of_the_guide_stands_on_the_list(self, as_vera, orchard):
        page = text_of(as_vera.get(PESTS))
        for code in guide.load().pests:
            assert f'id="pest-{code}"' in page
        assert "Verdicts already given stay." in page

    def test_the_coordinator_changes_one_and_says_who_says_so(
        self, as_cora, orchard, cora
    ):
        said = {"code": "DIAACI", "status": "common", "source": "Notice 8"}
        assert as_cora.post(PESTS, said).status_code == 302
        assert house_rules.pest_status(orchard)["DIAACI"] == "common"
        page = text_of(as_cora.get(PESTS))
        assert "Here by: Notice 8." in page

    @pytest.mark.parametrize(
        ("said", "status"),
        [
            ({"code": "DIAACI", "status": "common", "source": ""}, 422),
            ({"code": "DIAACI", "status": "gone", "source": "x"}, 422),
            ({"code": "DRAGON", "status": "common", "source": "x"}, 404),
        ],
    )
    def test_a_wrong_change_is_refused(self, as_cora, orchard, said, status):
        answer = as_cora.post(PESTS, said)
        assert answer.status_code == status
        assert not PestStatus.objects.exists()

    def test_the_number_of_queries_is_fixed(
        self, as_cora, orchard, django_assert_max_num_queries
    ):
        with django_assert_max_num_queries(6):
            as_cora.get(PESTS)
