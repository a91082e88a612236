"""The closed vocabularies and the way a source is cited."""

from __future__ import annotations

import inspect
import random
from enum import StrEnum

import pytest

from orchard.science import words
from orchard.science.source import Source, Verification, cite
from orchard.science.words import LocalStatus, Measure, Verdict

VOCABULARIES = [
    found
    for _, found in inspect.getmembers(words, inspect.isclass)
    if issubclass(found, StrEnum) and found is not StrEnum
]


def test_the_verdicts_rise_from_leave_to_report():
    shuffled = list(Verdict)
    random.Random(4).shuffle(shuffled)
    ordered = sorted(shuffled, key=lambda verdict: verdict.rank, reverse=True)
    assert ordered == ["report", "act", "watch", "leave"]


def test_a_verdict_is_told_by_its_word():
    assert [verdict.label for verdict in Verdict] == ["Leave", "Watch", "Act", "Report"]


@pytest.mark.parametrize("vocabulary", VOCABULARIES, ids=lambda v: v.__name__)
def test_every_word_is_a_lower_case_code_that_reads_back_as_itself(vocabulary):
    for word in vocabulary:
        assert word.value == word.value.lower()
        assert " " not in word.value
        assert vocabulary(word.value) is word


@pytest.mark.parametrize("measure", Measure, ids=str)
def test_every_measure_is_carried_by_one_fact(measure):
    assert measure.fact in {"yes", "count", "pct", "frac", "cm", "hours"}
    assert (measure.fact == "pct") is measure.value.startswith("pct_")


def test_absent_and_regulated_pests_must_be_reported_and_common_ones_not():
    reported = [status for status in LocalStatus if status.must_be_reported]
    assert reported == ["absent", "regulated"]


def test_a_source_that_was_read_is_cited_in_one_line():
    source = Source(
        key="FAO-56",
        author="Allen and others",
        title="Crop evapotranspiration",
        place="FAO Irrigation and Drainage Paper 56",
        year=1998,
        how=Verification.READ,
    )
    assert cite(source) == (
        "Allen and others (1998): Crop evapotranspiration. "
        "FAO Irrigation and Drainage Paper 56."
    )


def test_a_source_from_memory_says_so():
    source = Source(key="X", author="WMO", title="Seasons", place="")
    assert cite(source) == "WMO: Seasons. [from memory]"
