"""The guide's rules written for people: in words, months and their own units."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from django.utils.dates import MONTHS
from django.utils.formats import number_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext, pgettext

from orchard.records.models import Orchard
from orchard.science import guide, units, windows
from orchard.science.guide import Fact, Rule, Sign
from orchard.science.verdict import STATUSES, Wording, due_text, join_words, rule_text
from orchard.science.words import LocalStatus, Part, Verdict

SENTENCE_END = re.compile(r"(?<=\.) (?=[A-Z])")


@dataclass(frozen=True, slots=True)
class RuleLine:
    """One rule of a sign as a line of a page."""

    when: str
    verdict: str
    then: str
    because: str


def part_word(part: str) -> str:
    """Return the word for a part of the tree or its place."""
    words = {
        Part.WHOLE_TREE: _("the whole tree"),
        Part.CANOPY: _("the canopy"),
        Part.LEAF: _("leaves"),
        Part.SHOOT: _("shoots"),
        Part.BUD: _("buds"),
        Part.FLOWER: _("flowers"),
        Part.FRUIT: _("fruit"),
        Part.LIMB: _("limbs"),
        Part.TRUNK: _("trunk"),
        Part.GRAFT: _("graft"),
        Part.ROOT: _("roots"),
        Part.SOIL: _("soil"),
        Part.CONTAINER: _("container"),
        Part.SITE: _("the place around it"),
    }
    return words[Part(part)]


def status_word(status: str) -> str:
    """Return the words for how a pest stands in an area."""
    return _(STATUSES[LocalStatus(status)])


def condition_word(step: int) -> str:
    """Return the word for a step of a tree's condition, from 1 to 5."""
    return {
        1: pgettext("condition", "dying"),
        2: pgettext("condition", "poor"),
        3: pgettext("condition", "fair"),
        4: pgettext("condition", "good"),
        5: pgettext("condition", "thriving"),
    }[step]


def month_of(season_month: int, latitude: float) -> int:
    """Return the calendar month of a season month in a hemisphere."""
    return (windows.first_month(latitude) - 2 + season_month) % 12 + 1


def months_text(season_months: Iterable[int], latitude: float) -> str:
    """Write season months as this hemisphere's months, runs joined: "May to July"."""
    wanted = {month_of(month, latitude) for month in season_months}
    if len(wanted) == 12:
        return _("all year")
    # A run may go across New Year, so it begins where the month before is not in it.
    runs = []
    for first in sorted(wanted):
        if (first - 2) % 12 + 1 in wanted:
            continue
        last = first
        while last % 12 + 1 in wanted:
            last = last % 12 + 1
        ends = {"first": MONTHS[first], "last": MONTHS[last]}
        runs.append(
            str(MONTHS[first]) if first == last else _("%(first)s to %(last)s") % ends
        )
    return joined(runs)


def joined(words: Iterable[str]) -> str:
    """Join words as a sentence does: "a, b and c"."""
    return join_words([str(word) for word in words], _("and"))


def shown_number(value: float, fact: Fact, orchard: Orchard) -> float:
    """Return a number of the guide in the orchard's own units."""
    figure, unit = units.shown(value, fact.unit, orchard.units)
    return value if unit == fact.unit else round(figure, 1)


def stored_number(shown: float, fact: Fact, orchard: Orchard) -> float:
    """Return a number in the orchard's own units as the guide keeps it."""
    scale = units.scale_of(fact.unit, orchard.units)
    return shown if scale.unit == fact.unit else round(scale.stored(shown), 2)


def shown_unit(fact: Fact, orchard: Orchard) -> str:
    """Return the unit of a fact as the orchard writes it."""
    return units.scale_of(fact.unit, orchard.units).unit


def _amount(value: float, fact: Fact, orchard: Orchard) -> str:
    shown = shown_number(value, fact, orchard)
    digits = 0 if shown == int(shown) else 2 if abs(shown) < 1 else 1
    figure = number_format(round(shown, digits), decimal_pos=digits)
    unit = shown_unit(fact, orchard)
    return f"{figure}\u00a0{unit}" if unit else figure


def wording_for(orchard: Orchard) -> Wording:
    """Return how rules are written for an orchard: its language, units and months."""
    latitude = float(orchard.latitude)
    return Wording(
        gettext=_,
        ngettext=ngettext,
        amount=lambda value, fact: _amount(value, fact, orchard),
        months=lambda season_months: months_text(season_months, latitude),
    )


def recheck_text(recheck: int | None) -> str:
    """Write after how many days to look again."""
    if recheck is None:
        return ""
    return ngettext(
        "look again after %(count)d day", "look again after %(count)d days", recheck
    ) % {"count": recheck}


def rule_lines(
    rules: Iterable[Rule], sign: Sign, orchard: Orchard
) -> tuple[RuleLine, ...]:
    """Write a whole rule list, in the order in which it is tried."""
    rules = tuple(rules)
    wording = wording_for(orchard)
    alone = len(rules) == 1
    return tuple(
        RuleLine(
            when=rule_text(rule, sign, guide.load(), wording, alone=alone),
            verdict=Verdict(rule.verdict).value,
            then=_then_text(rule, wording),
            because=rule.because,
        )
        for rule in rules
    )


def _then_text(rule: Rule, wording: Wording) -> str:
    due = "" if rule.due is None else due_text(rule.due, wording)
    return ", ".join(text for text in (due, recheck_text(rule.recheck)) if text)


def first_sentence(text: str) -> str:
    """Return the first sentence of a text, for a list."""
    head, stop, _rest = text.partition(". ")
    return f"{head}." if stop else head


def sentences(text: str) -> list[str]:
    """Return a text sentence by sentence, each to stand on a line of its own."""
    return SENTENCE_END.split(text)


def month_name(today: date) -> str:
    """Return the name of the month of a day."""
    return str(MONTHS[today.month])
