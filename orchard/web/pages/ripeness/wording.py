"""Ripeness in words: what a test says, why, and what its standard asks for."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from django.utils.formats import number_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from orchard.science import guide
from orchard.science.figures import figure
from orchard.science.ripeness import (
    Assessment,
    Readiness,
    Requirement,
    Ripeness,
    Yardstick,
)
from orchard.science.windows import Measured
from orchard.science.words import JobRole
from orchard.services.fruit import MaturityReading
from orchard.services.quantities import span_words
from orchard.services.ripeness import KindRipeness


@dataclass(frozen=True, slots=True)
class RequirementText:
    """One requirement as a line of a table."""

    what: str
    measured: str
    required: str
    met: str


@dataclass(frozen=True, slots=True)
class KindText:
    """How the fruit of a kind stands, in a word or two, and since when."""

    word: str
    on: date | None


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


def test_text(reading: MaturityReading) -> str:
    """Say in one line what a test of fruit says of its kind."""
    text = reading_text(reading)
    return f"{reading.test.tree.kind.name}: {text.word}. {text.why}"


def kind_text(row: KindRipeness) -> KindText:
    """Return how the fruit of a kind in a block stands, the same on every page."""
    if not row.free_trees:
        return KindText(_("leave alone"), None)
    if row.picked_on is not None:
        return KindText(_("picked"), row.picked_on)
    if row.newest is None:
        return KindText(_("not tested yet"), None)
    word = readiness_word(row.newest.answer.readiness)
    return KindText(_("%(word)s, tested") % {"word": word}, row.newest.test.tested_on)


def readiness_word(readiness: Readiness) -> str:
    """Name what a test says in a word or two."""
    return {
        Readiness.READY: _("ready to pick"),
        Readiness.NOT_MEASURED: _("taste fine, not measured"),
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
        return _("Test at least %(fewest)d fruit: one alone may be early.") % {
            "fewest": fewest
        }
    if answer.yardstick is Yardstick.COLOUR:
        return _why_by_colour(answer)
    found = answer.ripeness
    if found is not None and found.meets is False:
        return _missed(found)
    if answer.tasty is False:
        return _("It doesn't taste ripe yet: %(taste)s.") % {
            "taste": reading.test.get_taste_display()
        }
    asked = [
        measure_word(rule.measure)
        for rule in (found.requirements if found else ())
        if rule.met is None
    ]
    if answer.tasty is None:
        tasters = round(figure("ripeness_fewest_tasters").value)
        asked.append(
            ngettext(
                "taste, by %(count)d person", "taste, by %(count)d people", tasters
            )
            % {"count": tasters}
        )
    if asked:
        return _("Still missing: %(what)s.") % {"what": ", ".join(asked)}
    if found is None:
        return _(
            "No standard covers this cultivar, so the taste decides: %(taste)s."
        ) % {"taste": reading.test.get_taste_display()}
    return _("It meets %(standard)s and tastes ripe.") % {
        "standard": found.standard_name
    }


def _why_by_colour(answer: Assessment) -> str:
    least = round(figure("ripeness_least_colour_percent").value)
    if answer.coloured is False:
        return _("Less than %(least)d %% of the rind is yellow.") % {"least": least}
    if answer.scented is False:
        return _("It has little or no scent yet.")
    if answer.readiness is Readiness.READY:
        return _("At least %(least)d %% of the rind is yellow, and it is scented.") % {
            "least": least
        }
    return _(
        "Sugar and acid don't show when this cultivar is ripe. Enter how much of the "
        "rind is yellow, and whether it is scented."
    )


def _missed(found: Ripeness) -> str:
    decisive = found.decisive
    assert decisive is not None
    line = _requirement_text(decisive)
    return _("%(what)s is %(measured)s; %(standard)s requires %(required)s.") % {
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
        yield ngettext("%(count)d taster", "%(count)d tasters", test.tasters or 1) % {
            "count": test.tasters or 1
        }
    if test.colour_percent is not None:
        yield _("%(share)s %% yellow") % {"share": _written(test.colour_percent, 0)}
    if test.scented is not None:
        yield _("scented") if test.scented else _("little or no scent")


def lead_of_tests() -> str:
    """Say how long before its usual season fruit is tested: "three weeks"."""
    trigger = guide.load().job(JobRole.RIPENESS_TEST).trigger
    assert isinstance(trigger, Measured)
    return span_words(float(trigger.setting("lead_days")))
