"""The picture of heat: few past years, and the others when they are asked for."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from orchard.services.explained import Number
from orchard.services.heat import GroupHeat, HeatSeason
from orchard.web.pages.heat import charts


def season(year: int) -> HeatSeason:
    bloom = date(year, 4, 1)
    sums = tuple((bloom + timedelta(days=n), 9.0 * n) for n in range(200))
    return HeatSeason(year=year, bloom_on=bloom, sums=sums, events={}, estimated=())


def group(past: int) -> GroupHeat:
    return GroupHeat(
        group="Lemons",
        trees=2,
        bloom_on=date(2026, 4, 1),
        so_far=Number("Heat", 900.0, "°C·day"),
        counted_to=None,
        gaps=(),
        expected=(),
        this_season=season(2026),
        past=tuple(season(2026 - ago) for ago in range(past, 0, -1)),
    )


@pytest.mark.parametrize(("past", "left_out"), [(0, 0), (2, 0), (3, 1), (6, 4)])
def test_the_newest_past_years_are_drawn_and_named(orchard, past, left_out):
    lemons = group(past)
    assert charts.past_years_left_out(lemons) == left_out
    chart = charts.heat_chart(lemons, orchard)
    assert len(chart.lines) == 1 + past - left_out
    named = [text for _look, text in chart.legend]
    assert named[1:] == [str(2026 - ago) for ago in range(1, past - left_out + 1)]
    assert len({look for look, _text in chart.legend}) == len(chart.legend)


def test_all_past_years_are_drawn_when_they_are_asked_for(orchard):
    chart = charts.heat_chart(group(6), orchard, all_years=True)
    assert len(chart.lines) == 7
    assert ("series second", "2020 – 2025") in chart.legend


def test_the_words_below_the_axis_stay_clear_of_each_other(orchard):
    ticks = charts.heat_chart(group(1), orchard).x_ticks
    gaps = [right.at - left.at for left, right in zip(ticks, ticks[1:], strict=False)]
    assert min(gaps) >= 40
