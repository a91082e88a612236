"""What the published sets say of a content of leaves, in words."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.translation import gettext as _

from orchard.science.feeding import LeafReading
from orchard.services.feeding import NutrientReading, content_text


@dataclass(frozen=True, slots=True)
class SetLine:
    """One set that is for these leaves as a row: its name, its range, what it says."""

    name: str
    range: str
    says: str
    is_own: bool


@dataclass(frozen=True, slots=True)
class NutrientText:
    """One nutrient as a part of the page."""

    key: str
    name: str
    value: str
    headline: str
    # What the set says that the orchard goes by; "" where it is for other leaves.
    own: str
    # Of one set alone the headline says it all.
    lines: tuple[SetLine, ...]
    not_comparable: tuple[str, ...]


def nutrient_text(reading: NutrientReading, own: str = "") -> NutrientText:
    """Write a content, whether the sets agree about it, and what each of them says.

    The set of the key `own`, which the orchard goes by, stands first.
    """
    nutrient = reading.nutrient
    lines = tuple(
        sorted(
            (_line(each, own) for each in reading.fitting),
            key=lambda line: not line.is_own,
        )
    )
    by_own = [line for line in lines if line.is_own]
    return NutrientText(
        key=nutrient.key,
        name=nutrient.name,
        value=f"{content_text(reading.value)}\N{NO-BREAK SPACE}{nutrient.unit}",
        headline=_headline(reading, lines),
        own=_("Our set: %(says)s.") % {"says": by_own[0].says} if by_own else "",
        lines=lines if len(lines) > 1 else (),
        not_comparable=tuple(
            _not_comparable(each) for each in reading.readings if each.why_not
        ),
    )


def _headline(reading: NutrientReading, lines: tuple[SetLine, ...]) -> str:
    if reading.agreement == "none":
        return _("No set is for these leaves.")
    if reading.agreement == "disagree":
        return _("Sets disagree: watch, and test again.")
    if reading.agreement == "one":
        [line] = lines
        return _("One set fits. %(set)s, %(range)s: %(says)s.") % {
            "set": line.name, "range": line.range, "says": line.says
        }  # fmt: skip
    sides = {
        "below": _("Sets agree: below the range."),
        "within": _("Sets agree: in range."),
        "above": _("Sets agree: above the range."),
    }
    return sides[reading.fitting[0].side or "within"]


def _line(reading: LeafReading, own: str) -> SetLine:
    says = {
        "deficient": _("deficient"),
        "low": _("low"),
        "optimum": _("in range"),
        "high": _("high"),
        "excess": _("excess"),
    }
    low, high = reading.range
    return SetLine(
        name=reading.leaf_set.name,
        range=f"{low}–{high}" if low else _("up to %(high)s") % {"high": high},
        says=says[reading.status or "optimum"],
        is_own=reading.leaf_set.key == own,
    )


def _not_comparable(reading: LeafReading) -> str:
    words: dict[str, object] = {"set": reading.leaf_set.name}
    if reading.why_not == "group" or reading.leaf_set.months is None:
        return _("%(set)s (other cultivars)") % words
    words["first"], words["last"] = (round(end) for end in reading.leaf_set.months)
    return _("%(set)s (leaves of %(first)d to %(last)d months)") % words
