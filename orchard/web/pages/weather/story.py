"""How weather is told on a page: days with their gaps, and where figures are from."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date

from django.utils.translation import gettext as _

from orchard.services.imports.weather_files import DAYS, FORECAST, WeatherPreview
from orchard.services.weather import Day, Expected, Missing

UNITS = {
    "tmin": "°C",
    "tmax": "°C",
    "tmean": "°C",
    "rain_mm": "mm",
    "rh_mean": "%",
    "rh_min": "%",
    "rh_max": "%",
    "dew_point": "°C",
    "wind_2m": "m/s",
    "sunshine_hours": "h",
    "solar": "MJ/m²",
    "wind": "m/s",
    "cloud": "%",
}
# Without these a day is of little use, so their gaps are told on the page.
NEEDED = ("tmin", "tmax", "rain_mm")


@dataclass(frozen=True, slots=True)
class DayFigure:
    """One value of a day, with its unit; None is a gap, and `flag` says why."""

    label: str
    value: float | None
    unit: str
    flag: str = ""
    written: str = ""


@dataclass(frozen=True, slots=True)
class DayLine:
    """A day as a line of the page; `whole` days lack nothing that is needed."""

    on: date
    figures: tuple[DayFigure, ...]
    gaps: tuple[DayFigure, ...]
    sources: tuple[str, ...]
    why: str = ""

    def value_of(self, label: str) -> DayFigure | None:
        """Return the value or the gap of a column, None where neither is told."""
        values = (*self.figures, *self.gaps)
        return next((figure for figure in values if figure.label == label), None)


@dataclass(frozen=True, slots=True)
class DayRow:
    """A day as a row of a table: what stands in each column."""

    line: DayLine
    cells: tuple[DayFigure | None, ...]


@dataclass(frozen=True, slots=True)
class DayTable:
    """Days as a table: a column for whatever any of them has a value for."""

    labels: tuple[str, ...]
    rows: tuple[DayRow, ...]


def table(days: Iterable[Day | Missing]) -> DayTable:
    """Return the days as a table, newest first."""
    found = list(lines(days))
    used = {figure.label for line in found for figure in (*line.figures, *line.gaps)}
    labels = tuple(label for label in map(label_of, UNITS) if label in used)
    return DayTable(
        labels=labels,
        rows=tuple(
            DayRow(line, tuple(line.value_of(label) for label in labels))
            for line in found
        ),
    )


def lines(days: Iterable[Day | Missing]) -> Iterator[DayLine]:
    """Yield a line for every day, newest first."""
    for day in reversed(list(days)):
        if isinstance(day, Missing):
            yield DayLine(day.on, (), (), (), day.why)
        else:
            yield _line(day)


def _line(day: Day) -> DayLine:
    figures = tuple(_figure(day, name) for name in UNITS if name in day.origins)
    given = {figure.label for figure in figures}
    never = [
        DayFigure(label_of(name), None, UNITS[name], "absent")
        for name in NEEDED
        if label_of(name) not in given
    ]
    return DayLine(
        on=day.on,
        figures=tuple(figure for figure in figures if figure.value is not None),
        gaps=(*(figure for figure in figures if figure.value is None), *never),
        sources=tuple(dict.fromkeys(_source(day, name) for name in day.origins)),
    )


def _figure(day: Day, name: str) -> DayFigure:
    origin = day.origins[name]
    value = day.value(name)
    return DayFigure(label_of(name), value, UNITS[name], origin.flag, origin.written)


def label_of(name: str) -> str:
    """Return what a value is called on the page."""
    short = {
        "tmin": _("lowest"),
        "tmax": _("highest"),
        "tmean": _("mean"),
        "wind_2m": _("wind at 2 m"),
    }
    if name in short:
        return short[name]
    return str((DAYS.get(name) or FORECAST[name]).label)


def _source(day: Day, name: str) -> str:
    origin = day.origins[name]
    if not origin.file:
        return f"{origin.station}"
    return _("%(station)s: %(file)s, row %(row)s") % {
        "station": origin.station,
        "file": origin.file,
        "row": origin.row,
    }


@dataclass(frozen=True, slots=True)
class FirstDay:
    """A day of a file as it would be kept."""

    on: date
    number: int
    figures: tuple[DayFigure, ...]


def first_days(preview: WeatherPreview) -> Iterator[FirstDay]:
    """Yield a file's first days, so that a wrong unit is seen before it is kept."""
    for row in preview.first_days:
        if row.plan is not None:
            figures = tuple(
                DayFigure(label_of(name), value, UNITS[name])
                for name, value in row.plan.values.items()
            )
            yield FirstDay(row.plan.on, row.number, figures)


@dataclass(frozen=True, slots=True)
class ComingLine:
    """A day to come as a line of the page."""

    on: date
    expected: Expected
    sources: tuple[str, ...]


def coming_lines(days: Iterable[Expected]) -> Iterator[ComingLine]:
    """Yield a line for every day that is forecast, each source once."""
    for day in days:
        yield ComingLine(day.on, day, tuple(dict.fromkeys(day.sources.values())))
