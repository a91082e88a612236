"""Ripeness in words: what a test says, why, and what its standard asks for."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from django.utils.formats import number_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from orchard.science.figures import figure
from orchard.science.ripeness import Readiness, Requirement
from orchard.services.fruit import MaturityReading


@dataclass(frozen=True, slots=True)
class RequirementText:
    """One requirement as a line of a table."""

    what: str
    measured: str
    required: str
    met: str


@dataclass(frozen=True, slots=True)
class ReadingText:
    """A test as it is read."""

    reading: MaturityReading
    word: str
    why: str
    figures: str
    requirements: tuple[RequirementText, ...]
    standard: str
    sources: tuple[str, ...]


def reading_text(reading: MaturityReading) -> ReadingText:
    """Return a test in words."""
    found = reading.answer.ripeness
    return ReadingText(
        reading=reading,
        word=readiness_word(reading.answer.readiness),
        why=_why(reading),
        figures="; ".join(_figures(reading)),
        requirements=(
            tuple(_requirement_text(rule) for rule in found.requirements)
            if found
            else ()
        ),
        standard=found.standard_name if found else "",
        sources=tuple(dict.fromkeys(rule.source for rule in found.requirements))
        if found
        else (),
    )


def readiness_word(readiness: Readiness) -> str:
    """Name what a test says in a word or two."""
    return {
        Readiness.READY: _("ready to pick"),
        Readiness.TASTE_AGAIN: _("nearly ready"),
        Readiness.NOT_YET: _("not ready"),
        Readiness.UNDECIDED: _("not decided"),
    }[readiness]


def measure_word(measure: str) -> str:
    """Name what a standard asks for."""
    return {
        "juice": _("juice"),
        "ratio": _("sugar over acid"),
        "brix": _("soluble solids"),
        "brima": _("sugar less acid (BrimA)"),
        "acid": _("acid"),
        "acid_at_most": _("acid"),
    }.get(measure, measure)


def _why(reading: MaturityReading) -> str:
    answer = reading.answer
    fewest = round(figure("ripeness_fewest_fruit").value)
    if reading.test.fruits < fewest:
        return _(
            "%(fewest)d fruit at the least speak for a kind: one may be an early rule."
        ) % {"fewest": fewest}
    found = answer.ripeness
    if answer.by_taste:
        words = {"taste": reading.test.get_taste_display()}
        if found is None:
            return (
                _("No standard speaks of this kind, so the taste decides: %(taste)s.")
                % words
            )
        return (
            _("What the standard asks is not all measured, so the taste decides: "
              "%(taste)s.") % words
        )  # fmt: skip
    if found is None:
        return _("No standard speaks of this kind. Taste it, and say how it tastes.")
    if found.meets:
        return _("All that %(standard)s asks is met.") % {
            "standard": found.standard_name
        }
    decisive = found.decisive
    if decisive is None or decisive.met is None:
        missing = [
            measure_word(rule.measure)
            for rule in found.requirements
            if rule.met is None
        ]
        return _("Still to be measured: %(what)s. Or taste it.") % {
            "what": ", ".join(missing)
        }
    line = _requirement_text(decisive)
    return _("%(what)s is %(measured)s; %(standard)s asks for %(required)s.") % {
        "what": line.what[:1].upper() + line.what[1:],
        "measured": line.measured,
        "required": line.required,
        "standard": found.standard_name,
    }


def _requirement_text(rule: Requirement) -> RequirementText:
    required = _("not stated")
    if rule.required is not None:
        bound = _("at most %(value)s") if rule.at_most else _("at least %(value)s")
        required = bound % {"value": _value(rule.required, rule)}
    met = {True: _("met"), False: _("missed"), None: _("not measured")}[rule.met]
    return RequirementText(
        what=measure_word(rule.measure),
        measured=_("not measured")
        if rule.measured is None
        else _value(rule.measured, rule, _digits(rule)),
        required=required,
        met=met,
    )


def _digits(rule: Requirement) -> int:
    """Return the decimals that show on which side of its bound a figure lies."""
    if rule.measured is None or rule.required is None or rule.met is not False:
        return 1
    return next(
        (places for places in (1, 2) if round(rule.measured, places) != rule.required),
        3,
    )


def _written(value: float, digits: int) -> str:
    # What is cut off would show less than was measured.
    return number_format(round(value, digits), decimal_pos=digits)


def _value(value: float, rule: Requirement, digits: int = 1) -> str:
    written = _written(value, digits)
    if rule.measure == "ratio":
        return f"{written}:1"
    if rule.measure in ("juice", "acid", "acid_at_most"):
        return f"{written}\N{NO-BREAK SPACE}%"
    if rule.measure == "brix":
        return f"{written}\N{NO-BREAK SPACE}°Brix"
    return written


def _figures(reading: MaturityReading) -> Iterator[str]:
    test = reading.test
    yield ngettext("%(count)d fruit", "%(count)d fruit", test.fruits) % {
        "count": test.fruits
    }
    if reading.brix is not None:
        brix = f"{_written(reading.brix, 1)}\N{NO-BREAK SPACE}°Brix"
        if test.juice_c is not None and test.brix_read is not None:
            read = _written(test.brix_read, 1)
            brix = _("%(brix)s at 20 °C (read as %(read)s)") % {
                "brix": brix,
                "read": read,
            }
        yield brix
    if reading.acid is not None:
        yield _("acid %(share)s %%") % {"share": _written(reading.acid, 2)}
    if reading.ratio is not None:
        yield _("sugar over acid %(ratio)s:1") % {"ratio": _written(reading.ratio, 1)}
    if reading.juice is not None:
        yield _("juice %(share)s %%") % {"share": _written(reading.juice, 1)}
    if test.taste is not None:
        yield _("taste %(taste)d of 5, %(word)s") % {
            "taste": test.taste,
            "word": test.get_taste_display(),
        }
