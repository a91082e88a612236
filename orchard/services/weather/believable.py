"""Whether a forecast can be believed for its place and season."""

from __future__ import annotations

from datetime import date

from orchard.records.models import Orchard, WeatherDay
from orchard.science import windows
from orchard.science.figures import days, figure


def is_minimum_believable(orchard: Orchard, on: date, minimum: float) -> bool:
    """Tell whether a minimum (°C) is near what the place has at that time of year.

    Held against the orchard's own record where that is long enough; without one, a
    warm night in the cool months is not believed outside the tropics. One query.
    """
    near = days("believed_season_days").days
    measured = [
        low
        for day, low in WeatherDay.objects.in_orchard(orchard)
        .current()
        .filter(tmin__isnull=False, on__gte=on - days("believed_back_days"), on__lt=on)
        .values_list("on", "tmin")
        if low is not None and _days_apart(day, on) <= near
    ]
    if len(measured) >= figure("believed_fewest_days").value:
        margin = figure("believed_margin_c").value
        return min(measured) - margin <= minimum <= max(measured) + margin
    latitude = float(orchard.latitude)
    if abs(latitude) < figure("tropics_latitude").value:
        return True
    month = windows.season_month(on, latitude)
    until, since = figure("cool_until_sm").value, figure("cool_from_sm").value
    return until < month < since or minimum < figure("warm_minimum_c").value


def _days_apart(first: date, second: date) -> int:
    """Count the days between two dates as if they lay in the same year."""
    apart = abs(first.timetuple().tm_yday - second.timetuple().tm_yday)
    return min(apart, 365 - apart)
