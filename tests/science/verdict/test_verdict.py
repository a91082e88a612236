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
    named = list(row["eppo"])
    for rule in row["rule"]:
        for left, value in rule["if"].items():
            if LEFT.fullmatch(left).group(1) == "species":
                codes = value if isinstance(value, list) else [value]
                named += [code for code in codes if code not in named]
    return named


def plainly(row, facts):
    """Judge complete facts: a pest to report that is seen, else the first rule."""
    codes = species_of(row)
    facts = dict(facts)
    if codes:
        told = facts.get("species")
        standings = {PESTS[code] for code in codes}
        if told in PESTS:
            facts["local_status"] = PESTS[told]
        else:
            uniform = len(standings) == 1
            facts["local_status"] = next(iter(standings)) if uniform else "common"
        reported = {code for code in codes if PESTS[code] != "common"}
        matched = reported == set(codes) or told in reported
        if matched and holds(row["positive"], facts):
            return ("report", 1)
    rule = next(rule for rule in row["rule"] if holds(rule["if"], facts))
    return (rule["verdict"], rule.get("due"))


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
        assert (judged.verdict.value, judged.due_days) == plainly(row, facts), facts
        assert judged.asks is None


@pytest.mark.parametrize("key", ROWS)
def test_nothing_is_left_while_a_missing_answer_could_make_it_worse(key):
    """Every subset of unknown facts is filled in, in every way, by brute force."""
    row = ROWS[key]
    names, values = axes(row, ends=False)
    assert prod(len(each) + 1 for each in values) < 400_000
    worst = {}
    for chosen in product(*values):
        worst[chosen] = RANK[plainly(row, given_to(names, chosen))[0]]
    # One unknown more at a time: the worst over all values of the last one opened.
    for place, each in enumerate(values):
        heads = {(c[:place], c[place + 1 :]) for c in worst}
        for head, tail in heads:
            filled = [worst[(*head, value, *tail)] for value in each]
            worst[(*head, None, *tail)] = max(filled)
    for chosen, rank in worst.items():
        judged = verdict.decide(key, given_to(names, chosen))
        if judged.verdict is Verdict.LEAVE:
            assert rank == 0, given_to(names, chosen)
        elif rank == 0:
            # Nothing worse than leave is possible, so nobody is sent out.
            assert judged.verdict.rank <= 1, given_to(names, chosen)
        if judged.rule_id == "G1":
            assert judged.verdict is Verdict.WATCH
            assert given_to(names, chosen).get(judged.asks) is None
            assert judged.recheck_days


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
def test_the_first_question_is_the_signs_own(key):
    [first, *_] = open_facts(key, {"sm": 3})
    assert first.ask == GUIDE.signs[key].ask


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
        "Age of the tree under 4 years; share of leaves 25 % or more: "
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


def test_species_not_told_apart_are_watched_and_asked_for():
    judged = verdict.decide("aphids", {"pct": 5, "season": "spring", "ants": False})
    assert (judged.verdict, judged.asks) == ("watch", "species")


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
    facts = {"count": 3, "season": "summer"}
    assert verdict.decide("fruit_fly", facts).verdict is Verdict.REPORT
    both = {"CERTCA": "common", "DACUTR": "common"}
    known = verdict.decide("fruit_fly", {**facts, "pest_status": both})
    assert (known.verdict, known.due_days) == ("act", 1)
    one = verdict.decide("fruit_fly", {**facts, "pest_status": {"CERTCA": "common"}})
    assert (one.verdict, one.asks) == ("watch", "species")
    fly = {**facts, "pest_status": {"CERTCA": "common"}, "species": "CERTCA"}
    assert verdict.decide("fruit_fly", fly).verdict is Verdict.ACT


def test_a_standing_nobody_gave_is_said_to_be_assumed():
    assumed = verdict.decide("fruit_fly", {"count": 3})
    told = verdict.decide("fruit_fly", {"count": 3, "local_status": "absent"})
    assert any("has not said" in sentence for sentence in assumed.because)
    assert not any("has not said" in sentence for sentence in told.because)


def test_the_standing_of_a_sign_does_not_speak_for_species_only_its_rules_name():
    facts = {"pct": 60, "age_y": 8, "local_status": "common"}
    assert verdict.decide("thrips_leaf", facts).asks == "species"
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
    assert (judged.verdict, judged.asks) == ("watch", "graft")


@pytest.mark.parametrize("state", ["dead", "removed", "rootstock_only"])
def test_a_lost_tree_is_not_judged(state):
    facts = {"frac": 0.5}
    assert verdict.decide("trimmer_wound", {**facts, "tree_state": "alive"})
    for judge in (verdict.decide, outcomes, verdict.compact):
        with pytest.raises(NotJudged, match="not judged"):
            judge("trimmer_wound", {**facts, "tree_state": state})


# What a missing answer asks for


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


def test_green_suckers_broken_limbs_and_galls_do_not_wait_for_frost():
    for key in ("sucker", "broken_branch", "gall_wasp"):
        assert not waits(key, StepKind.PRUNE, frost_ahead=True, season="winter")
    judged = verdict.decide("sucker", {"woody": True, "frost_ahead": True})
    assert all(step.waits for step in judged.steps if step.kind is StepKind.PRUNE)


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


def sprayed(kind):
    """A sign of our own whose one step is a spray or an oil."""
    leafminer = GUIDE.signs["leafminer"]
    [step, *_] = leafminer.steps
    return replace(leafminer, steps=(replace(step, kind=kind),))


@pytest.mark.parametrize("kind", [StepKind.SPRAY, StepKind.OIL])
def test_nothing_is_sprayed_while_the_tree_blooms(kind):
    """BBCH 60 to 69 is flowering (Agusti et al. 1997)."""
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
    winter = open_facts("red_mite", {"season": "winter"})
    summer = open_facts("red_mite", {"season": "summer"})
    assert [fact.key for fact in winter] == ["pct"]
    assert [fact.key for fact in summer] == ["pct", "enemies"]


def test_a_verdict_in_short_is_the_reason_of_its_rule():
    judged = verdict.decide("leafminer", {"pct": 10, "age_y": 10})
    (reason,) = {rule.because for rule in GUIDE.signs["leafminer"].rules} & set(
        judged.because
    )
    assert verdict.in_short(judged.because, judged.rule_id) == reason


def test_a_verdict_in_short_keeps_what_is_missing_suspected_or_worse():
    missing = verdict.decide("leafminer", {})
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
