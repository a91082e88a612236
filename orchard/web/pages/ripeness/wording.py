"""Ripeness in words: what a test says, why, and what it was held against."""

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
class Held:
    """One requirement as a line of a table."""

    what: str
    measured: str
    required: str
    met: str


@dataclass(frozen=True, slots=True)
class Told:
    """A test as it is read."""

    tested: MaturityReading
    word: str
    why: str
    figures: str
    held: tuple[Held, ...]
    standard: str
    sources: tuple[str, ...]


def told(tested: MaturityReading) -> Told:
    """Return a test in words."""
    found = tested.answer.ripeness
    return Told(
        tested=tested,
        word=readiness_word(tested.answer.readiness),
        why=_why(tested),
        figures="; ".join(_figures(tested)),
        held=tuple(_held(one) for one in found.requirements) if found else (),
        standard=found.standard_name if found else "",
        sources=tuple(dict.fromkeys(one.source for one in found.requirements))
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


def _why(tested: MaturityReading) -> str:
    answer = tested.answer
    fewest = round(figure("ripeness_fewest_fruit").value)
    if tested.test.fruits < fewest:
        return _(
            "%(fewest)d fruit at the least speak for a kind: one may be an early one."
        ) % {"fewest": fewest}
    found = answer.ripeness
    if answer.by_taste:
        said = {"taste": tested.test.get_taste_display()}
        if found is None:
            return (
                _("No standard speaks of this kind, so the taste decides: %(taste)s.")
                % said
            )
        return (
            _("What the standard asks is not all measured, so the taste decides: "
              "%(taste)s.") % said
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
            measure_word(one.measure) for one in found.requirements if one.met is None
        ]
        return _("Still to be measured: %(what)s. Or taste it.") % {
            "what": ", ".join(missing)
        }
    line = _held(decisive)
    return _("%(what)s is %(measured)s; %(standard)s asks for %(required)s.") % {
        "what": line.what[:1].upper() + line.what[1:],
        "measured": line.measured,
        "required": line.required,
        "standard": found.standard_name,
    }


def _held(one: Requirement) -> Held:
    required = _("not stated")
    if one.required is not None:
        bound = _("at most %(value)s") if one.at_most else _("at least %(value)s")
        required = bound % {"value": _value(one.required, one)}
    met = {True: _("met"), False: _("missed"), None: _("not measured")}[one.met]
    return Held(
        what=measure_word(one.measure),
        measured=_("not measured")
        if one.measured is None
        else _value(one.measured, one, _digits(one)),
        required=required,
        met=met,
    )


def _digits(one: Requirement) -> int:
    """Return the decimals that show on which side of its bound a figure lies."""
    if one.measured is None or one.required is None or one.met is not False:
        return 1
    return next(
        (some for some in (1, 2) if round(one.measured, some) != one.required), 3
    )


def _written(value: float, digits: int) -> str:
    # What is cut off would show less than was measured.
    return number_format(round(value, digits), decimal_pos=digits)


def _value(value: float, one: Requirement, digits: int = 1) -> str:
    written = _written(value, digits)
    if one.measure == "ratio":
        return f"{written}:1"
    if one.measure in ("juice", "acid", "acid_at_most"):
        return f"{written}\N{NO-BREAK SPACE}%"
    if one.measure == "brix":
        return f"{written}\N{NO-BREAK SPACE}°Brix"
    return written


def _figures(tested: MaturityReading) -> Iterator[str]:
    test = tested.test
    yield ngettext("%(count)d fruit", "%(count)d fruit", test.fruits) % {
        "count": test.fruits
    }
    if tested.brix is not None:
        brix = f"{_written(tested.brix, 1)}\N{NO-BREAK SPACE}°Brix"
        if test.juice_c is not None:
            read = _written(test.brix_read, 1)
            brix = _("%(brix)s at 20 °C (read as %(read)s)") % {
                "brix": brix,
                "read": read,
            }
        yield brix
    if tested.acid is not None:
        yield _("acid %(share)s %%") % {"share": _written(tested.acid, 2)}
    if tested.ratio is not None:
        yield _("sugar over acid %(ratio)s:1") % {"ratio": _written(tested.ratio, 1)}
    if tested.juice is not None:
        yield _("juice %(share)s %%") % {"share": _written(tested.juice, 1)}
    if test.taste is not None:
        yield _("taste %(taste)d of 5, %(word)s") % {
            "taste": test.taste,
            "word": test.get_taste_display(),
        }
