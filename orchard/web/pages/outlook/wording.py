"""The matters of the outlook, each with a verdict word and a sentence."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from django.template.defaultfilters import date as date_text
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from orchard.services.frost import NightInShort
from orchard.services.heat import GroupHeat
from orchard.services.ripeness import KindRipeness
from orchard.services.sun_hours import SunTally
from orchard.services.water import WaterCalls
from orchard.web.pages.water import headline


@dataclass(frozen=True, slots=True)
class Matter:
    """One line of the outlook; `name` is of the page that it opens."""

    name: str
    label: str
    word: str
    text: str


def tonight(frost: NightInShort) -> Matter:
    """Say what the coming night asks for."""
    if frost.reached:
        word = _("Cover")
        text = ngettext(
            "%(count)d tree reaches its limit.",
            "%(count)d trees reach their limit.",
            frost.reached,
        ) % {"count": frost.reached}
    elif frost.covered:
        word = _("Uncover")
        text = ngettext(
            "%(count)d cover is still on.",
            "%(count)d covers are still on.",
            len(frost.covered),
        ) % {"count": len(frost.covered)}
    elif frost.night.expected.is_known:
        word, text = _("Nothing to do"), _("No tree reaches its limit.")
    else:
        word, text = _("No data"), frost.night.expected.missing
    return Matter("outlook-frost", _("Tonight"), word, text)


def watering(calls: WaterCalls) -> Matter:
    """Say whether there is anything to water."""
    if calls.due_today:
        word = _("Water today")
    elif calls.trees and calls.unclear < calls.trees:
        word = _("Nothing to do")
    else:
        word = _("No data")
    return Matter("outlook-water", _("Water"), word, headline(calls))


def next_stage(groups: Sequence[GroupHeat]) -> Matter:
    """Say what the heat since bloom leads to next."""
    due = [
        (group, event)
        for group in groups
        for event in group.expected
        if event.passed_on
    ]
    ahead = [
        (event.expected_on, group.group, event.name)
        for group in groups
        for event in group.expected
        if event.expected_on
    ]
    if due:
        word = _("Go and look")
        group, event = due[0]
        text = _("%(group)s: %(what)s is due.") % {
            "group": group.group,
            "what": event.name,
        }
    elif ahead:
        word = _("Expected")
        day, name, what = min(ahead)
        text = _("%(group)s: %(what)s about %(day)s.") % {
            "group": name,
            "what": what,
            "day": date_text(day, "j F"),
        }
    elif any(group.bloom_on for group in groups):
        word, text = _("No date yet"), _("A date needs records of past seasons.")
    else:
        word = _("No data")
        text = _("No full bloom recorded yet. Heat is counted from there.")
    return Matter("outlook-heat", _("Next flush"), word, text)


def ripe_now(kinds: Sequence[KindRipeness]) -> Matter:
    """Say what is to be picked."""
    ready = [row for row in kinds if row.is_ready]
    late = [row for row in ready if row.is_late]
    if late:
        word = _("Pick now")
        names = sorted({row.kind.name for row in late})
        text = ", ".join(names[:3]) + (" …" if len(names) > 3 else "")
    elif kinds:
        word = _("Ready") if ready else _("Not ready")
        text = ngettext(
            "%(ready)d of %(count)d ripening cultivar is ready to pick.",
            "%(ready)d of %(count)d ripening cultivars are ready to pick.",
            len(kinds),
        ) % {"ready": len(ready), "count": len(kinds)}
    else:
        word = _("Nothing ripe")
        text = _("Nothing ripens at this time of year.")
    return Matter("outlook-ripeness", _("Ripe now"), word, text)


def sun(tally: SunTally) -> Matter:
    """Say whether the spots get their sun."""
    if not tally.surveyed:
        word = _("No data")
        text = _("No horizon is surveyed yet. It takes ten minutes at a spot.")
    elif tally.dark:
        word = _("Too little")
        text = ngettext(
            "%(count)d of %(all)d surveyed spots lacks sun in some month.",
            "%(count)d of %(all)d surveyed spots lack sun in some month.",
            tally.dark,
        ) % {"count": tally.dark, "all": tally.surveyed}
    else:
        word = _("Enough")
        text = ngettext(
            "%(count)d surveyed spot has its hours in every month.",
            "%(count)d surveyed spots have their hours in every month.",
            tally.surveyed,
        ) % {"count": tally.surveyed}
    return Matter("outlook-sun", _("Sun"), word, text)
