"""When nights fall, and the orchard's own readings of them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from orchard.records.days import day_in
from orchard.records.models import Orchard, Reading
from orchard.science import sun
from orchard.science.figures import days, hours


@dataclass(frozen=True, slots=True)
class Clock:
    """When a night falls and ends; None of it where the sun does not set or rise."""

    dawn_on: date
    sets_at: datetime
    rises_at: datetime

    @property
    def evening_on(self) -> date:
        return self.dawn_on - timedelta(days=1)

    @property
    def cover_by(self) -> datetime:
        return self.sets_at - hours("cover_before_sunset_h")

    @property
    def evening_at(self) -> datetime:
        return self.sets_at + hours("evening_reading_h")

    @property
    def hours(self) -> float:
        return (self.rises_at - self.sets_at).total_seconds() / 3600


def clock_of(orchard: Orchard, dawn_on: date) -> Clock | None:
    """Return when the night that ends on a day begins and ends here."""
    place = float(orchard.latitude), float(orchard.longitude)
    evening = sun.rise_and_set(dawn_on - timedelta(days=1), *place)
    morning = sun.rise_and_set(dawn_on, *place)
    if evening is None or morning is None:
        return None
    return Clock(dawn_on, evening.sets_at, morning.rises_at)


def coming_dawn(orchard: Orchard, now: datetime) -> date:
    """Return the day on which the present or the coming night ends."""
    today = day_in(now, orchard.time_zone)
    clock = clock_of(orchard, today)
    return today if clock and now < clock.rises_at else today + timedelta(days=1)


@dataclass(frozen=True, slots=True)
class Evening:
    """One night's readings: the evening, its dew point, the minimum that followed."""

    dawn_on: date
    air: float
    dew_point: float | None
    minimum: float | None
    calm_clear: bool | None


def paired_evenings(orchard: Orchard, dawn_on: date) -> tuple[Evening, ...]:
    """Pair readings of the evening with the minimum of that night."""
    slack = hours("evening_slack_h")
    rows = list(
        Reading.objects.in_orchard(orchard)
        .current()
        .filter(what__in=(Reading.What.NOW, Reading.What.LOWEST))
        .filter(on__gte=dawn_on - days("evenings_back_days"), on__lte=dawn_on)
        .order_by("at", "id")
    )
    lows = {row.on: row for row in rows if row.what == Reading.What.LOWEST}
    found: dict[date, Evening] = {}
    for row in rows:
        if row.what != Reading.What.NOW:
            continue
        for dawn_on in (row.on, row.on + timedelta(days=1)):
            clock = clock_of(orchard, dawn_on)
            if clock is None or abs(row.at - clock.evening_at) > slack:
                continue
            low = lows.get(dawn_on)
            found[dawn_on] = Evening(
                dawn_on=dawn_on,
                air=row.celsius,
                dew_point=row.dew_point,
                minimum=low.celsius if low else None,
                calm_clear=low.calm_clear if low else None,
            )
    return tuple(found[day] for day in sorted(found))


def reading_of(evenings: tuple[Evening, ...], clock: Clock | None) -> Evening | None:
    if clock is None:
        return None
    return next((row for row in evenings if row.dawn_on == clock.dawn_on), None)
