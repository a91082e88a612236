"""When a job comes, told in words and in the dates of the orchard's own hemisphere."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from orchard.science import events, guide
from orchard.science.windows import (
    AfterEvent,
    AllOf,
    AnyOf,
    AtStage,
    Calendar,
    Interval,
    Measured,
    Observed,
    Span,
    Trigger,
    season_year,
)

DAYS_OF_A_YEAR = 365


def when_in_words(trigger: Trigger, *, today: date, latitude: float) -> tuple[str, ...]:
    """Say in sentences when a job comes, in this hemisphere's own dates."""
    match trigger:
        case AnyOf():
            return tuple(
                sentence
                for part in trigger.triggers
                for sentence in when_in_words(part, today=today, latitude=latitude)
            )
        case AllOf():
            parts = [
                when_in_words(part_trigger, today=today, latitude=latitude)
                for part_trigger in trigger.triggers
            ]
            return (_(" And: ").join(part for many in parts for part in many),)
        case Calendar():
            if trigger.every_days > 366:
                years = trigger.every_days / 365
                every = _("About every %(years)s years") % {"years": f"{years:.1f}"}
            else:
                every = _("Once in each window")
            return (f"{every}: {dates(trigger.spans, today, latitude)}.",)
        case Interval():
            return (_interval_told(trigger, today, latitude),)
        case AfterEvent():
            return (_after_told(trigger, today, latitude),)
        case AtStage():
            return (_stage_told(trigger, today, latitude),)
        case Observed():
            return (
                _("Within %(days)d days of it being recorded.")
                % {"days": trigger.within_days},
            )
        case Measured():
            return (_("When weather, soil or fruit call for it."),)


def dates(spans: Iterable[Span], today: date, latitude: float) -> str:
    """Write spans as the days of the year they are here: "15 Mar to 15 May"."""
    year = season_year(today, latitude)
    written = []
    for span in spans:
        first, last = (date_format(day, "j M") for day in span.dates(year, latitude))
        written.append(_("%(first)s to %(last)s") % {"first": first, "last": last})
    return _(" and ").join(written)


def _within(spans: tuple[Span, ...], today: date, latitude: float) -> str:
    if not spans:
        return ""
    return _(", from %(dates)s") % {"dates": dates(spans, today, latitude)}


def _interval_told(trigger: Interval, today: date, latitude: float) -> str:
    text = ngettext("Every day", "Every %(days)d days", trigger.days) % {
        "days": trigger.days
    }
    if trigger.days == DAYS_OF_A_YEAR:
        text = _("Once a year")
    if trigger.winter_days != trigger.days:
        text += _(", every %(days)d in winter") % {"days": trigger.winter_days}
    for _flag, days in trigger.sooner:
        text += _(", every %(days)d in a fruit-fly area") % {"days": days}
    return text + _within(trigger.spans, today, latitude) + "."


def _event_told(event: str) -> str:
    sign = guide.load().signs.get(events.sign_in(event))
    if sign is not None:
        return _("%(sign)s was seen") % {"sign": sign.name}
    words = {"planted": "planting", **events.phrases()}
    return words.get(event, event.replace("_", " "))


def _after_told(trigger: AfterEvent, today: date, latitude: float) -> str:
    if trigger.event == events.BEFORE_FROST:
        return _("In the %(days)d days before the frost season.") % {
            "days": trigger.lead_days
        }
    event = _event_told(trigger.event)
    if trigger.every is not None:
        text = _("Every %(days)d days after %(event)s") % {
            "days": trigger.every,
            "event": event,
        }
        # An interval of the orchard's own holds early and late alike.
        if trigger.then_every not in (None, trigger.every):
            text += _(", later every %(days)d") % {"days": trigger.then_every}
        return text + "."
    if trigger.spans:
        return _("%(dates)s, in the first %(days)d days after %(event)s.") % {
            "dates": dates(trigger.spans, today, latitude),
            "days": trigger.until_days,
            "event": event,
        }
    text = _days_told(trigger.days, event)
    if trigger.then_every is not None:
        text += _(", then every %(days)d") % {"days": trigger.then_every}
    return text + "."


def _days_told(days: tuple[int, ...], event: str) -> str:
    """Say on which days after an event: "On the day of a frost and 7 days after"."""
    later = [str(day) for day in days if day > 0]
    if not later:
        return _("On the day of %(event)s") % {"event": event}
    listed = later[0]
    if len(later) > 1:
        text = {"first": ", ".join(later[:-1]), "last": later[-1]}
        listed = _("%(first)s and %(last)s") % text
    if 0 in days:
        return _("On the day of %(event)s and %(days)s days after") % {
            "event": event,
            "days": listed,
        }
    if later == ["1"]:
        return _("The day after %(event)s") % {"event": event}
    return _("%(days)s days after %(event)s") % {"days": listed, "event": event}


def _stage_told(trigger: AtStage, today: date, latitude: float) -> str:
    stage = (
        str(trigger.low)
        if trigger.low == trigger.high
        else f"{trigger.low}–{trigger.high}"
    )
    text = _("When growth stage %(stage)s (BBCH) is noted") % {"stage": stage}
    if trigger.every_days is not None:
        text += _(", every %(days)d days") % {"days": trigger.every_days}
    return text + _within(trigger.spans, today, latitude) + "."
