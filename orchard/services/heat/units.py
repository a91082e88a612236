"""Heat since bloom of each cultivar group, and what it leads to by own past years."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from orchard.records.models import Orchard
from orchard.science import figures
from orchard.science.words import JobRole
from orchard.services import weather
from orchard.services.explained import Input, Number
from orchard.services.heat.expected import ExpectedEvent, expect
from orchard.services.heat.seasons import (
    EVENTS,
    CultivarGroup,
    HeatSeason,
    Warmth,
    notes_by_group,
    seasons_of,
    trees_by_group,
    warmth_of,
)
from orchard.services.weather import Day, Missing

A_DAY = timedelta(days=1)
MOST_GAPS_NAMED = 12
HARDY_KHURSHID = "Hardy, S. & Khurshid, T. (2007), Primefact 749, New South Wales DPI"


@dataclass(frozen=True, slots=True)
class GroupHeat:
    """One cultivar group: its heat since bloom, and what is to be expected."""

    group: str
    trees: int
    bloom_on: date | None
    so_far: Number
    counted_to: date | None
    gaps: tuple[date, ...]
    expected: tuple[ExpectedEvent, ...]
    this_season: HeatSeason | None
    past: tuple[HeatSeason, ...]

    @property
    def table(self) -> tuple[tuple[int, date, date, float], ...]:
        """Give season, bloom, the last day counted and the sum, newest first."""
        seasons = [*self.past, *([self.this_season] if self.this_season else [])]
        return tuple(
            (season.year, season.bloom_on, *season.sums[-1])
            for season in reversed(seasons)
            if season.sums
        )


def first_heat_day(today: date) -> date:
    """Return the first day whose weather bears on the heat of today's seasons."""
    return today - timedelta(days=366 * figures.figure("heat_years_back").value)


def heat_of_groups(
    orchard: Orchard, *, today: date, days: Sequence[Day | Missing] | None = None
) -> tuple[GroupHeat, ...]:
    """Return the heat of every cultivar group that grows here, in order of names.

    A fixed number of queries, whatever the number of groups; each day's heat is
    computed once. `days` reach from `first_heat_day` or before to yesterday, where
    they are read already.
    """
    groups = trees_by_group(orchard)
    notes = notes_by_group(orchard, today)
    first = first_heat_day(today)
    if days is None:
        days = weather.span(orchard, first, today - A_DAY)
    days = [day for day in days if day.on >= first]
    warmth = warmth_of(days, today)
    latitude = float(orchard.latitude)
    return tuple(
        _group_heat(
            name, groups[name], notes.get(name, ()), warmth, days, today, latitude
        )
        for name in sorted(groups)
    )


def _group_heat(
    name: str,
    group: CultivarGroup,
    notes: Sequence[tuple[date, int, bool]],
    warmth: Warmth,
    days: Sequence[Day | Missing],
    today: date,
    latitude: float,
) -> GroupHeat:
    seasons = seasons_of(notes, warmth, latitude)
    current = seasons[-1] if seasons else None
    oldest = today - figures.days("longest_season_days")
    if current is not None and current.bloom_on < oldest:
        current = None
    past = tuple(season for season in seasons if season is not current)
    if current is None:
        return GroupHeat(name, group.trees, None, _no_bloom(), None, (), (), None, past)
    counted = current.sums[-1] if current.sums else None
    gaps = tuple(
        day.on for day in days if day.on >= current.bloom_on and day.range is None
    )
    window = group.window_after(current.bloom_on, latitude)
    return GroupHeat(
        group=name,
        trees=group.trees,
        bloom_on=current.bloom_on,
        so_far=_so_far(current, counted, gaps),
        counted_to=counted[0] if counted else None,
        gaps=gaps[:MOST_GAPS_NAMED],
        expected=tuple(
            expect(
                event,
                current,
                past,
                warmth,
                window if event.role == JobRole.RIPENING else None,
                today,
            )
            for event in EVENTS
        ),
        this_season=current,
        past=past,
    )


def _no_bloom() -> Number:
    return Number(
        _("Heat since bloom"),
        None,
        "°C·day",
        law="heat.accumulate",
        source=HARDY_KHURSHID,
        missing=_(
            "No full bloom (BBCH 65) recorded: record it when half the flowers are "
            "open."
        ),
    )  # fmt: skip


def _so_far(
    season: HeatSeason, counted: tuple[date, float] | None, gaps: tuple[date, ...]
) -> Number:
    what = _("Heat since bloom")
    if counted is None:
        return Number(
            what,
            None,
            "°C·day",
            law="heat.accumulate",
            source=HARDY_KHURSHID,
            missing=_("No temperatures are on record for the day of full bloom."),
        )
    base, cap = figures.figure("heat_base_c"), figures.figure("heat_cap_c")
    missing = ""
    if season.estimated:
        missing = ngettext(
            "%(count)d day is estimated from the days beside it.",
            "%(count)d days are estimated from the days beside them.",
            len(season.estimated),
        ) % {"count": len(season.estimated)}
    if any(day > counted[0] for day in gaps):
        missing = _("Counted up to %(day)s only: the days after it are missing.") % {
            "day": date_format(counted[0], "j M Y")
        }
    return Number(
        what,
        counted[1],
        "°C·day",
        law="heat.accumulate",
        method=_(
            "Single sine with a horizontal cutoff, summed from full bloom to the end "
            "of %(day)s."
        )
        % {"day": date_format(counted[0], "j M Y")},
        source=HARDY_KHURSHID,
        inputs=(
            Input(base.what, base.value, "°C", base.source),
            Input(cap.what, cap.value, "°C", cap.source),
            Input(
                _("Full bloom (BBCH 65)"),
                origin=date_format(season.bloom_on, "j M Y"),
            ),
        ),
        missing=missing,
        digits=0,
    )
