"""Whether fruit may be picked: by its standard and its taste, or by its colour."""

from __future__ import annotations

import pytest

from orchard.science import guide, ripeness
from orchard.science.ripeness import Readiness, Yardstick

NAVEL = ("Washington navel", "orange")
LEMON = ("Eureka lemon", "lemon")
KUMQUAT = ("Meiwa kumquat", "kumquat")
CITRON = ("Buddha's Hand citron", "colour")
GOOD = {"taste": 3, "tasters": 3}


def judged(kind=NAVEL, **measured) -> ripeness.Assessment:
    return ripeness.judge_readiness(*kind, fruits=measured.pop("fruits", 5), **measured)


# UNECE standard FFV-14 (2004 text and its 2017 ratio): navels, juice 33 % at the least,
# sugar over acid 6.5:1 at the least; oranges of other kinds juice 35 %.
@pytest.mark.parametrize(
    ("brix", "acid", "juice", "answer"),
    [
        (10.4, 1.6, 33.0, Readiness.READY),  # 6.5:1, both at their bound
        (10.4, 1.6, 32.9, Readiness.NOT_YET),
        (10.3, 1.6, 40.0, Readiness.NOT_YET),  # 6.44:1
        (10.4, None, 29.0, Readiness.NOT_YET),  # missed already, whatever the acid
        (10.4, None, 40.0, Readiness.NOT_MEASURED),
        (None, None, None, Readiness.NOT_MEASURED),
    ],
)
def test_a_navel_is_held_against_juice_and_ratio(brix, acid, juice, answer) -> None:
    found = judged(brix=brix, acid=acid, juice_percent=juice, **GOOD)
    assert found.readiness is answer
    assert found.ripeness is not None
    assert found.ripeness.kind == "navel"
    assert found.yardstick is Yardstick.STANDARD


# Ready is every minimum of the standard and a middle taste of three of five from
# three tasters; common practice, no source.
@pytest.mark.parametrize(
    ("taste", "tasters", "answer"),
    [
        (5, 3, Readiness.READY),
        (3, 3, Readiness.READY),
        (2, 3, Readiness.NOT_YET),
        (5, 2, Readiness.UNDECIDED),
        (2, 1, Readiness.UNDECIDED),
        (5, None, Readiness.UNDECIDED),
        (None, None, Readiness.UNDECIDED),
    ],
)
def test_what_the_standard_asks_is_not_enough_without_the_taste(
    taste, tasters, answer
) -> None:
    met = {"brix": 10.4, "acid": 1.6, "juice_percent": 40.0}
    assert judged(**met, taste=taste, tasters=tasters).readiness is answer
    alone = judged(KUMQUAT, brix=14.0, taste=taste, tasters=tasters)
    assert alone.readiness is answer
    assert alone.ripeness is None
    assert alone.yardstick is Yardstick.TASTE


def test_the_best_taste_makes_nothing_good_that_the_standard_misses() -> None:
    assert judged(juice_percent=20.0, taste=5, tasters=9).readiness is Readiness.NOT_YET


def test_four_fruit_speak_for_nobody() -> None:
    # Common practice, no source: five fruit at the least.
    found = judged(fruits=4, brix=12.0, acid=1.0, juice_percent=45.0, **GOOD)
    assert found.readiness is Readiness.UNDECIDED
    assert found.ripeness is not None
    assert found.ripeness.meets is True


def test_where_the_standard_is_silent_the_next_one_speaks() -> None:
    # Western Australia (2023): tangelos juice 40 %, 9 °Brix, 8:1.
    found = judged(
        ("Minneola tangelo", "tangelo"), brix=9.0, acid=1.1, juice_percent=40, **GOOD
    )
    assert found.ripeness is not None
    assert found.ripeness.standard == "western_australia"
    assert found.readiness is Readiness.READY


# Lemons: 20 % in the draft of 2019 (read); 25 % in the older text, but for Verdelli
# and Primofiore (from memory); 25 % in Western Australia (read).
@pytest.mark.parametrize(
    ("standard", "least"),
    [("unece_ffv14", 20.0), ("unece_ffv14_older", 25.0), ("western_australia", 25.0)],
)
def test_the_juice_of_a_lemon_goes_by_the_standard_the_site_chose(
    standard, least
) -> None:
    def at(juice: float) -> Readiness:
        return judged(LEMON, standard=standard, juice_percent=juice, **GOOD).readiness

    assert at(least) is Readiness.READY
    assert at(least - 0.1) is Readiness.NOT_YET


def test_an_older_text_asks_what_the_newer_one_does_where_it_says_nothing() -> None:
    found = judged(
        standard="unece_ffv14_older", brix=10.4, acid=1.6, juice_percent=33.0, **GOOD
    )
    assert found.ripeness is not None
    assert found.ripeness.standard == "unece_ffv14_older"
    assert {rule.required for rule in found.ripeness.requirements} == {33.0, 6.5}


@pytest.mark.parametrize("name", ["Yuzu", "Buddha's Hand citron", "Makrut lime"])
def test_some_fruit_has_no_rule_of_sugar_or_ratio(name) -> None:
    assert guide.load().cultivars[name].is_judged_by_colour


# Half yellow and scented; common practice, no source.
@pytest.mark.parametrize(
    ("colour", "scented", "answer"),
    [
        (50.0, True, Readiness.READY),
        (49.0, True, Readiness.NOT_YET),
        (90.0, False, Readiness.NOT_YET),
        (49.0, None, Readiness.NOT_YET),
        (90.0, None, Readiness.UNDECIDED),
        (None, True, Readiness.UNDECIDED),
    ],
)
def test_such_fruit_is_ready_by_colour_and_scent(colour, scented, answer) -> None:
    """Fruit that no standard speaks of is ready by colour and scent."""
    found = judged(CITRON, colour_percent=colour, scented=scented)
    assert found.readiness is answer
    assert found.yardstick is Yardstick.COLOUR
    few = judged(CITRON, fruits=4, colour_percent=colour, scented=scented)
    assert few.readiness is Readiness.UNDECIDED


def test_no_juice_is_asked_of_a_fruit_without_pulp() -> None:
    sour = judged(CITRON, juice_percent=1.0, taste=1, tasters=3)
    assert sour.readiness is Readiness.UNDECIDED


@pytest.mark.parametrize(
    ("kind", "wrong"),
    [
        (NAVEL, {"taste": 6}),
        (NAVEL, {"fruits": 0}),
        (NAVEL, {"brix": 60.0}),
        (CITRON, {"colour_percent": 101.0}),
    ],
)
def test_what_cannot_be_is_refused(kind, wrong) -> None:
    with pytest.raises(ValueError, match="allowed|at most|at least"):
        judged(kind, **wrong)
