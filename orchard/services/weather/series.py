"""Days of weather as the book knows them: measured or missing, each value with its
source; and what was last forecast. Nothing is ever filled in here."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from typing import Any, NamedTuple

from django.utils.formats import date_format
from django.utils.translation import gettext as _

from orchard.records.models import Forecast, Intake, Orchard, Station, WeatherDay

# Values that only make sense from one and the same station.
TOGETHER = (
    ("tmin", "tmax", "tmean"),
    ("rain_mm",),
    ("rh_mean", "rh_min", "rh_max", "dew_point"),
    ("wind_2m",),
    ("solar", "sunshine_hours"),
)
WRITTEN = ("row_number", "written", "flags")
# The columns of a day of one station, by name.
Row = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Origin:
    """Where one value comes from; `flag` says why it is missing or doubtful."""

    station: str
    source: str
    file: str
    row: int | None
    column: str
    unit: str
    written: str
    flag: str


@dataclass(frozen=True, slots=True)
class Origins(Mapping[str, Origin]):
    """Where the values of a day come from, by name; worked out when it is asked."""

    rows: Mapping[str, Row]
    stations: Mapping[int, Station]
    files: Mapping[int, Intake]

    def __getitem__(self, name: str) -> Origin:
        row = self.rows[name]
        return _origin(
            row,
            name,
            self.stations[row["station_id"]],
            self.files.get(row["intake_id"]),
        )

    def __iter__(self) -> Iterator[str]:
        return iter(self.rows)

    def __len__(self) -> int:
        return len(self.rows)


@dataclass(frozen=True, slots=True)
class Day:
    """One day of measured weather; None is a gap, and `origins` says where from.

    Temperatures in °C, rain in mm, humidity in %, wind at 2 m in m/s, sunshine in
    hours, solar radiation in MJ/m² a day.
    """

    on: date
    tmin: float | None = None
    tmax: float | None = None
    tmean: float | None = None
    rain_mm: float | None = None
    rh_mean: float | None = None
    rh_min: float | None = None
    rh_max: float | None = None
    dew_point: float | None = None
    wind_2m: float | None = None
    sunshine_hours: float | None = None
    solar: float | None = None
    origins: Mapping[str, Origin] = field(default_factory=dict)

    def value(self, name: str) -> float | None:
        """Return one value by its name."""
        found: float | None = getattr(self, name)
        return found

    @property
    def range(self) -> tuple[date, float, float] | None:
        """Give day, lowest and highest, as heat units are reckoned; None with a gap."""
        if self.tmin is None or self.tmax is None:
            return None
        return self.on, self.tmin, self.tmax


class Missing(NamedTuple):
    """A day for which no station has a row, and why, as far as is known."""

    on: date
    why: str

    def value(self, name: str) -> None:
        """Return nothing: the whole day is missing."""

    @property
    def range(self) -> None:
        """Give nothing: there is no temperature."""


@dataclass(frozen=True, slots=True)
class Expected:
    """The newest forecast for a day, value by value, and when each was made."""

    on: date
    tmin: float | None = None
    tmax: float | None = None
    dew_point: float | None = None
    wind: float | None = None
    cloud: float | None = None
    rain_mm: float | None = None
    made_at: Mapping[str, datetime] = field(default_factory=dict)
    sources: Mapping[str, str] = field(default_factory=dict)
    # Values out of a file, which nobody was asked about.
    from_file: frozenset[str] = frozenset()


def night_name(dawn_on: date) -> str:
    """Name a night by the day it ends on: "the night to Sunday"."""
    return _("the night to %(day)s") % {"day": date_format(dawn_on, "l")}


def stations_of(orchard: Orchard) -> list[Station]:
    """Return an orchard's stations, those whose word counts first at the top."""
    stations = Station.objects.filter(orchard=orchard).order_by("id")
    return sorted(stations, key=lambda row: row.sort != Station.Sort.OWN)


def span(
    orchard: Orchard,
    start: date,
    end: date,
    *,
    station: Station | None = None,
) -> tuple[Day | Missing, ...]:
    """Return every day from start to end, both included; gaps stay marked as gaps.

    With several stations the orchard's own counts first, then the older record; a
    minimum and its maximum always come from the same one. Three queries.

    Raises:
        ValueError: end is before start.
    """
    if end < start:
        raise ValueError(f"end is {end}; it must not be before start, {start}.")
    places = [station] if station is not None else stations_of(orchard)
    why = _("No station has a row for this day.")
    every = [start + timedelta(days=ahead) for ahead in range((end - start).days + 1)]
    if not places:
        return tuple(Missing(on, why) for on in every)
    names = {place.pk: place for place in places}
    rows: dict[date, dict[int, Row]] = defaultdict(dict)
    found = (
        WeatherDay.objects.current()
        .filter(station__in=places, on__gte=start, on__lte=end)
        .values("station_id", "on", *WeatherDay.MEASURED, "intake_id", *WRITTEN)
    )
    # Joined, the columns of a file would be read anew with each of its days.
    files = Intake.objects.filter(station__in=places).in_bulk()
    for row in found:
        rows[row["on"]][row["station_id"]] = row
    return tuple(
        _day(on, [rows[on][pk] for pk in names if pk in rows[on]], names, files)
        if on in rows
        else Missing(on, why)
        for on in every
    )


def _day(
    on: date,
    rows: Sequence[Row],
    names: Mapping[int, Station],
    files: Mapping[int, Intake],
) -> Day:
    values: dict[str, float | None] = {}
    rows_of: dict[str, Row] = {}
    for group in TOGETHER:
        row = rows[0]
        if len(rows) > 1:
            row = max(rows, key=lambda candidate: _filled(candidate, group))
        for name in group:
            value = values[name] = row[name]
            if value is not None or name in row["flags"]:
                rows_of[name] = row
    return Day(on=on, origins=Origins(rows_of, names, files), **values)


def _filled(row: Row, group: Sequence[str]) -> int:
    """Count what a row has of a group; `max` keeps the earlier of two alike."""
    return sum(row[name] is not None for name in group[:2])


def _origin(row: Row, name: str, station: Station, file: Intake | None) -> Origin:
    column = file.columns.get(name, {}) if file else {}
    return Origin(
        station=station.name,
        source=station.source,
        file=file.file_name if file else "",
        row=row["row_number"],
        column=column.get("column", ""),
        unit=column.get("unit", ""),
        written=row["written"].get(name, ""),
        flag=row["flags"].get(name, ""),
    )


def gaps(days: Iterable[Day | Missing], *names: str) -> tuple[date, ...]:
    """List the days on which one of the named values is missing."""
    return tuple(
        day.on for day in days if any(day.value(name) is None for name in names)
    )


def unbroken(
    days: Sequence[Day | Missing],
) -> tuple[tuple[date, float, float], ...]:
    """Return day, lowest and highest up to the first gap, for sums of heat."""
    return tuple(_until_gap(days))


def _until_gap(
    days: Iterable[Day | Missing],
) -> Iterator[tuple[date, float, float]]:
    for day in days:
        if day.range is None:
            return
        yield day.range


def _drop_overtaken(values: dict[str, float], newest: Forecast) -> None:
    """Drop the older half of a range that a newer forecast has turned round."""
    if values.get("tmin", -1e9) > values.get("tmax", 1e9):
        older = "tmax" if newest.tmin is not None else "tmin"
        del values[older]


def expected(
    orchard: Orchard, start: date, end: date, *, as_of: datetime | None = None
) -> dict[date, Expected]:
    """Return the newest forecast of each day that has one; older ones are passed over.

    `as_of` leaves out what was forecast only later. One query.
    """
    forecasts = Forecast.objects.in_orchard(orchard).filter(
        for_on__gte=start, for_on__lte=end
    )
    if as_of is not None:
        forecasts = forecasts.filter(made_at__lte=as_of)
    values: dict[date, dict[str, float]] = defaultdict(dict)
    made: dict[date, dict[str, datetime]] = defaultdict(dict)
    sources: dict[date, dict[str, str]] = defaultdict(dict)
    from_file: dict[date, set[str]] = defaultdict(set)
    for row in forecasts.newest_last():
        for name in Forecast.EXPECTED:
            value = getattr(row, name)
            if value is not None:
                values[row.for_on][name] = value
                made[row.for_on][name] = row.made_at
                sources[row.for_on][name] = row.source
                from_file[row.for_on].discard(name)
                if row.intake_id is not None:
                    from_file[row.for_on].add(name)
        _drop_overtaken(values[row.for_on], row)
    return {
        on: Expected(
            on=on,
            made_at=made[on],
            sources=sources[on],
            from_file=frozenset(from_file[on]),
            **values[on],
        )
        for on in sorted(values)
    }
