"""The phone's look-up against the law: the script must say what the server says."""

from __future__ import annotations

import json
import random
import shutil
import subprocess

import pytest
from django.conf import settings

from orchard.science import guide
from orchard.services import inspections
from orchard.services.facts import gather
from orchard.services.inspections import SeenSign, judgement
from orchard.web.pages.inspections import packing, sign_blocks
from tests.conftest import NOW, TODAY

NODE = shutil.which("node")
SCRIPT = """
import { verdictOf, completed } from "%s/static/js/inspections/outcomes.js";
let text = "";
for await (const piece of process.stdin) text += piece;
const { packed, cases, reasons } = JSON.parse(text);
const told = cases.map(([key, answers]) => {
  const said = verdictOf(packed.signs[key], answers, packed.says, reasons[key]);
  return [said.verdict, said.due, said.recheck, said.because, said.missing, said.plan];
});
console.log(JSON.stringify(told));
"""

pytestmark = pytest.mark.skipif(NODE is None, reason="node is not installed")


def tries(chance, asks):
    """Answer some of the questions at random, with numbers on and beside thresholds."""
    facts = guide.load().facts
    answers = {}
    for ask in asks:
        if chance.random() < 0.2:
            continue
        fact = facts[ask["fact"]]
        options = ask["options"][:-1]
        if ask["kind"] != "number":
            answers[fact.key] = chance.choice(options)["value"]
            continue
        band = chance.choice(options)
        edges = [band["low"], band["high"], (band["low"] + band["high"]) / 2]
        number = chance.choice(edges)
        answers[fact.key] = round(number) if fact.whole else round(number, 4)
    return answers


def in_law(answers):
    words = {"yes": True, "no": False}
    facts = guide.load().facts
    return {
        key: words[value] if facts[key].kind == "yes_no" else value
        for key, value in answers.items()
    }


def test_the_phone_and_the_server_give_the_same_verdict(tree, vera):
    for share in (5, 9):
        inspections.record(
            tree,
            by=vera,
            now=NOW,
            seen_at=NOW,
            findings=[
                SeenSign("leafminer", {"pct": share}),
                SeenSign("aphids", {"pct": share}),
            ],
        )
    ground = gather(tree, on=TODAY)
    outcomes = sign_blocks.outcomes_of(ground, "citrus")
    packed = packing.packed(outcomes, "metric")
    chance = random.Random(20260512)
    cases = [
        (key, tries(chance, outcome["asks"]))
        for key, outcome in outcomes.items()
        for _turn in range(25)
    ]
    # What comes with the card of a sign.
    reasons = {
        key: [rule.because for rule in guide.load().signs[key].rules]
        for key in outcomes
    }
    done = subprocess.run(
        [NODE, "--input-type=module", "-e", SCRIPT % settings.BASE_DIR],
        input=json.dumps({"packed": packed, "cases": cases, "reasons": reasons}),
        capture_output=True,
        text=True,
        check=True,
        timeout=120,
    )
    for (key, answers), said in zip(cases, json.loads(done.stdout), strict=True):
        judged = judgement.judge(ground, key, in_law(answers)).judgement
        assert said[0] == judged.verdict.value[0], (key, answers)
        assert said[1:3] == [judged.due_days, judged.recheck_days], (key, answers)
        assert said[4:] == [judged.asks, judged.plan], (key, answers)
        if judged.asks and judged.verdict == "watch":
            assert said[3] == [], (key, answers)
        else:
            because = judged.because[: -2 if judged.asks else None]
            told = list(because[judged.rule_id != "G0" :])
            assert said[3] == told, (key, answers)
