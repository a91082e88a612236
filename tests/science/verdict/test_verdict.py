"""The verdict, held against a second reading of the rules.

The rule files are read once more here, by a plain evaluator that knows only complete
facts: the first rule that holds, and before it the pest to report that is really seen.
Whatever the verdict says with facts missing is then held against every way of filling
them in. That is arithmetic over the guide's own rows; no outside figure enters.
"""

from __future__ import annotations

import json
import re
import tomllib
from dataclasses import replace
from datetime import date
from itertools import product
from math import prod
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from orchard.science import guide, verdict, windows
from orchard.science.guide import GuideError
from orchard.science.verdict import RuleSet, judging
from orchard.science.verdict.answers import answer_key, facts_for, open_facts, outcomes
from orchard.science.verdict.facts import NotJudged
from orchard.science.words import StepKind, Verdict

GUIDE = guide.load()
FILES = Path(guide.__file__).parent
ROWS = {
    row["key"]: row
    for path in sorted((FILES / "signs").glob("*.toml"))
    for row in tomllib.loads(path.read_text("utf-8"))["sign"]
}
PESTS = {
    row["code"]: row["usual_status"]
    for row in tomllib.loads((FILES / "pests.toml").read_text("utf-8"))["pest"]
}
FACTS = {
    row["key"]: row
    for row in tomllib.loads((FILES / "facts.toml").read_text("utf-8"))["fact"]
}
MEASURED = {
    "yes_no": "yes",
    "count": "count",
    "girth_fraction": "frac",
    "length_cm": "cm",
    "hours": "hours",
}
RANK = {"leave": 0, "watch": 1, "act": 2, "report": 3}
SEASONS = ("spring", "summer", "autumn", "winter")
# The last value that a condition lets through, and the first that it does not.
SIDES = {
    ">=": (-1, 0),
    "<": (-1, 0),
    ">": (0, 1),
    "<=": (0, 1),
    " in": (-1, 0, 1),
    None: (-1, 0, 1),
}
LEFT = re.compile(r"(\w+)(>=|<=|>|<| in)?")


# A second reading of the rules, for complete facts only


def holds(conditions, facts):
    for left, value in conditions.items():
        name, op = LEFT.fullmatch(left).groups()
        known = facts[name]
        answer = {
            None: lambda a, b: a == b,
            " in": lambda a, b: a in b,
            ">=": lambda a, b: a >= b,
            "<=": lambda a, b: a <= b,
            ">": lambda a, b: a > b,
            "<": lambda a, b: a < b,
        }[op](known, value)
        if not answer:
            return False
    return True


def species_of(row):
    """List the codes of its pests; one without code goes by the key of its sign."""
    named = list(row["eppo"])
    asked = {LEFT.fullmatch(one).group(1) for rule in row["rule"] for one in rule["if"]}
    if not named and "local_status" in asked:
        named = [row["key"]]
    for rule in row["rule"]:
        for left, value in rule["if"].items():
            if LEFT.fullmatch(left).group(1) == "species":
                codes = value if isinstance(value, list) else [value]
                named += [code for code in codes if code not in named]
    return named


def plainly(row, facts):
    """Judge complete facts: a pest to report that is seen, else the first rule."""
    facts = with_status(row, facts)
    must_report = facts.get("local_status", "common") != "common"
    if must_report and holds(row["positive"], facts):
        return ("report", 1)
    rule = next(rule for rule in row["rule"] if holds(rule["if"], facts))
    return (rule["verdict"], rule.get("due"))


def with_status(row, facts):
    """Add how the pest stands: of several not told apart the mildest counts."""
    codes = species_of(row)
    if not codes:
        return dict(facts)
    told = facts.get("species")
    standings = [PESTS[told]] if told in PESTS else [PESTS[code] for code in codes]
    if told == "other":
        standings = ["common"]
    mildest = min(standings, key=["common", "regulated", "absent"].index)
    return {**facts, "local_status": mildest}


def partly(row, facts):
    """Find the rule that facts not all known have earned, and if worse is open.

    What nobody is asked counts as not so. Return verdict, due, recheck, and whether a
    graver or sooner rule above the winner still hangs on an answer.
    """
    facts = with_status(row, facts)
    rules = row["rule"]
    if facts.get("local_status", "common") != "common":
        rules = [{"if": row["positive"], "verdict": "report", "due": 1}, *rules]
    open_rules = []
    for rule in rules:
        state = True
        for left, value in rule["if"].items():
            name = LEFT.fullmatch(left).group(1)
            if facts.get(name) is not None:
                answer = holds({left: value}, facts)
            else:
                answer = None if is_asked(row, name) else False
            if answer is False:
                state = False
                break
            state = None if answer is None else state
        if state is None:
            open_rules.append(rule)
        if state:
            break
    else:
        raise AssertionError("the last rule always holds")
    mine = (RANK[rule["verdict"]], -rule.get("due", 9999))
    worse = any((RANK[r["verdict"]], -r.get("due", 9999)) > mine for r in open_rules)
    return rule["verdict"], rule.get("due"), rule.get("recheck"), worse


def is_asked(row, name):
    own = row.get("asks_fact") or MEASURED.get(row["measure"], "pct")
    return bool(name in (own, *row.get("asks", ())) or FACTS[name].get("ask"))


def names_used(row):
    tables = [row["positive"], *(rule["if"] for rule in row["rule"])]
    found = [LEFT.fullmatch(left).group(1) for table in tables for left in table]
    names = list(dict.fromkeys(found))
    if any(PESTS[code] != "common" for code in species_of(row)):
        names.append("species")
    return [name for name in dict.fromkeys(names) if name not in ("local_status",)]


def samples(row, name, *, ends):
    """Take the neighbours on both sides of every threshold, and the ends if asked."""
    if name == "species":
        return (*species_of(row), *(("other",) if len(species_of(row)) > 3 else ()))
    if name == "sm":
        return tuple(range(1, 13))
    fact = FACTS[name]
    if fact["kind"] == "yes_no":
        return (True, False)
    told = [
        (op, one)
        for table in [row["positive"], *(rule["if"] for rule in row["rule"])]
        for left, value in table.items()
        for known, op in [LEFT.fullmatch(left).groups()]
        if known == name
        for one in (value if isinstance(value, list) else [value])
    ]
    if fact["kind"] == "choice":
        return tuple(
            fact.get("choices") or (*(one for _op, one in told), "Something Else")
        )
    step = 1 if fact.get("whole") else 0.001
    near = {one + off * step for op, one in told for off in SIDES[op]}
    near |= {fact["low"], fact["high"]} if ends else set()
    return tuple(sorted(v for v in near if fact["low"] <= v <= fact["high"]))


def given_to(names, values):
    """Pair names and values; a season month brings its season, as a date would."""
    facts = dict(zip(names, values, strict=True))
    month = facts.get("sm")
    if month is not None:
        facts["season"] = SEASONS[(month - 1) // 3]
    return facts


def axes(row, *, ends=True):
    names = names_used(row)
    if "sm" in names and "season" in names:
        names.remove("season")
    return names, [samples(row, name, ends=ends) for name in names]


@pytest.mark.parametrize("key", ROWS)
def test_complete_facts_get_the_first_rule_that_holds(key):
    row = ROWS[key]
    names, values = axes(row)
    for chosen in product(*values):
        facts = given_to(names, chosen)
        judged = verdict.decide(key, facts)
        expected, due = plainly(row, facts)
        assert judged.verdict == expected, facts
        assert judged.due_days == with_wait(due, judged, facts), facts
        assert judged.asks is None


def with_wait(due, judged, facts):
    """Count from the last frost on where the work itself waits for it."""
    work = verdict.the_work(judged.steps)
    if judged.verdict != "act" or work is None or "last frost" not in work.waits:
        return due
    if facts.get("season") != "winter":
        return due + 7
    return due + (13 - facts.get("sm", 10)) * 30


@pytest.mark.parametrize("key", ROWS)
def test_an_answer_left_out_never_lowers_what_the_others_have_earned(key):
    """Every set of answers, with every one of them left out in turn."""
    row = ROWS[key]
    names, values = axes(row, ends=False)
    values = [(*each, None) for each in values]
    assert prod(len(each) for each in values) < 400_000
    for chosen in product(*values):
        facts = given_to(names, chosen)
        judged = verdict.decide(key, facts)
        earned, due, recheck, worse = partly(row, facts)
        if worse:
            assert facts.get(judged.asks) is None, facts
            assert is_asked(row, judged.asks), facts
            assert judged.because, facts
        else:
            assert judged.asks is None, facts
        if earned == "leave" and worse:
            assert (judged.verdict, judged.recheck_days) == ("watch", 7), facts
            assert judged.rule_id == "G1", facts
            continue
        assert judged.verdict == earned, facts
        assert judged.due_days == with_wait(due, judged, facts), facts
        if judged.rule_id != "G0":
            assert judged.recheck_days == recheck, facts


AGES = (0.1, 1.5, 2.5, 3.5, 12)
SETTINGS = ("ground", "container")


def contexts(key, months=range(1, 13)):
    """Give every month, age and setting; where no rule asks, two ages and no setting.

    The two are a tree planted this month and a grown one, which differ in their steps.
    """
    used = set(names_used(ROWS[key]))
    ages = AGES if used & {"age_y", "planted_d"} else (0.1, 12)
    places = SETTINGS if "setting" in used else ("ground",)
    for month, age, place in product(months, ages, places):
        yield {
            "sm": month,
            "age_y": age,
            "planted_d": int(age * 365),
            "setting": place,
        }


@pytest.mark.parametrize("key", ROWS)
def test_every_answer_of_every_form_has_the_verdict_it_gets_when_it_arrives(key):
    for known in contexts(key):
        asked = open_facts(key, known)
        assert prod(len(fact.choices) for fact in asked) <= 500
        found = outcomes(key, known)
        for answer, outcome in found.items():
            facts = {**known, **facts_for(answer)}
            assert verdict.decide(key, facts) == outcome
            assert answer_key(asked, facts) == answer


@pytest.mark.parametrize("key", ROWS)
def test_the_table_a_page_carries_is_found_by_counting_through_its_questions(key):
    for known in contexts(key, months=(2, 5, 8, 11, 12)):
        page = json.loads(json.dumps(verdict.compact(key, known)))
        asked = open_facts(key, known)
        for answer, outcome in outcomes(key, known).items():
            index = 0
            chosen = dict(part.split("=", 1) for part in answer.split("&") if answer)
            for question in page["asks"]:
                options = [option["value"] for option in question["options"]]
                assert options[-1] == "?"
                index = index * len(options) + options.index(chosen[question["fact"]])
            told = page["verdicts"][page["table"][index]]
            assert told["verdict"] == outcome.verdict
            assert told["due"] == outcome.due_days
            assert told["recheck"] == outcome.recheck_days
            assert tuple(told["because"]) == outcome.because
            assert told["asks"] == outcome.asks
            assert told["rule"] == outcome.rule_id
        assert len(page["table"]) == prod(len(fact.choices) for fact in asked)


@settings(max_examples=400, deadline=None)
@given(st.data())
def test_a_number_typed_in_gets_the_verdict_of_its_band(data):
    key = data.draw(st.sampled_from(sorted(ROWS)))
    known = {"sm": data.draw(st.integers(1, 12)), "age_y": data.draw(st.floats(0, 60))}
    asked = open_facts(key, known)
    answers = {}
    for fact in asked:
        law = GUIDE.facts[fact.key]
        if fact.kind == "number":
            kind = st.integers if law.whole else st.floats
            bounds = (int(law.low), int(law.high)) if law.whole else (law.low, law.high)
            answers[fact.key] = data.draw(st.none() | kind(*bounds))
        else:
            choices = [choice.fact_value for choice in fact.choices]
            answers[fact.key] = data.draw(st.sampled_from(choices))
    outcome = outcomes(key, known)[answer_key(asked, answers)]
    judged = verdict.decide(key, {**known, **answers})
    assert (judged.verdict, judged.due_days, judged.rule_id, judged.because) == (
        outcome.verdict,
        outcome.due_days,
        outcome.rule_id,
        outcome.because,
    )


@pytest.mark.parametrize("key", ROWS)
def test_every_question_a_verdict_asks_is_on_the_form(key):
    """Whatever the tree and the site are known to be, the way out is offered."""
    for known in contexts(key, months=(1, 5, 8, 11)):
        known |= {"on_own_roots": False, "cultivar": "Valencia"}
        offered = {fact.key for fact in open_facts(key, known)}
        for outcome in outcomes(key, known).values():
            assert outcome.asks is None or outcome.asks in offered


@pytest.mark.parametrize("key", ROWS)
def test_danger_to_people_is_asked_first_then_the_signs_own_question(key):
    sign = GUIDE.signs[key]
    asked = open_facts(key, {"sm": 3})
    danger = [fact for fact in asked if GUIDE.facts[fact.key].asked_first]
    used = {condition.fact for rule in sign.rules for condition in rule.conditions}
    assert [fact.key for fact in danger] == sorted({"over_path"} & used)
    assert asked[: len(danger)] == danger
    assert asked[len(danger)].ask == sign.ask


def test_what_nobody_can_see_is_never_asked():
    for key in ROWS:
        names = {fact.key for fact in open_facts(key, {})}
        given = {GUIDE.facts[name].given_by for name in names}
        assert given == {"answer"}
        assert not names & {"species", "local_status"}


def test_a_day_north_and_the_day_half_a_year_on_south_are_judged_alike():
    for key in ROWS:
        for month in range(1, 13):
            north = date(2026, month, 14)
            south = date(2026, (month + 5) % 12 + 1, 14)
            judged = [
                verdict.decide(
                    key,
                    {
                        "season": windows.season(day, latitude).value,
                        "sm": windows.season_month(day, latitude),
                    },
                )
                for day, latitude in ((north, 33.0), (south, -33.0))
            ]
            assert judged[0] == judged[1]


# Every verdict explains itself


@pytest.mark.parametrize("key", ROWS)
def test_every_verdict_explains_itself(key):
    for known in contexts(key, months=(3, 11)):
        for outcome in outcomes(key, known).values():
            assert outcome.edition == GUIDE.edition
            assert all(sentence.strip() for sentence in outcome.because)
            assert outcome.because
            assert dict(outcome.facts).items() >= known.items()
            if outcome.verdict in (Verdict.ACT, Verdict.REPORT):
                assert outcome.due_days is not None
            if outcome.verdict is Verdict.WATCH:
                assert outcome.recheck_days is not None


@pytest.mark.parametrize("key", ROWS)
def test_a_report_leads_to_the_authority_and_lets_nothing_leave(key):
    for known in contexts(key, months=(3, 11)):
        for outcome in outcomes(key, known).values():
            reported = outcome.verdict is Verdict.REPORT
            assert (outcome.holds == ("nothing_leaves_tree",)) is reported
            if reported:
                assert any(step.kind is StepKind.REPORT for step in outcome.steps)
                for step in outcome.steps:
                    if step.kind in (StepKind.PRUNE, StepKind.MOVE, StepKind.SPRAY):
                        assert "authority" in step.waits


def test_the_rule_that_won_is_named_by_its_place():
    judged = verdict.decide("leafminer", {"age_y": 3, "pct": 30})
    assert (judged.rule, judged.rule_id) == (0, "leafminer/0")
    assert judged.because[0] == (
        "Age of the tree under 4 years and 25 % or more of the leaves: "
        "Act within 7 days."
    )
    assert judged.because[1] == GUIDE.signs["leafminer"].rules[0].because


# Pests that must be reported


def test_a_pest_absent_here_is_reported_whatever_its_row_says():
    common = {"pct": 60, "age_y": 12}
    assert verdict.decide("leafminer", common).verdict is Verdict.LEAVE
    for status in ("absent", "regulated"):
        judged = verdict.decide("leafminer", {**common, "local_status": status})
        assert (judged.verdict, judged.due_days, judged.rule_id) == ("report", 1, "G0")


def test_a_pest_absent_here_that_is_not_there_is_no_report():
    facts = {"pct": 0, "age_y": 12, "local_status": "absent"}
    assert verdict.decide("leafminer", facts).verdict is Verdict.LEAVE


def test_of_species_not_told_apart_the_mildest_status_counts():
    facts = {"pct": 5, "season": "spring", "ants": False}
    judged = verdict.decide("aphids", facts)
    assert (judged.verdict, judged.asks) == ("leave", None)
    for statuses, expected in (
        ({"CERTCA": "regulated", "DACUTR": "absent"}, "regulated"),
        ({"CERTCA": "absent", "DACUTR": "common"}, "common"),
        ({"CERTCA": "absent", "DACUTR": "absent"}, "absent"),
    ):
        judged = verdict.decide("fruit_fly", {"count": 1, "pest_status": statuses})
        assert dict(judged.facts)["local_status"] == expected


def test_species_told_apart_decide_by_how_each_stands_here():
    facts = {"pct": 5, "season": "spring", "ants": False}
    brown = verdict.decide("aphids", {**facts, "species": "TOXOCI"})
    assert (brown.verdict, brown.rule_id) == ("report", "G0")
    assert "brown citrus aphid" in brown.because[0]
    other = verdict.decide("aphids", {**facts, "species": "other"})
    assert other.verdict is Verdict.LEAVE
    told = {**facts, "species": "TOXOCI", "pest_status": {"TOXOCI": "common"}}
    assert verdict.decide("aphids", told).verdict is Verdict.LEAVE


def test_the_orchards_own_list_stands_over_the_usual_standing():
    """The orchard's own list stands over the usual status of a pest."""
    facts = {"count": 3, "season": "summer"}
    assert verdict.decide("fruit_fly", facts).verdict is Verdict.REPORT
    one = verdict.decide("fruit_fly", {**facts, "pest_status": {"CERTCA": "common"}})
    assert (one.verdict, one.due_days, one.asks) == ("act", 1, None)
    named = {**facts, "pest_status": {"CERTCA": "common"}, "species": "DACUTR"}
    assert verdict.decide("fruit_fly", named).verdict is Verdict.REPORT


def test_a_pest_without_code_goes_by_its_sign():
    facts = {"count": 2, "holes": False, "sm": 8}
    abroad = verdict.decide("gall_wasp", facts)
    assert (abroad.verdict, abroad.due_days) == ("report", 1)
    home = verdict.decide(
        "gall_wasp", {**facts, "pest_status": {"gall_wasp": "common"}}
    )
    assert (home.verdict, home.due_days) == ("act", 14)


def test_a_standing_nobody_gave_is_said_to_be_assumed():
    assumed = verdict.decide("fruit_fly", {"count": 3})
    told = verdict.decide("fruit_fly", {"count": 3, "local_status": "absent"})
    assert any("is not set: ask" in sentence for sentence in assumed.because)
    assert not any("is not set: ask" in sentence for sentence in told.because)


def test_the_standing_of_a_sign_does_not_speak_for_species_only_its_rules_name():
    facts = {"pct": 60, "age_y": 8, "local_status": "common"}
    assert verdict.decide("thrips_leaf", facts).verdict is Verdict.LEAVE
    chilli = verdict.decide("thrips_leaf", {**facts, "species": "SCITDO"})
    assert chilli.verdict is Verdict.REPORT


# Facts that cannot be


@pytest.mark.parametrize(
    ("facts", "says"),
    [
        ({"moon": "full"}, "'moon' is no fact"),
        ({"pct": 101}, "0 to 100"),
        ({"pct": -1}, "0 to 100"),
        ({"pct": float("nan")}, "0 to 100"),
        ({"pct": "many"}, "must be a number"),
        ({"pct": True}, "must be a number"),
        ({"pct": [25]}, "must be a number"),
        ({"ants": 1}, "true or false"),
        ({"ants": "yes"}, "true or false"),
        ({"season": "monsoon"}, "one of"),
        ({"season": ""}, "must be a word"),
        ({"sm": 13}, "1 to 12"),
        ({"sm": 1.5}, "whole number"),
        ({"sm": 1, "season": "winter"}, "season month 1 is in spring"),
        ({"species": "XANTCI"}, "species"),
        ({"pest_status": "absent"}, "must map"),
        ({"pest_status": {"PHYNCI": "rare"}}, "PHYNCI"),
        ({"local_status": "rare"}, "one of"),
        ({"tree_state": "resting"}, "one of"),
        ({"worse_in_row": -1}, "worse_in_row"),
    ],
)
def test_facts_that_cannot_be_are_refused_and_never_left(facts, says):
    with pytest.raises(ValueError, match=re.escape(says)):
        verdict.decide("leafminer", {"age_y": 12, **facts})


def test_an_unknown_sign_is_refused():
    with pytest.raises(ValueError, match="'dragon' is no sign"):
        verdict.decide("dragon", {})


def test_none_and_unknown_both_mean_not_known():
    facts = {"on_own_roots": False, "leaf3": None, "graft": "unknown"}
    judged = verdict.decide("sucker", facts)
    assert (judged.verdict, judged.asks) == ("watch", "leaf3")


@pytest.mark.parametrize("state", ["dead", "removed", "rootstock_only"])
def test_a_lost_tree_is_not_judged(state):
    facts = {"frac": 0.5}
    assert verdict.decide("trimmer_wound", {**facts, "tree_state": "alive"})
    for judge in (verdict.decide, outcomes, verdict.compact):
        with pytest.raises(NotJudged, match="not judged"):
            judge("trimmer_wound", {**facts, "tree_state": state})


# What a missing answer asks for


def test_what_is_earned_stands_and_the_open_question_is_added():
    judged = verdict.decide("wilt_dry", {"soil": "dry", "age_y": 9})
    assert (judged.verdict, judged.due_days, judged.recheck_days) == ("act", 1, 2)
    assert judged.asks == "droops_at_dawn"
    assert any("Is it still drooping at dawn?" in told for told in judged.because)


def test_the_gravest_open_rule_is_asked_about_first():
    facts = {"season": "autumn", "flush": True}
    judged = verdict.decide("one_branch_yellow", facts)
    assert (judged.verdict, judged.asks) == ("watch", "symmetric")
    matched = verdict.decide("one_branch_yellow", {**facts, "symmetric": True})
    assert (matched.verdict, matched.asks) == ("watch", "yes")


def test_an_open_rule_that_is_no_graver_lets_the_winner_stand():
    """Ladybirds might make it leave; until they are seen the sacs come off."""
    judged = verdict.decide("cottony_cushion", {"count": 6, "age_y": 2})
    assert (judged.verdict, judged.due_days) == ("act", 7)


def test_the_next_look_is_the_soonest_that_makes_sense():
    judged = verdict.decide("aphids", {"pct": 30, "species": "other", "age_y": 8})
    assert (judged.verdict, judged.recheck_days) == ("watch", 7)


# Frost, heat, bees, young trees


def waits(key, kind, **facts):
    steps = verdict.decide(key, facts).steps
    found = {bool(step.waits) for step in steps if step.kind is kind}
    assert len(found) == 1, steps
    return found.pop()


def test_pruning_waits_for_the_end_of_frost():
    assert waits("water_sprout", StepKind.PRUNE, frost_ahead=True)
    assert waits("water_sprout", StepKind.PRUNE, season="winter", frost_ahead=False)
    assert not waits("water_sprout", StepKind.PRUNE, season="summer")


def test_suckers_broken_limbs_and_galls_do_not_wait_for_frost():
    for key in ("sucker", "broken_branch", "gall_wasp"):
        assert not waits(key, StepKind.PRUNE, frost_ahead=True, season="winter")
    facts = {"graft": "below", "woody": True, "frost_ahead": True}
    assert not waits("sucker", StepKind.PRUNE, **facts)


def test_work_that_waits_for_the_last_frost_is_due_so_many_days_after_it():
    facts = {"pct": 20, "local_status": "common", "season": "winter", "sm": 11}
    for more, wait in (({}, 60), ({"frost_ends_d": 41}, 41), ({"sm": 12}, 30)):
        judged = verdict.decide("purple_scale", {**facts, "dieback": True, **more})
        assert judged.due_days == 14
        judged = verdict.decide(PRUNED, {**facts, **more})
        assert (judged.verdict, judged.due_days) == ("act", 14 + wait)
        assert "within 14 days after the last frost" in judged.because[0]
        assert "last frost" in verdict.the_work(judged.steps).waits
    summer = verdict.decide(PRUNED, {**facts, "season": "summer", "sm": 4})
    assert summer.due_days == 14
    assert "last frost" not in summer.because[0]


def test_no_verdict_is_due_before_its_work_may_begin():
    for key in ROWS:
        for known in contexts(key, months=(2, 11)):
            for frost in (True, False):
                facts = {**known, "frost_ahead": frost, "frost_ends_d": 45}
                for outcome in outcomes(key, facts).values():
                    work = verdict.the_work(outcome.steps)
                    if outcome.verdict is Verdict.ACT and work and work.after_frost:
                        assert outcome.due_days >= 45
                        assert "after the last frost" in outcome.because[0]


def test_pruning_moving_and_repotting_wait_for_the_end_of_heat():
    assert waits("water_sprout", StepKind.PRUNE, heat_ahead=True)
    assert waits("pot_rootbound", StepKind.REPOT, heat_ahead=True)
    assert not waits("pot_rootbound", StepKind.REPOT, heat_ahead=False)


def test_water_is_due_today_when_heat_is_coming():
    facts = {"yes": True, "soil": "dry", "heat_ahead": True}
    steps = verdict.decide("wilt_dry", facts).steps
    assert {step.due_days for step in steps if step.kind is StepKind.WATER} == {0}


def test_heat_adds_water_to_work_but_never_on_wet_soil():
    facts = {"frac": 0.5, "heat_ahead": True}
    dry, wet = (
        [
            step
            for step in verdict.decide("trimmer_wound", {**facts, "soil": soil}).steps
            if step.kind is StepKind.WATER
        ]
        for soil in ("dry", "wet")
    )
    assert [step.due_days for step in dry] == [0]
    assert wet == []


PRUNED = replace(
    GUIDE.signs["purple_scale"],
    steps=tuple(
        step
        for step in GUIDE.signs["purple_scale"].steps
        if step.kind is StepKind.PRUNE
    ),
)


def sprayed(kind):
    """A sign of our own whose one step is a spray or an oil."""
    leafminer = GUIDE.signs["leafminer"]
    [step, *_] = leafminer.steps
    return replace(leafminer, steps=(replace(step, kind=kind),))


@pytest.mark.parametrize("kind", [StepKind.SPRAY, StepKind.OIL])
def test_nothing_is_sprayed_while_the_tree_blooms(kind):
    """Nothing is sprayed while the tree blooms.

    BBCH 60 to 69 is flowering (Agusti et al. 1997).
    """
    sign = sprayed(kind)
    held = [
        stage
        for stage in range(100)
        if verdict.decide(sign, {"bbch": stage}).steps[0].waits
    ]
    assert held == list(range(60, 70))


def test_a_tree_planted_under_42_days_ago_is_neither_fed_nor_pruned():
    facts = {"pct": 60, "season": "summer", "soil": "moist"}
    assert waits("pale_growing", StepKind.FEED, planted_d=41, **facts)
    assert not waits("pale_growing", StepKind.FEED, planted_d=42, **facts)
    assert waits("water_sprout", StepKind.PRUNE, planted_d=41)
    for key in ("sucker", "broken_branch"):
        assert not waits(key, StepKind.PRUNE, planted_d=10)


# Worse again


def test_two_times_worse_turns_leave_into_watch_and_watch_into_a_review():
    left = {"pct": 60, "age_y": 12}
    for times, expected in ((0, "leave"), (1, "leave"), (2, "watch"), (3, "watch")):
        judged = verdict.decide("leafminer", {**left, "worse_in_row": times})
        assert judged.verdict == expected
    watched = {"pct": 10, "age_y": 2, "worse_in_row": 2}
    judged = verdict.decide("leafminer", watched)
    assert (judged.verdict, judged.due_days, judged.review) == ("act", 3, True)
    assert judged.recheck_days == 14
    assert judged.steps[0].kind is StepKind.PEOPLE


def test_two_times_worse_changes_no_graver_verdict():
    facts = {"frac": 0.5}
    plain = verdict.decide("trimmer_wound", facts)
    worse = verdict.decide("trimmer_wound", {**facts, "worse_in_row": 5})
    assert (plain.verdict, plain.due_days) == (worse.verdict, worse.due_days)
    assert not worse.review


# Headline


def test_the_headline_is_the_gravest_verdict_then_the_earliest_due():
    leave = verdict.decide("leafminer", {"pct": 5, "age_y": 12})
    soon = verdict.decide("trimmer_wound", {"frac": 0.8})
    later = verdict.decide("trimmer_wound", {"frac": 0.3})
    report = verdict.decide("psyllid_nymph", {"count": 1})
    assert judging.headline([leave, later, soon]) is soon
    assert judging.headline([soon, report, leave]) is report
    assert judging.headline([]) is None


# House rules


def house(rows, number=12, starts_on=date(2026, 1, 1), sign="leafminer"):
    return RuleSet(
        id=number,
        sign=sign,
        rules=guide.read_rules(rows, GUIDE.facts, "house rule"),
        author="Cora",
        reason="Visitors ask about every mined leaf.",
        starts_on=starts_on,
    )


STRICT = [
    {
        "if": {"pct>=": 5},
        "verdict": "act",
        "due": 2,
        "because": "We show this tree.",
    },
    {"if": {}, "verdict": "watch", "recheck": 7, "because": "We look often."},
]


def test_a_house_rule_takes_the_place_of_the_guides_own():
    """A house rule takes the place of the guide's own."""
    facts = {"pct": 10, "age_y": 12}
    judged = verdict.decide("leafminer", facts, [house(STRICT)])
    assert (judged.verdict, judged.due_days, judged.rule_id) == ("act", 2, "house:12")
    assert judged.because[-1] == (
        "House rule of Cora since 2026-01-01: Visitors ask about every mined leaf."
    )
    assert verdict.decide("aphids", {"pct": 0}, [house(STRICT)]).rule_id == "aphids/0"


def test_of_two_house_rules_the_one_that_starts_last_holds():
    later = house([STRICT[1]], number=13, starts_on=date(2026, 3, 1))
    judged = verdict.decide("leafminer", {"pct": 10}, [later, house(STRICT)])
    assert judged.rule_id == "house:13"


def test_a_house_rule_does_not_silence_a_pest_to_report():
    easy = [{"if": {}, "verdict": "leave", "because": "We know it."}]
    rules = [house(easy, sign="psyllid_nymph")]
    assert verdict.decide("psyllid_nymph", {"count": 2}, rules).rule_id == "G0"


def test_a_house_rule_that_leaves_a_gap_is_refused():
    whole = house(STRICT)
    gap = RuleSet(
        12, "leafminer", whole.rules[:1], "Cora", "Because.", date(2026, 1, 1)
    )
    with pytest.raises(GuideError, match="last rule"):
        verdict.decide("leafminer", {}, [gap])


def test_outcomes_follow_the_house_rule():
    found = outcomes("leafminer", {"age_y": 12}, [house(STRICT)])
    told = {answer: judged.verdict.value for answer, judged in found.items()}
    assert told == {"pct=0..5": "watch", "pct=5..=100": "act", "pct=?": "watch"}
    page = verdict.compact("leafminer", {"age_y": 12}, [house(STRICT)])
    assert page["table"] == [0, 1, 2]


# Answers


def test_bands_are_told_as_people_say_them():
    [first, *_] = open_facts("trimmer_wound", {})
    assert [choice.label for choice in first.choices] == [
        "0 of the circle",
        "more than 0, under 0.25 of the circle",
        "0.25 to under 0.5 of the circle",
        "0.5 to under 0.75 of the circle",
        "0.75 of the circle or more",
        "Not answered",
    ]
    [snails, *_] = open_facts("snails", {"age_y": 2})
    labels = [choice.label for choice in snails.choices]
    assert labels == ["0", "1 to 2", "3 to 9", "10 or more", "Not answered"]


def test_an_answer_key_names_the_band_a_number_falls_in():
    asked = open_facts("soft_scale", {})
    assert answer_key(asked, {"pct": 25, "ants": True}) == (
        "pct=10..30&ants=yes&enemies=?"
    )
    assert facts_for("pct=10..30&ants=yes&enemies=?") == {
        "pct": 10,
        "ants": True,
    }
    assert facts_for("pct=0&ants=no") == {"pct": 0, "ants": False}
    with pytest.raises(ValueError, match="pct"):
        answer_key(asked, {"pct": 140})
    with pytest.raises(ValueError, match="no fact"):
        facts_for("moon=full")


def test_a_fact_that_is_known_is_not_asked():
    names = [fact.key for fact in open_facts("leafminer", {"age_y": 3})]
    assert names == ["pct"]
    everything = {"pct": 5, "age_y": 3}
    assert open_facts("leafminer", everything) == []
    assert list(outcomes("leafminer", everything)) == [""]
    assert verdict.compact("leafminer", everything)["table"] == [0]


def test_a_fact_that_can_no_longer_change_the_verdict_is_not_asked():
    wet = open_facts("wilt_dry", {"soil": "wet"})
    dry = open_facts("wilt_dry", {"soil": "dry"})
    assert [fact.key for fact in wet] == []
    assert [fact.key for fact in dry] == ["droops_at_dawn"]


def test_a_verdict_in_short_is_the_reason_of_its_rule():
    judged = verdict.decide("leafminer", {"pct": 10, "age_y": 10})
    (reason,) = {rule.because for rule in GUIDE.signs["leafminer"].rules} & set(
        judged.because
    )
    assert verdict.in_short(judged.because, judged.rule_id) == reason


def test_a_verdict_in_short_keeps_what_is_missing_suspected_or_worse():
    missing = verdict.decide("psyllid_nymph", {})
    assert missing.rule_id == "G1"
    said = verdict.in_short(missing.because, missing.rule_id)
    assert said.startswith("One answer is missing: ")
    assert "It would be" not in said
    suspected = verdict.decide("psyllid_nymph", {"count": 1})
    said = verdict.in_short(suspected.because, suspected.rule_id)
    assert "Report within 1 day" in said
    worse = verdict.decide("leafminer", {"pct": 10, "age_y": 2, "worse_in_row": 2})
    said = verdict.in_short(worse.because, worse.rule_id)
    assert said.endswith("so the coordinator reviews it within 3 days.")
    assert verdict.in_short((), "house:1") == ""
