"""How a verdict, a date, a number with its unit and a person are written."""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal
from functools import cache, lru_cache
from typing import Any

from django import template
from django.forms import BoundField
from django.forms.utils import flatatt
from django.template.loader import render_to_string
from django.utils import timezone
from django.utils.formats import date_format, number_format
from django.utils.html import conditional_escape, format_html
from django.utils.safestring import SafeString
from django.utils.translation import (
    get_language,
    gettext,
    ngettext,
    pgettext,
    pgettext_lazy,
)

from orchard.records.models import Tree
from orchard.science import guide
from orchard.science.units import in_text, shown
from orchard.web.codes import codes_text

register = template.Library()
register.filter("codes_text", codes_text)

NO_BREAK = "\u00a0"

_VERDICTS = {
    "act": pgettext_lazy("verdict", "Act"),
    "watch": pgettext_lazy("verdict", "Watch"),
    "leave": pgettext_lazy("verdict", "Leave"),
    "report": pgettext_lazy("verdict", "Report"),
}


def verdict_word(verdict: str) -> str:
    """Return the word for a verdict's code; refuse a code that is none."""
    return str(_VERDICTS[str(verdict)])


@register.simple_tag
def verdict_mark(verdict: str, size: str = "") -> SafeString:
    """Write a verdict as its leaf and its word, or nothing when there is none yet."""
    if not verdict:
        return SafeString("")
    return _mark(str(verdict), verdict_word(verdict), size)


@cache
def _mark(verdict: str, word: str, size: str) -> SafeString:
    """Draw each mark once: a board shows hundreds, of which a dozen differ."""
    drawn = {"verdict": verdict, "word": word, "size": size}
    return SafeString(render_to_string("parts/_verdict.html", drawn).strip())


@register.filter
def dialled(number: str) -> str:
    """Write a phone number as a phone dials it: digits, and a plus in front."""
    return "".join(sign for sign in number if sign.isdigit() or sign == "+")


@register.simple_tag
def optional(field: BoundField) -> SafeString:
    """Say beside a label that its field may stay empty."""
    if field.field.required:
        return SafeString("")
    return format_html(' <span class="optional">{}</span>', gettext("(optional)"))


# Most lists are the same on each page: what stands in them is escaped once.
_escaped = lru_cache(maxsize=4096, typed=True)(conditional_escape)


@register.simple_tag
def list_of(widget: dict[str, Any]) -> SafeString:
    """Write the list of a form: what it offers, in its groups."""
    name, attrs = conditional_escape(widget["name"]), flatatt(widget["attrs"])
    written = [f'<select name="{name}"{attrs}>\n']
    for group, rows, _index in widget["optgroups"]:
        options = [
            f'<option value="{_escaped(row["value"])}"'
            f"{' selected' if row['selected'] else ''}>"
            f"{_escaped(row['label'])}</option>\n"
            for row in rows
        ]
        if group:
            opening = format_html('<optgroup label="{}">\n', group)
            options = [opening, *options, "</optgroup>\n"]
        written += options
    return SafeString("".join(written) + "</select>")


def days_said(days: int, *, due: bool) -> str:
    """Say how far a day is from today: ahead positive, behind negative."""
    if days == 0:
        return gettext("today")
    if days > 0:
        if days == 1:
            return gettext("tomorrow")
        return ngettext("in %(count)d day", "in %(count)d days", days) % {"count": days}
    past = -days
    if due:
        ago = ngettext("%(count)d day late", "%(count)d days late", past)
    elif past == 1:
        return gettext("yesterday")
    elif past < 60:
        ago = ngettext("%(count)d day ago", "%(count)d days ago", past)
    elif past < 730:
        past = round(past / 30.44)
        ago = ngettext("%(count)d month ago", "%(count)d months ago", past)
    else:
        past = int(past / 365.25)
        ago = ngettext("%(count)d year ago", "%(count)d years ago", past)
    return ago % {"count": past}


def day_said(day: date, *, today: date) -> str:
    """Write a day with its weekday, and with its year when that is not this year."""
    if day.year == today.year:
        return date_format(day, pgettext("day in this year", "D j M"))
    return date_format(day, pgettext("day in another year", "j M Y"))


def _written(context: Any, value: date | datetime | None, *, due: bool) -> SafeString:
    if value is None or value == "":
        return format_html('<span class="when">{}</span>', gettext("no date"))
    today = context.get("today") or getattr(
        context.get("request"), "today", timezone.localdate()
    )
    if not isinstance(value, datetime):
        return _written_day(value, today, due, get_language())
    local = timezone.localtime(value)
    return _written_as(
        # HTML knows no finer fraction of a second than a thousandth.
        value.isoformat(timespec="seconds"),
        local.date(),
        NO_BREAK + date_format(local, pgettext("time of day", "H:i")),
        today=today,
        due=due,
    )


@lru_cache(maxsize=2048)
def _written_day(day: date, today: date, due: bool, _language: str) -> SafeString:
    """Write a day once for the many lines of a list that are due on it."""
    return _written_as(day.isoformat(), day, "", today=today, due=due)


def _written_as(
    stamp: str, day: date, clock: str, *, today: date, due: bool
) -> SafeString:
    days = (day - today).days
    return format_html(
        '<time class="when{}" datetime="{}"><b>{}</b> <small>{}{}</small></time>',
        " late" if due and days < 0 else "",
        stamp,
        days_said(days, due=due),
        day_said(day, today=today),
        clock,
    )


@register.simple_tag(takes_context=True)
def when(context: Any, value: date | datetime | None) -> SafeString:
    """Write a day or moment of the record with how long ago or ahead it is."""
    return _written(context, value, due=False)


@register.simple_tag(takes_context=True)
def begun(context: Any, value: date, precision: str) -> SafeString:
    """Write the day on which a tree began, or its year where no more is known."""
    if precision == Tree.Precision.YEAR:
        year = str(value.year)
        return format_html(
            '<time class="when" datetime="{}"><b>{}</b></time>', year, year
        )
    return _written(context, value, due=False)


@register.simple_tag(takes_context=True)
def due(context: Any, value: date | datetime | None) -> SafeString:
    """Write a day by which something is due, as "in 3 days" or "4 days late"."""
    return _written(context, value, due=True)


@register.simple_tag(takes_context=True)
def number(
    context: Any,
    value: float | Decimal | None,
    unit: str = "",
    digits: int | None = None,
    difference: bool = False,
) -> str:
    """Write a stored number in the orchard's units; say so when it is not known."""
    if value is None or value == "":
        return gettext("not known")
    system = getattr(context.get("orchard"), "units", "metric")
    stored_in = unit
    figure, unit = shown(float(value), unit, system, difference=difference)
    if stored_in == "mm" and unit != stored_in:
        # A tenth of an inch is a whole watering.
        digits = 2
    if digits is None:
        digits = 0 if abs(figure - round(figure)) < 0.05 else 1
    written = number_format(round(figure, digits), decimal_pos=digits)
    joined = f"{written}{NO_BREAK}{unit}" if unit else written
    return format_html('<span class="number">{}</span>', joined)


@register.filter
def own_units(text: str, units: str) -> str:
    """Write the measures inside a text of the guide in an orchard's units."""
    return in_text(str(text), units or "metric")


@register.filter
def sign_name(sign: str) -> str:
    """Write what the guide calls a sign."""
    return guide.load().name_of(sign)


@register.simple_tag(takes_context=True)
def person(context: Any, someone: Any, writer: Any = None) -> str:
    """Write who did something, and who wrote it down where that is somebody else."""
    name = _name(context, someone)
    if not writer:
        return name
    words = {"name": name, "writer": _name(context, writer)}
    return gettext("%(name)s, written down by %(writer)s") % words


def _name(context: Any, someone: Any) -> str:
    """Return "you" for the reader, else the name."""
    if someone is None or someone == "":
        return gettext("nobody")
    who = getattr(someone, "user", someone)
    if who == context.get("user"):
        return gettext("you")
    name = getattr(who, "name", "") or str(who)
    if getattr(who, "is_active", True):
        return name
    return gettext("%(name)s (has left)") % {"name": name}
