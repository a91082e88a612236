"""The guide's rules in words: the one walk over their conditions.

Recorded reasons are plain English in the guide's own units; a page brings a `Wording`
of its own, with its language and the reader's units.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace

from orchard.science.guide import Condition, Fact, Guide, Rule, Sign, Value
from orchard.science.words import LocalStatus, Measure


def gettext_noop(text: str) -> str:
    """Mark a phrase for translation, which happens where it is written out."""
    return text


OF_MEASURE = {
    Measure.PCT_LEAVES: gettext_noop("of the leaves"),
    Measure.PCT_SHOOTS: gettext_noop("of the shoots"),
    Measure.PCT_FRUIT: gettext_noop("of the fruit"),
    Measure.PCT_FLOWERS: gettext_noop("of the flowers"),
    Measure.PCT_CANOPY: gettext_noop("of the canopy"),
}
STATUSES = {
    LocalStatus.ABSENT: gettext_noop("not known here"),
    LocalStatus.REGULATED: gettext_noop("here, and regulated"),
    LocalStatus.COMMON: gettext_noop("common here"),
}
_COMPARED = {
    ">=": gettext_noop("%(amount)s or more"),
    ">": gettext_noop("more than %(amount)s"),
    "<=": gettext_noop("%(amount)s or less"),
    "<": gettext_noop("under %(amount)s"),
    "=": gettext_noop("exactly %(amount)s"),
}
_LIMITS = {
    ">=": gettext_noop("at least"),
    ">": gettext_noop("more than"),
    "<=": gettext_noop("at most"),
    "<": gettext_noop("under"),
    "=": gettext_noop("exactly"),
}


def amount_text(number: float, fact: Fact) -> str:
    """Write a number with the unit of its fact."""
    return f"{number:g} {fact.unit}".strip()


def _choose_form(singular: str, plural: str, number: int) -> str:
    return singular if number == 1 else plural


def _season_months(months: Iterable[int]) -> str:
    numbers = [str(month) for month in months]
    plural = "s" if len(numbers) > 1 else ""
    return f"season month{plural} {join_words(numbers, 'and')}"


@dataclass(frozen=True, slots=True)
class Wording:
    """How phrases, amounts and season months are written for a reader.

    `gettext` and `ngettext` are called by these names, so that makemessages finds the
    phrases.
    """

    gettext: Callable[[str], str] = str
    ngettext: Callable[[str, str, int], str] = _choose_form
    amount: Callable[[float, Fact], str] = amount_text
    months: Callable[[Iterable[int]], str] = _season_months


PLAIN = Wording()


def join_words(words: Iterable[str], conjunction: str) -> str:
    """Join words as a sentence does: "a, b and c"."""
    words = list(words)
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} {conjunction} {words[-1]}"


def condition_text(
    condition: Condition, sign: Sign, guide: Guide, wording: Wording = PLAIN
) -> str:
    """Write one condition of a rule as a piece of a sentence."""
    fact = guide.facts[condition.fact]
    if fact.kind == "yes_no":
        return _yes_no_text(condition, fact, wording)
    if fact.key == "sm" and condition.op in ("=", " in"):
        months = wording.months(int(value) for value in condition.values)
        return wording.gettext("in %(months)s") % {"months": months}
    if fact.kind == "number" and condition.op != " in":
        return _number_text(condition, fact, sign, wording)
    return _choice_text(condition, fact, guide, wording)


def _yes_no_text(condition: Condition, fact: Fact, wording: Wording) -> str:
    holds = condition.value is True
    if fact.key != "yes":
        return fact.words if holds else fact.no_words
    if holds:
        return wording.gettext("the answer is yes")
    return wording.gettext("the answer is no")


def _choice_text(
    condition: Condition, fact: Fact, guide: Guide, wording: Wording
) -> str:
    values = [str(value) for value in condition.values]
    either = wording.gettext("or")
    if fact.key == "season":
        seasons = join_words(values, either)
        return wording.gettext("in %(seasons)s") % {"seasons": seasons}
    if fact.key == "species":
        names = join_words([_taxon(value, guide) for value in values], either)
        return wording.gettext("it is %(names)s") % {"names": names}
    if fact.key == "local_status":
        statuses = [wording.gettext(STATUSES[LocalStatus(value)]) for value in values]
        status = join_words(statuses, either)
        return wording.gettext("this pest is %(status)s") % {"status": status}
    names = join_words([value.replace("_", " ") for value in values], either)
    return f"{fact.words}: {names}"


def _taxon(code: str, guide: Guide) -> str:
    pest = guide.pests.get(code)
    return pest.taxon if pest else code


def _number_text(condition: Condition, fact: Fact, sign: Sign, wording: Wording) -> str:
    # "Of the way round" stands in place of the unit.
    measured = replace(fact, unit="") if fact.key == "frac" else fact
    amount = wording.amount(_number(condition.value), measured)
    compared = wording.gettext(_COMPARED[condition.op]) % {"amount": amount}
    if fact.key == "pct" and sign.measure in OF_MEASURE:
        return f"{compared} {wording.gettext(OF_MEASURE[sign.measure])}"
    if fact.key == "count":
        return wording.gettext("%(amount)s counted") % {"amount": compared}
    if fact.key == "frac":
        return wording.gettext("%(amount)s of the way round") % {"amount": compared}
    return f"{fact.words} {compared}"


def _number(value: Value | tuple[Value, ...]) -> float:
    if isinstance(value, tuple | str):
        raise TypeError(f"{value!r} isn't a number.")
    return float(value)


def conditions_text(
    conditions: Iterable[Condition],
    sign: Sign,
    guide: Guide,
    wording: Wording = PLAIN,
) -> str:
    """Write conditions that must all hold as a piece of a sentence."""
    pieces = [condition_text(each, sign, guide, wording) for each in conditions]
    return join_words(pieces, wording.gettext("and"))


def limit_text(
    condition: Condition, sign: Sign, guide: Guide, wording: Wording = PLAIN
) -> str:
    """Name a threshold as the label of its field: "share of the leaves, at least"."""
    fact = guide.facts[condition.fact]
    what = fact.words
    if fact.key == "pct" and sign.measure in OF_MEASURE:
        what = f"{what} {wording.gettext(OF_MEASURE[sign.measure])}"
    return f"{_capitalised(what)}, {wording.gettext(_LIMITS[condition.op])}"


def rule_text(
    rule: Rule, sign: Sign, guide: Guide, wording: Wording = PLAIN, *, alone: bool
) -> str:
    """Write what a rule asks for; the last one of a list holds in all other cases."""
    if rule.is_unconditional:
        if alone:
            return wording.gettext("Always")
        return wording.gettext("In all other cases")
    return _capitalised(conditions_text(rule.conditions, sign, guide, wording))


def _capitalised(text: str) -> str:
    return text[:1].upper() + text[1:]


def due_text(due: int, wording: Wording = PLAIN) -> str:
    """Write within how many days something is to be done."""
    if due == 0:
        return wording.gettext("today")
    return wording.ngettext("within %(count)d day", "within %(count)d days", due) % {
        "count": due
    }


def after_last_frost(due: int) -> str:
    """Write a number of days that is counted from the last frost."""
    day = "day" if due == 1 else "days"
    return f"within {due} {day} after the last frost"


def conclusion_text(rule: Rule) -> str:
    """Write what a rule concludes: "Act within 7 days"."""
    label = rule.verdict.label
    return label if rule.due is None else f"{label} {due_text(rule.due)}"


def rule_sentence(rule: Rule, sign: Sign, guide: Guide) -> str:
    """Write what a rule of a sign asks for and what it concludes, as one sentence."""
    asked = rule_text(rule, sign, guide, alone=len(sign.rules) == 1)
    return f"{asked}: {conclusion_text(rule)}."
