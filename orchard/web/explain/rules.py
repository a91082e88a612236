"""The guide's rules written for people: in words, months and their own units."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from django.utils.dates import MONTHS
from django.utils.formats import number_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop, ngettext, pgettext

from orchard.records.models import Orchard
from orchard.science import guide, units, windows
from orchard.science.guide import Condition, Fact, Rule, Sign
from orchard.science.words import LocalStatus, Measure, Part, Verdict

OF_MEASURE = {
    Measure.PCT_LEAVES: gettext_noop("of the leaves"),
    Measure.PCT_SHOOTS: gettext_noop("of the shoots"),
    Measure.PCT_FRUIT: gettext_noop("of the fruit"),
    Measure.PCT_FLOWERS: gettext_noop("of the flowers"),
    Measure.PCT_CANOPY: gettext_noop("of the canopy"),
}


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
    words = {
        LocalStatus.ABSENT: _("not known here"),
        LocalStatus.REGULATED: _("here, and regulated"),
        LocalStatus.COMMON: _("common here"),
    }
    return words[LocalStatus(status)]


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


def joined(words: Iterable[str], last: str = "") -> str:
    """Join words as a sentence does: "a, b and c"."""
    words = [str(word) for word in words]
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} {last or _('and')} {words[-1]}"


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
    return f"{figure}\u00a0{unit}" if unit and fact.key != "frac" else figure


def condition_text(condition: Condition, sign: Sign, orchard: Orchard) -> str:
    """Write one condition of a rule as a piece of a sentence."""
    rules = guide.load()
    fact = rules.facts[condition.fact]
    several = condition.value if isinstance(condition.value, tuple) else None
    values = several or (condition.value,)
    if fact.kind == "yes_no":
        if fact.key == "yes":
            words = _("the answer is yes"), _("the answer is no")
        else:
            words = fact.words, fact.no_words
        return words[0] if condition.value is True else words[1]
    if fact.key == "sm":
        numbers = [int(str(value)) for value in values]
        months = months_text(numbers, float(orchard.latitude))
        return _("in %(months)s") % {"months": months}
    if fact.key == "season":
        return _("in %(seasons)s") % {"seasons": joined(map(str, values), _("or"))}
    if fact.key == "species":
        names = [rules.pests[str(value)].taxon for value in values]
        return _("it is %(names)s") % {"names": joined(names, _("or"))}
    if fact.key == "local_status":
        names = [status_word(str(value)) for value in values]
        return _("this pest is %(status)s") % {"status": joined(names, _("or"))}
    if fact.kind == "choice" or several:
        names = [str(value).replace("_", " ") for value in values]
        return f"{fact.words}: {joined(names, _('or'))}"
    return _compared(condition, fact, sign, orchard)


def _compared(condition: Condition, fact: Fact, sign: Sign, orchard: Orchard) -> str:
    compared = {
        ">=": _("%(amount)s or more"),
        ">": _("more than %(amount)s"),
        "<=": _("%(amount)s or less"),
        "<": _("under %(amount)s"),
        "=": _("exactly %(amount)s"),
    }[condition.op] % {"amount": _amount(float(str(condition.value)), fact, orchard)}
    if fact.key == "pct" and sign.measure in OF_MEASURE:
        return f"{compared} {_(OF_MEASURE[sign.measure])}"
    if fact.key == "count":
        return _("%(amount)s counted") % {"amount": compared}
    if fact.key == "frac":
        return _("%(amount)s of the way round") % {"amount": compared}
    return f"{fact.words} {compared}"


def limit_text(condition: Condition, sign: Sign) -> str:
    """Name a threshold as the label of its field: "share of the leaves, at least"."""
    fact = guide.load().facts[condition.fact]
    what = fact.words
    if fact.key == "pct" and sign.measure in OF_MEASURE:
        what = f"{what} {_(OF_MEASURE[sign.measure])}"
    how = {
        ">=": _("at least"),
        ">": _("more than"),
        "<=": _("at most"),
        "<": _("under"),
        "=": _("exactly"),
    }[condition.op]
    return f"{what[:1].upper()}{what[1:]}, {how}"


def rule_text(rule: Rule, sign: Sign, orchard: Orchard, *, alone: bool) -> str:
    """Write what a rule asks for; the last one of a list holds in all other cases."""
    if rule.is_unconditional:
        return _("Always") if alone else _("In all other cases")
    sentence = joined(
        condition_text(condition, sign, orchard) for condition in rule.conditions
    )
    return sentence[:1].upper() + sentence[1:]


def due_text(due: int | None) -> str:
    """Write within how many days something is to be done."""
    if due is None:
        return ""
    if due == 0:
        return _("today")
    return ngettext("within %(count)d day", "within %(count)d days", due) % {
        "count": due
    }


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
    return tuple(
        RuleLine(
            when=rule_text(rule, sign, orchard, alone=len(rules) == 1),
            verdict=Verdict(rule.verdict).value,
            then=", ".join(
                text
                for text in (due_text(rule.due), recheck_text(rule.recheck))
                if text
            ),
            because=rule.because,
        )
        for rule in rules
    )


def first_sentence(text: str) -> str:
    """Return the first sentence of a text, for a list."""
    head, stop, _rest = text.partition(". ")
    return f"{head}." if stop else head


def month_name(today: date) -> str:
    """Return the name of the month of a day."""
    return str(MONTHS[today.month])
