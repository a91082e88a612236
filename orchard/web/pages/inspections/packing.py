"""The verdicts of all signs, small enough to travel with the inspection form."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from orchard.science import guide
from orchard.science.units import in_text, scale_of
from orchard.science.words import Verdict

DIGITS = "0123456789abcdefghijklmnopqrstuvwxyz"


def packed(outcomes: Mapping[str, Mapping[str, Any]], units: str) -> dict[str, Any]:
    """Return all outcomes small enough to travel with the page.

    Numbers are those of the guide; only what is told is in the orchard's `units`.
    `says` holds every reason once, `shared` the facts of which one answer of the look
    serves all signs. A sign has `asks` (its facts, each with its
    options: for a number [low, high, ends], ends 1 for the low end and 2 for the high
    end belonging to it; else the values; "not answered" is always one more; then
    unit, step, zero and wholeness of a number, or the words of the values where these
    are not yes and no), `said`
    (first letter of the verdict, days to act, days to look again, then numbers of
    reasons, or "#" and the rule whose reason comes with the card of the sign; "+" and
    the plan to follow where it is not the sign's own; last "?" and the fact that is
    missing) and `table`, a digit for every
    combination of answers, the last question turning fastest. `before` is the number
    of the last look; `worse` the sign once more, for a second worse look in a row.
    The rule in words stays on the server: the record tells it.
    """
    says: dict[str, int] = {}
    signs = {
        key: _packed(key, outcome, says, units) for key, outcome in outcomes.items()
    }
    return {
        "says": [in_text(text, units) for text in says],
        "shared": [key for key, fact in guide.load().facts.items() if fact.about_tree],
        "signs": signs,
    }


def _packed(
    key: str, outcome: Mapping[str, Any], says: dict[str, int], units: str
) -> dict[str, Any]:
    rows: list[list[Any]] = []
    places = []
    for verdict in outcome["verdicts"]:
        row = [
            verdict["verdict"][0],
            verdict["due"],
            verdict["recheck"],
            *_reasons(key, verdict, says),
        ]
        if row not in rows:
            rows.append(row)
        places.append(rows.index(row))
    packed_sign: dict[str, Any] = {
        "asks": [_ask(ask, units) for ask in outcome["asks"]],
        "said": rows,
        "table": _digits([places[number] for number in outcome["table"]]),
    }
    if "before" in outcome:
        packed_sign["before"] = outcome["before"]
    if "worse" in outcome:
        packed_sign["worse"] = _packed(key, outcome["worse"], says, units)
    return packed_sign


def _reasons(key: str, verdict: Mapping[str, Any], says: dict[str, int]) -> list[Any]:
    """Number the reasons of a verdict, and name the plan and the fact missing."""
    plan = [f"+{verdict['plan']}"] if verdict["plan"] else []
    missing = [f"?{verdict['asks']}"] if verdict["asks"] else []
    if missing and verdict["verdict"] == Verdict.WATCH:
        # A look that waits for an answer needs no other reason.
        return [*plan, *missing]
    # The last two sentences of a verdict that asks are about what is missing.
    sentences = verdict["because"][: -2 if missing else None]
    sentences = sentences if verdict["rule"] == "G0" else sentences[1:]
    reasons = [_reason(key, verdict, text, says) for text in sentences]
    return [*reasons, *plan, *missing]


def _reason(
    key: str, verdict: Mapping[str, Any], text: str, says: dict[str, int]
) -> int | str:
    """Number a reason; many come with the card of their sign.

    Those of a report travel with the page, and those of an act on a usual sign.
    """
    sign = guide.load().signs[key]
    on_page = verdict["verdict"] == Verdict.REPORT or (
        verdict["verdict"] == Verdict.ACT and sign.common is not None
    )
    rule, _, place = verdict["rule"].partition("/")
    by_guide = rule == key and not on_page
    if by_guide and text == sign.rules[int(place)].because:
        return f"#{place}"
    return says.setdefault(text, len(says))


def _ask(ask: Mapping[str, Any], units: str) -> list[Any]:
    """Write one question: its fact, its options, and how it is answered.

    The question in words is the guide's and comes with the scripts.
    """
    row = [ask["fact"], _options(ask)]
    if ask["kind"] == "number":
        fact = guide.load().facts[ask["fact"]]
        scale = scale_of(fact.unit, units)
        whole = int(fact.whole and scale.step == 1)
        return [*row, [scale.unit, scale.step, scale.zero, whole]]
    if ask["kind"] == "yes_no":
        return row
    return [*row, "|".join(str(option["label"]) for option in ask["options"][:-1])]


def _options(ask: Mapping[str, Any]) -> list[Any]:
    answered = ask["options"][:-1]
    if ask["kind"] != "number":
        return [option["value"] for option in answered]
    return [
        [
            _short(option["low"]),
            _short(option["high"]),
            option["low_in"] + 2 * option["high_in"],
        ]
        for option in answered
    ]


def _short(number: float) -> float | int:
    return int(number) if number == int(number) else number


def _digits(table: Sequence[int]) -> str | list[int]:
    """Write a table as a string while a digit is enough for each of its entries."""
    if max(table) < len(DIGITS):
        return "".join(DIGITS[number] for number in table)
    return list(table)
