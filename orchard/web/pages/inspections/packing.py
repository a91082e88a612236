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
    rows: list[list[Any]] = []
    places = []
    for verdict in outcome["verdicts"]:
        row = [
            verdict["verdict"][0],
            verdict["due"],
            verdict["recheck"],
            *_reasons(verdict, says),
        ]
        if row not in rows:
            rows.append(row)
        places.append(rows.index(row))
    packed_sign: dict[str, Any] = {
        "asks": [[ask["fact"], _options(ask)] for ask in outcome["asks"]],
        "said": rows,
        "table": _digits([places[number] for number in outcome["table"]]),
    }
    if "before" in outcome:
        packed_sign["before"] = outcome["before"]
    if "worse" in outcome:
        packed_sign["worse"] = _packed(outcome["worse"], says)
    return packed_sign


def _reasons(verdict: Mapping[str, Any], says: dict[str, int]) -> list[Any]:
    """Number the reasons of a verdict, or name the one fact that is missing."""
    if verdict["rule"] == "G1":
        return [f"?{verdict['asks']}"]
    reasons = verdict["because"] if verdict["rule"] == "G0" else verdict["because"][1:]
    return [says.setdefault(text, len(says)) for text in reasons]


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
