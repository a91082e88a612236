"""Conversions held against the defining figures of the US customary units."""

from __future__ import annotations

import math
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from orchard.science import guide
from orchard.science.units import US_UNITS, in_text, shown, stored

# From memory: NIST Special Publication 811 (2008), appendix B.8 gives the factors
# from the US unit to SI, exact ones in full, the others to seven figures.
NIST = [
    ("in", "mm", 25.4),
    ("in", "cm", 2.54),
    ("ft", "m", 0.3048),
    ("sq ft", "m²", 0.09290304),
    ("mph", "m/s", 0.44704),
    ("oz", "g", 28.34952),
    ("lb", "kg", 0.4535924),
    ("gal", "L", 3.785412),
]


@pytest.mark.parametrize(("us_unit", "unit", "factor"), NIST)
def test_one_us_unit_is_what_the_published_table_says(us_unit, unit, factor):
    """One US unit is what the published table says."""
    assert stored(1, unit, "us") == pytest.approx(factor, rel=2e-7)
    value, name = shown(factor, unit, "us")
    assert (name, value) == (us_unit, pytest.approx(1, rel=2e-7))


@pytest.mark.parametrize(
    ("celsius", "fahrenheit"),
    # The scale's fixed points: ice, boiling water, and where both scales agree.
    [(0, 32), (100, 212), (-40, -40)],
)
def test_temperatures_meet_the_fixed_points_of_both_scales(celsius, fahrenheit):
    assert shown(celsius, "°C", "us") == (pytest.approx(fahrenheit), "°F")
    assert stored(fahrenheit, "°C", "us") == pytest.approx(celsius)


def test_a_difference_of_temperatures_gets_no_freezing_point():
    assert shown(5, "°C", "us", difference=True) == (9, "°F")
    assert stored(9, "°C", "us", difference=True) == 5


def test_a_metric_orchard_reads_what_is_stored():
    assert shown(12.5, "kg", "metric") == (12.5, "kg")
    assert stored(12.5, "kg", "metric") == 12.5


def test_a_unit_without_a_twin_stays():
    assert shown(12.5, "%", "us") == (12.5, "%")
    assert stored(12.5, "%", "us") == 12.5


@pytest.mark.parametrize("value", [math.nan, math.inf, "3", None, True])
def test_what_is_no_number_is_refused(value):
    with pytest.raises(ValueError, match="value is"):
        shown(value, "kg", "us")
    with pytest.raises(ValueError, match="value is"):
        stored(value, "kg", "us")


def test_an_unknown_system_is_refused():
    with pytest.raises(ValueError, match="'imperial'"):
        shown(1, "kg", "imperial")


@given(st.sampled_from(sorted(US_UNITS)), st.floats(-1e6, 1e6))
def test_what_is_typed_back_is_what_was_stored(unit, value):
    there, _ = shown(value, unit, "us")
    assert stored(there, unit, "us") == pytest.approx(value, abs=1e-6)


@pytest.mark.parametrize(
    ("written", "read"),
    # Worked by hand: 60/2.54 = 23.6, 2/25.4 = 0.079, 30/0.3048 = 98.4,
    # 1/0.3048 = 3.28, -1.9 * 1.8 + 32 = 28.58, 32 * 1.8 + 32 = 89.6.
    [
        ("Raise the skirt to 60 cm", "Raise the skirt to 24 in"),
        ("2 to 4 mm long", "0.08 to 0.16 in long"),
        ("within 30 m of the tree", "within 98 ft of the tree"),
        ("The ring, 1 m out, and 15 cm.", "The ring, 3.3 ft out, and 5.9 in."),
        ("between -1.9 and -3.9 °C", "between 28.6 and 25.0 °F"),
        ("above 32 °C, for 5 hours", "above 90 °F, for 5 hours"),
        ("30 mats, BBCH 60 to 69, A-7 m", "30 mats, BBCH 60 to 69, A-7 m"),
    ],
)
def test_measures_inside_a_sentence_are_told_in_us_units(written, read):
    """Measures inside a sentence are told in US units."""
    assert in_text(written, "us") == read
    assert in_text(written, "metric") == written


def test_every_measure_a_guide_speaks_of_is_told_in_us_units():
    """No metric figure is left in the texts that people act on."""
    left = re.compile(r"\d ?(mm|cm|m|°C|kg|litres?|centimetres?|metres?)\b")
    texts = []
    for sign in guide.load().signs.values():
        texts += [sign.look_for, sign.why, sign.ask, *sign.do_not, *sign.caution]
        texts += [step.do for step in sign.steps] + [one.tell for one in sign.alike]
        texts += [rule.because for rule in sign.rules]
    texts += [fact.ask for fact in guide.load().facts.values()]
    for job in guide.load().jobs.values():
        texts += [job.why, job.caution, job.applies_words, job.evidence]
    metric = [text for text in texts if left.search(text)]
    assert len(metric) > 30
    assert [text for text in metric if left.search(in_text(text, "us"))] == []
    assert not [text for text in texts if re.search(r"centimetre|\bmetres?\b", text)]
