"""The guide's rules in words: recorded plainly, or in a reader's own wording."""

from __future__ import annotations

import ast
import inspect

import pytest

from orchard.science import guide, verdict
from orchard.science.guide import Condition
from orchard.science.verdict import Wording, words

GUIDE = guide.load()
MARKS = ("gettext", "gettext_noop", "ngettext")


def rule_texts(wording: Wording) -> list[str]:
    return [
        words.rule_text(rule, sign, GUIDE, wording, alone=len(sign.rules) == 1)
        for sign in GUIDE.signs.values()
        for rule in sign.rules
    ]


@pytest.mark.parametrize(
    ("condition", "text"),
    [
        (Condition("pct", ">=", 25), "25 % or more of the leaves"),
        (Condition("count", "<", 1), "under 1 counted"),
        (Condition("frac", ">", 0.25), "more than 0.25 of the way round"),
        (Condition("age_y", "<=", 4), "age of the tree 4 years or less"),
        (Condition("sm", "=", 12), "in season month 12"),
        (Condition("sm", " in", (12, 1, 2)), "in season months 12, 1 and 2"),
        (Condition("sm", ">=", 4), "season month 4 or more"),
        (Condition("season", " in", ("spring", "summer")), "in spring or summer"),
        (Condition("yes", "=", False), "the answer is no"),
        (Condition("ants", "=", True), "ants on the trunk"),
        (Condition("local_status", "=", "common"), "this pest is common here"),
        (Condition("species", "=", "other"), "it is other"),
        (Condition("setting", "=", "container"), "setting: container"),
    ],
)
def test_a_condition_is_recorded_in_plain_english(condition, text):
    assert words.condition_text(condition, GUIDE.signs["leafminer"], GUIDE) == text


def test_a_reader_gets_phrases_amounts_and_months_in_their_own_wording():
    own = Wording(
        gettext=lambda text: f"[{text}]",
        amount=lambda number, fact: f"#{number:g}#",
        months=lambda months: "<months>",
    )
    sign = GUIDE.signs["leafminer"]
    for condition, text in (
        (Condition("pct", ">=", 25), "[#25# or more] [of the leaves]"),
        (Condition("sm", "=", 12), "[in <months>]"),
        (Condition("season", " in", ("spring", "summer")),
         "[in spring [or] summer]"),
    ):  # fmt: skip
        assert words.condition_text(condition, sign, GUIDE, own) == text


def test_every_phrase_of_the_guides_rules_is_marked_for_translation():
    """Makemessages finds what stands in a call by one of these names."""
    marked = {
        argument.value
        for node in ast.walk(ast.parse(inspect.getsource(words)))
        if isinstance(node, ast.Call)
        and getattr(node.func, "attr", getattr(node.func, "id", "")) in MARKS
        for argument in node.args
        if isinstance(argument, ast.Constant)
    }
    asked: set[str] = set()

    def gettext(text: str) -> str:
        asked.add(text)
        return text

    assert all(rule_texts(Wording(gettext=gettext)))
    assert "%(amount)s or more" in asked
    assert asked <= marked


def test_what_else_would_hold_is_the_conclusion_where_no_other_rule_holds():
    judged = verdict.decide("psyllid_nymph", {})
    assert judged.rule_id == "G1"
    assert judged.because[-2:] == (
        "It would be Report if this held: 1 or more counted.",
        "Otherwise: Leave.",
    )
