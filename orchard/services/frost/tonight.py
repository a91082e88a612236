"""One night of an orchard: when it falls, what is forecast, how cold it gets here."""

from __future__ import annotations

import statistics
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.utils.translation import gettext as _

from orchard.records.models import Orchard
from orchard.science import frost
from orchard.science.figures import days, figure
from orchard.services import weather
from orchard.services.explained import Number
from orchard.services.frost import evenings, night_numbers
from orchard.services.frost.evenings import Clock, Evening, clock_of, coming_dawn
from orchard.services.quantities import in_words
from orchard.services.weather import Expected, Offset


@dataclass(frozen=True, slots=True)
class Curve:
    """The way down: from the evening's reading to the minimum at sunrise."""

    evening_c: float
    minimum_c: float
    night_hours: float
    basis: str

    def at(self, hours: float) -> float:
        """Return the air at so many hours after sunset, °C."""
        return frost.night_curve(
            self.evening_c, self.minimum_c, self.night_hours, hours
        )

    def hours_below(self, limit: float, minimum: float) -> float:
        """Return the hours at or below a limit where the night ends at a minimum."""
        low = min(minimum, self.evening_c)
        return frost.hours_below(limit, self.evening_c, low, self.night_hours)


@dataclass(frozen=True, slots=True)
class Night:
    """What is known of one night before any tree is looked at."""

    clock: Clock | None
    dawn_on: date
    name: str
    forecast_day: Expected | None
    later: tuple[Expected, ...]
    still_and_clear: bool | None
    forecast: Number
    offset: Number
    estimate: Number
    expected: Number
    offsets: dict[int | None, Offset]
    curve: Curve | None
    why_no_curve: str

    @property
    def may_be_black(self) -> bool:
        """Tell whether wind or dry air may bring a frost that shows no white."""
        low, day = self.expected.value, self.forecast_day
        if low is None or day is None or low > figure("frost_air_c").value:
            return False
        windy = day.wind is not None and day.wind >= figure("still_wind_m_s").value
        dry = (
            day.dew_point is not None
            and low - day.dew_point >= figure("frost_dry_air_c").value
        )
        return windy or dry

    def offset_at(self, spot_id: int) -> float:
        """Return how much a spot differs from the forecast, °C."""
        offset = self.offsets.get(spot_id) or self.offsets.get(None)
        return offset.celsius if offset else 0.0

    def expected_at(self, spot_id: int) -> float | None:
        """Return the minimum expected at a spot, °C: the colder of what is known."""
        minima = []
        if self.forecast.value is not None:
            minima.append(self.forecast.value + self.offset_at(spot_id))
        if self.estimate.value is not None:
            minima.append(self.estimate.value)
        return min(minima, default=None)


def tonight(
    orchard: Orchard, *, now: datetime, evening_c: float | None = None
) -> Night:
    """Gather what is known of the coming night; `evening_c` is a reading just typed."""
    dawn_on = coming_dawn(orchard, now)
    clock = clock_of(orchard, dawn_on)
    furthest = dawn_on + days("forecast_furthest_days")
    coming = weather.expected(orchard, dawn_on, furthest, as_of=now)
    forecast_day = coming.pop(dawn_on, None)
    offsets = weather.offsets(orchard)
    past = evenings.paired_evenings(orchard, dawn_on)
    read = evenings.reading_of(past, clock)
    forecast = night_numbers.forecast(forecast_day, dawn_on)
    estimate = night_numbers.estimate(past, read, dawn_on)
    offset = night_numbers.offset(offsets)
    expected = night_numbers.expected(forecast, offset, estimate)
    curve, why_not = _curve(expected.value, clock, past, read, evening_c)
    return Night(
        clock=clock,
        dawn_on=dawn_on,
        name=weather.night_name(dawn_on),
        forecast_day=forecast_day,
        later=tuple(row for row in coming.values() if row.tmin is not None),
        still_and_clear=_still_and_clear(forecast_day),
        forecast=forecast,
        offset=offset,
        estimate=estimate,
        expected=expected,
        offsets=offsets,
        curve=curve,
        why_no_curve=why_not,
    )


def _still_and_clear(forecast_day: Expected | None) -> bool | None:
    if forecast_day is None or forecast_day.wind is None or forecast_day.cloud is None:
        return None
    is_still = forecast_day.wind < figure("still_wind_m_s").value
    return is_still and forecast_day.cloud <= figure("clear_sky_percent").value


def _curve(
    minimum: float | None,
    clock: Clock | None,
    past: Sequence[Evening],
    read: Evening | None,
    typed: float | None,
) -> tuple[Curve | None, str]:
    """Return the curve of the night, or why there is none."""
    if clock is None:
        return None, _("The sun doesn't set or rise here on that day.")
    if minimum is None:
        return None, _("Without an expected minimum there is no curve.")
    falls = [
        row.air - row.minimum
        for row in past
        if row.dawn_on < clock.dawn_on and row.calm_clear and row.minimum is not None
    ]
    if typed is not None:
        evening, basis = typed, _("from the evening temperature you typed")
    elif read is not None:
        evening, basis = read.air, _("from this evening's own reading")
    elif len(falls) >= figure("evenings_fewest").value:
        fall = statistics.median(falls)
        evening = minimum + max(fall, 0.0)
        basis = _(
            "no reading yet this evening: from the usual fall of %(count)d own still, "
            "clear nights"
        ) % {"count": len(falls)}
    else:
        return None, _(
            "The curve begins with the air %(hours)s hours after sunset. Read it then, "
            "or type what you expect."
        ) % {"hours": in_words(figure("evening_reading_h").value)}
    if evening < minimum:
        return None, _(
            "It is colder already than the minimum that was expected: cover now."
        )
    return Curve(evening, minimum, clock.hours, basis), ""
