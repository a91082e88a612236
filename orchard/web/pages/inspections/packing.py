"""The verdicts of all signs, small enough to travel with the inspection form."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from orchard.science.units import in_text

DIGITS = "0123456789abcdefghijklmnopqrstuvwxyz"


def packed(outcomes: Mapping[str, Mapping[str, Any]], units: str) -> dict[str, Any]:
    """Return all outcomes small enough to travel with the page.

    Numbers are those of the guide; only what is told is in the orchard's `units`.
    `says` holds every reason once. A sign has `asks` (its facts, each with its
    options: for a number [low, high, ends], ends 1 for the low end and 2 for the high
    end belonging to it; else the values; "not answered" is always one more), `said`
    (first letter of the verdict, days to act, days to look again, then numbers of
    reasons, or "?" and the fact that is missing) and `table`, a digit for every
    combination of answers, the last question turning fastest. `before` is the number
    of the last look; `worse` the sign once more, for a second worse look in a row.
    The rule in words stays on the server: the record tells it.
    """
    says: dict[str, int] = {}
    signs = {key: _packed(outcome, says) for key, outcome in outcomes.items()}
    return {"says": [in_text(text, units) for text in says], "signs": signs}


def _packed(outcome: Mapping[str, Any], says: dict[str, int]) -> dict[str, Any]:
    said: list[list[Any]] = []
    places = []
    for one in outcome["verdicts"]:
        told = [one["verdict"][0], one["due"], one["recheck"], *_reasons(one, says)]
        if told not in said:
            said.append(told)
        places.append(said.index(told))
    packed_sign = {
        "asks": [[ask["fact"], _options(ask)] for ask in outcome["asks"]],
        "said": said,
        "table": _digits([places[one] for one in outcome["table"]]),
    }
    if "before" in outcome:
        packed_sign["before"] = outcome["before"]
    if "worse" in outcome:
        packed_sign["worse"] = _packed(outcome["worse"], says)
    return packed_sign


def _reasons(one: Mapping[str, Any], says: dict[str, int]) -> list[Any]:
    """Number the reasons of a verdict, or name the one fact that is missing."""
    if one["rule"] == "G1":
        return [f"?{one['asks']}"]
    told = one["because"] if one["rule"] == "G0" else one["because"][1:]
    return [says.setdefault(text, len(says)) for text in told]


def _options(ask: Mapping[str, Any]) -> list[Any]:
    answered = ask["options"][:-1]
    if ask["kind"] != "number":
        return [one["value"] for one in answered]
    return [
        [_short(one["low"]), _short(one["high"]), one["low_in"] + 2 * one["high_in"]]
        for one in answered
    ]


def _short(number: float) -> float | int:
    return int(number) if number == int(number) else number


def _digits(table: Sequence[int]) -> str | list[int]:
    """Write a table as a string while a digit is enough for each of its entries."""
    if max(table) < len(DIGITS):
        return "".join(DIGITS[one] for one in table)
    return list(table)
