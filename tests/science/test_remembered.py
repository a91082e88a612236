"""What is remembered for trees alike is what would be worked out for each anew."""

from __future__ import annotations

import random

from orchard.science import guide, verdict
from orchard.science.verdict import packing


def some_facts(rng: random.Random) -> dict[str, object]:
    """Facts of an invented tree, those at the thresholds of rules among them."""
    return {
        "sm": rng.randint(1, 12),
        "age_y": rng.choice([0.5, 1, 2, 3.99, 4, 12, 40]),
        "planted_d": rng.choice([10, 41, 42, 364, 365, 729, 730, 1094, 1095, 5000]),
        "setting": rng.choice(["ground", "container"]),
        "frost_ahead": rng.choice([True, False, None]),
        "heat_ahead": rng.choice([True, False, None]),
        "bbch": rng.choice([None, 0, 12, 65, 69, 72, 75, 80, 81, 85]),
        "worse_in_row": rng.choice([0, 1, 2, 3]),
        "over_path": rng.choice([True, False]),
        "fruit_fly_area": rng.choice([True, False]),
        "on_own_roots": rng.choice([True, False]),
        "frost_days": rng.choice([None, 1, 2, 5, 20, 21, 41, 42, 60]),
        "trend": rng.choice(["first", None, "worse"]),
    }


def test_a_remembered_table_is_the_one_worked_out_anew():
    rng = random.Random(20260512)
    book = guide.load()
    for _ in range(12):
        facts = some_facts(rng)
        for sign in book.signs.values():
            known = dict(facts)
            if rng.random() < 0.7:
                known["pest_status"] = {
                    code: rng.choice(["absent", "regulated", "common"])
                    for code in verdict.codes_of(sign)
                    if rng.random() < 0.9
                }
            anew = packing._packed(book, sign, None, known)
            assert verdict.compact(sign, known) == anew, (sign.key, known)


def test_what_a_page_adds_to_its_table_is_not_remembered():
    table = verdict.compact("leafminer", {"age_y": 2})
    table["before"] = 40
    assert "before" not in verdict.compact("leafminer", {"age_y": 2})
