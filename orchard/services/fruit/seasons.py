"""When fruit usually comes ripe, by the guide's calendar."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import date

from orchard.science.guide import Cultivar
from orchard.science.windows import day_in_season


def usual_seasons(
    cultivar: Cultivar, years: Iterable[int], latitude: float
) -> Iterator[tuple[date, date]]:
    """Yield first and last day of the usual ripe season of some season years."""
    if cultivar.ripe is None:
        return
    first, last = cultivar.ripe
    for year in years:
        yield (
            day_in_season(year, first, 1, latitude),
            day_in_season(year + (last < first), last, 31, latitude),
        )
