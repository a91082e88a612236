"""Looking through a weather file: what would happen to each row of it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import replace
from datetime import date, timedelta

from django.utils.translation import gettext as _

from orchard.records.models import Forecast, Orchard, Station, WeatherDay
from orchard.science.figures import figure
from orchard.services.errors import Refused
from orchard.services.imports.sheets import Line, Sheet, divided
from orchard.services.imports.weather_files import column_units, columns
from orchard.services.imports.weather_files.cells import number_in
from orchard.services.imports.weather_files.column_units import Guess, How
from orchard.services.imports.weather_files.columns import STATION, MeasuredField
from orchard.services.imports.weather_files.fates import OnRecord
from orchard.services.imports.weather_files.hours import HourlyReader, daily_highest
from orchard.services.imports.weather_files.moments import is_several_a_day, is_timed
from orchard.services.imports.weather_files.shapes import (
    Sort,
    WeatherChoices,
    WeatherColumn,
    WeatherPreview,
)

Progress = Callable[[int, int], None]
EVERY = 100


def preview(
    orchard: Orchard,
    sheet: Sheet,
    *,
    sort: str = Sort.DAYS,
    station: Station | None = None,
    today: date,
    choices: WeatherChoices | None = None,
    progress: Progress | None = None,
) -> WeatherPreview:
    """Say for every row what would happen, and write nothing.

    `progress` is called now and then with how many rows of how many are looked through.
    """
    choices = choices or WeatherChoices()
    fields = columns.fields_of(sort)
    sheet, left_out = divided(sheet, choices)
    mapping = choices.mapping or columns.mapping_of(sheet.headings, fields)
    problems = columns.problems_with(mapping, fields)
    hourly = not problems and _is_hourly(sheet, mapping, choices)
    shown = _agreed(tuple(_columns(sheet, mapping, fields, choices, hourly=hourly)))
    stations = _stations(sheet, mapping)
    if not problems:
        problems += _ask_hours(sheet, mapping, hourly=hourly)
        problems += _ask_units(shown, fields, orchard.units)
        problems += _ask_station(stations, choices)
    if problems:
        return WeatherPreview(
            sort=sort,
            columns=shown,
            problems=tuple(problems),
            notes=sheet.notes,
            left_out=left_out,
            stations=stations,
        )
    reader = HourlyReader(
        fields=fields,
        mapping=mapping,
        units={column.field: column.unit for column in shown if column.field},
        choices=choices,
        on_record=_on_record(orchard, sort, station, today),
        sort=sort,
        today=today,
        system=orchard.units,
    )
    counted = _counted(sheet, progress)
    if hourly:
        rows = tuple(reader.results(counted, orchard.time_zone))
    else:
        rows = tuple(reader.result_of(number, cells) for number, cells in counted)
    return WeatherPreview(
        sort=sort,
        columns=shown,
        rows=rows,
        notes=(*sheet.notes, *([_how_combined()] if hourly else [])),
        left_out=left_out,
        missing=_missing(reader.seen),
        stations=stations,
        two_ways=reader.two_ways,
        impossible=reader.impossible,
    )


def _counted(
    sheet: Sheet, progress: Progress | None
) -> Iterator[tuple[int, tuple[str, ...]]]:
    for done, row in enumerate(sheet.rows, start=1):
        yield row
        if progress and (done % EVERY == 0 or done == len(sheet.rows)):
            progress(done, len(sheet.rows))


def _columns(
    sheet: Sheet,
    mapping: tuple[str, ...],
    fields: Mapping[str, MeasuredField],
    choices: WeatherChoices,
    *,
    hourly: bool,
) -> Iterator[WeatherColumn]:
    columns_mapped = zip(sheet.headings, mapping, strict=True)
    for number, (heading, code) in enumerate(columns_mapped):
        example = sheet.example(number)
        if code not in fields:
            yield WeatherColumn(number, heading, example, code)
            continue
        field = fields[code]
        possible = tuple(field.units)
        lines = daily_highest(sheet.rows, mapping, number) if hourly else sheet.rows
        values = list(_numbers(lines, number))
        found = column_units.guess(heading, values, possible, field.by_values)
        chosen = choices.units.get(code, "")
        if chosen in possible and chosen != found.unit:
            found = Guess(chosen, How.CHOSEN)
        yield WeatherColumn(
            number, heading, example, code, found.unit, found.how, possible
        )


def _agreed(shown: tuple[WeatherColumn, ...]) -> tuple[WeatherColumn, ...]:
    """Give temperatures that leave their unit open the one that the others tell."""
    family = tuple(column_units.TEMPERATURE)
    units = {column.unit for column in shown if column.units == family and column.unit}
    if len(units) != 1:
        return shown
    [unit] = units
    return tuple(
        replace(column, unit=unit, how=How.VALUES)
        if column.is_asked
        and column.units == family
        and not column_units.unit_in(column.heading, family)
        else column
        for column in shown
    )


def _numbers(lines: Iterable[Line], number: int) -> Iterator[float]:
    for _row, cells in lines:
        try:
            value = number_in(cells[number]).number if number < len(cells) else None
        except Refused:
            continue
        if value is not None:
            yield value


def _is_hourly(sheet: Sheet, mapping: tuple[str, ...], choices: WeatherChoices) -> bool:
    rows = sheet.rows
    if choices.only_station and STATION in mapping:
        number = mapping.index(STATION)
        rows = tuple(row for row in rows if row[1][number] == choices.only_station)
    if not is_timed(rows, mapping):
        return False
    # Rows that cannot be read must not hide what the others are.
    least = 1.0 if set(columns.HOURS) & set(mapping) else _several()
    return is_several_a_day(rows, mapping, over=least)


def _several() -> float:
    return figure("hourly_rows_a_day").value


def _ask_hours(sheet: Sheet, mapping: tuple[str, ...], *, hourly: bool) -> list[str]:
    if (
        not hourly
        and STATION not in mapping
        and is_several_a_day(sheet.rows, mapping, over=_several())
    ):
        return [
            _(
                "Most days stand in several rows. If these are hours, say below which "
                "column holds the time of the day; a file of days has one row for each."
            )
        ]
    if not hourly and set(columns.HOURS) & set(mapping):
        return [
            _(
                "“Temperature at that time” is for files with several rows a day. Say "
                "below whether the column holds the lowest, highest or mean."
            )
        ]
    return []


def _how_combined() -> str:
    return _(
        "The file has several rows a day. They are combined into days: lowest, "
        "highest and mean, and the sums of rain and sun. A day needs %(share)d %% of "
        "its rows and no gap above %(gap)d hours; a sum needs every row. A row counts "
        "for the day written on it."
    ) % {
        "share": round(100 * figure("hourly_share_needed").value),
        "gap": round(figure("hourly_longest_gap_h").value),
    }


def _stations(sheet: Sheet, mapping: tuple[str, ...]) -> tuple[str, ...]:
    if STATION not in mapping:
        return ()
    number = mapping.index(STATION)
    return tuple(dict.fromkeys(row[number] for _n, row in sheet.rows if row[number]))


def _ask_units(
    shown: Iterable[WeatherColumn], fields: Mapping[str, MeasuredField], system: str
) -> list[str]:
    return [
        _(
            "The unit of “%(name)s” is not certain. Say below which it is: the "
            "heading and the values leave it open."
        )
        % {"name": fields[column.field].label_in(system)}
        for column in shown
        if column.is_asked
    ]


def _ask_station(stations: tuple[str, ...], choices: WeatherChoices) -> list[str]:
    if len(stations) < 2 or choices.only_station in stations:
        return []
    names = ", ".join(stations[:8]) + (" …" if stations[8:] else "")
    return [
        _(
            "The file holds %(count)d stations: %(names)s. Say below whose days to "
            "take; two stations are never mixed."
        )
        % {"count": len(stations), "names": names}
    ]


def _missing(days: Iterable[date]) -> tuple[tuple[date, date], ...]:
    """Return first and last of each run of days that the file leaves out."""
    ordered = sorted(set(days))
    a_day = timedelta(days=1)
    return tuple(
        (earlier + a_day, later - a_day)
        for earlier, later in zip(ordered, ordered[1:], strict=False)
        if later - earlier > a_day
    )


def _on_record(
    orchard: Orchard, sort: str, station: Station | None, today: date
) -> OnRecord:
    """Return what is on record already, by day: its number and its values."""
    if sort == Sort.FORECAST:
        rows = (
            Forecast.objects.in_orchard(orchard).filter(for_on__gte=today).newest_last()
        )
        return {
            row.for_on: (row.pk, {name: getattr(row, name) for name in row.EXPECTED})
            for row in rows
        }
    if station is None:
        return {}
    days = WeatherDay.objects.current().filter(station=station)
    return {
        row["on"]: (row["pk"], {name: row[name] for name in WeatherDay.MEASURED})
        for row in days.values("pk", "on", *WeatherDay.MEASURED)
    }
