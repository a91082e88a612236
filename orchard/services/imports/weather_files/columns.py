"""The columns of a weather file: what each holds, how it is headed, its units."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from orchard.science.units import in_text
from orchard.services.imports import sheets
from orchard.services.imports.sheets import Field, fields_matched, taken_twice
from orchard.services.imports.weather_files import column_units
from orchard.services.imports.weather_files.shapes import Sort
from orchard.services.quantities import quantity, quantity_range

# Thirty years of days, and a few over.
MOST_ROWS = 12_000


@dataclass(frozen=True, slots=True)
class MeasuredField(Field):
    """What a column of numbers may hold: its name, headings, units, where it goes.

    `low` and `high` are what was ever measured near the ground, in the stored unit.
    """

    units: Mapping[str, Callable[[float], float]]
    by_values: Callable[[Sequence[float]], str]
    low: float
    high: float
    stored: str
    column: str = ""
    after: Callable[[float], float] | None = None

    def label_in(self, system: str) -> str:
        """Write its name, with a height in it in the units of an orchard."""
        return in_text(str(self.label), system)

    def range_in(self, system: str) -> str:
        """Write what is possible in the units of an orchard."""
        return quantity_range(self.low, self.high, self.stored, system)

    def written_in(self, value: float, system: str) -> str:
        """Write a stored value in the units of an orchard."""
        return quantity(value, self.stored, system)


def _degrees(label: object, *headings: str) -> MeasuredField:
    return MeasuredField(
        label,
        headings,
        column_units.TEMPERATURE,
        column_units.temperature,
        -90,
        60,
        "°C",
    )


def _wind(label: object, *headings: str) -> MeasuredField:
    return MeasuredField(
        label, headings, column_units.SPEED, column_units.nothing, 0, 100, "m/s"
    )


def _humidity(label: object, *headings: str) -> MeasuredField:
    return MeasuredField(
        label, headings, column_units.SHARE, column_units.share, 0, 100, "%"
    )


_TMIN = _degrees(
    gettext_lazy("lowest temperature"),
    "tmin", "min", "minimum", "lowest", "low", "temp min", "min temp", "t min",
    "temperature min", "minimum temperature", "lowest temperature", "tn",
)  # fmt: skip
_TMAX = _degrees(
    gettext_lazy("highest temperature"),
    "tmax", "max", "maximum", "highest", "high", "temp max", "max temp", "t max",
    "temperature max", "maximum temperature", "highest temperature", "tx",
)  # fmt: skip
_DEW = _degrees(gettext_lazy("dew point"), "dew point", "dewpoint", "dew", "dewp", "td")
_RAIN = MeasuredField(
    gettext_lazy("rain"),
    ("rain", "rainfall", "precipitation", "precip", "prcp", "rain mm", "rr"),
    column_units.RAIN,
    column_units.rain,
    0,
    2000,
    "mm",
)

# What was ever measured: WMO, World Weather and Climate Extremes Archive (from
# memory); headings are common practice.
DAYS: dict[str, MeasuredField] = {
    "tmin": _TMIN,
    "tmax": _TMAX,
    "tmean": _degrees(
        gettext_lazy("mean temperature"),
        "tmean", "mean", "tavg", "average", "mean temperature", "temp mean", "avg temp",
    ),
    "rain_mm": _RAIN,
    "rh_mean": _humidity(
        gettext_lazy("mean humidity"),
        "humidity", "rh", "rh mean", "relative humidity", "mean humidity",
    ),
    "rh_min": _humidity(gettext_lazy("lowest humidity"), "rh min", "humidity min"),
    "rh_max": _humidity(gettext_lazy("highest humidity"), "rh max", "humidity max"),
    "dew_point": _DEW,
    "wind_2m": _wind(gettext_lazy("wind at 2 m"), "wind 2m", "u2", "wind at 2 m"),
    "wind_10m": MeasuredField(
        gettext_lazy("wind at 10 m"),
        ("wind", "wind speed", "windspeed", "wind 10m", "awnd", "wind at 10 m", "u10"),
        column_units.SPEED,
        column_units.nothing,
        0,
        100,
        "m/s",
        column="wind_2m",
        after=column_units.from_ten_metres,
    ),
    "sunshine_hours": MeasuredField(
        gettext_lazy("hours of sunshine"),
        ("sunshine", "sun", "sunshine hours", "sun hours", "tsun"),
        column_units.HOURS,
        column_units.hours,
        0,
        24,
        "h",
    ),
    "solar": MeasuredField(
        gettext_lazy("sunlight"),
        ("solar", "radiation", "solar radiation", "global radiation", "srad", "rs"),
        column_units.SUNLIGHT,
        column_units.sunlight,
        0,
        50,
        "MJ/m²",
    ),
}  # fmt: skip
FORECAST: dict[str, MeasuredField] = {
    "tmin": _TMIN,
    "tmax": _TMAX,
    "dew_point": _DEW,
    "wind": _wind(gettext_lazy("wind"), "wind", "wind speed", "windspeed"),
    "cloud": MeasuredField(
        gettext_lazy("cloud"),
        ("cloud", "cloud cover", "clouds", "sky"),
        column_units.CLOUD,
        column_units.cloud,
        0,
        100,
        "%",
    ),
    "rain_mm": _RAIN,
}
# What an hour has and a day has not: its temperature, of which a day keeps three.
HOURS: dict[str, MeasuredField] = {
    "temp": _degrees(
        gettext_lazy("temperature at that time"),
        "temp", "temperature", "air temperature", "air temp", "t", "ta", "tair", "t2m",
        "outdoor temperature", "temp out", "temperature 2m",
    ),
}  # fmt: skip
# What is on record of a day, by the sort of its file.
KEPT = {Sort.DAYS: DAYS, Sort.FORECAST: FORECAST}
# Columns without a measured number: when, and at which station.
ON, TIME, STATION = "on", "time", "station"
YEAR, MONTH, DAY_OF_MONTH, DAY_OF_YEAR = "year", "month", "day", "day_of_year"
PLAIN = {
    ON: Field(
        gettext_lazy("day, or day and time"),
        (
            "date",
            "day",
            "on",
            "datum",
            "observation date",
            "obs date",
            "timestamp",
            "datetime",
            "date time",
            "date and time",
        ),
    ),
    TIME: Field(
        gettext_lazy("time of the day"),
        ("time", "hour", "hr", "clock", "local time", "time of day", "hour of day"),
    ),
    YEAR: Field(gettext_lazy("year"), ("year", "yr", "yyyy")),
    MONTH: Field(gettext_lazy("month"), ("month", "mon", "mo")),
    DAY_OF_MONTH: Field(
        gettext_lazy("day of the month"),
        ("day of month", "day of the month", "dd"),
    ),
    DAY_OF_YEAR: Field(
        gettext_lazy("day of the year"),
        ("day of year", "day of the year", "doy", "julian day", "jday", "jul", "yday"),
    ),
    STATION: Field(
        gettext_lazy("station"),
        ("station", "station id", "station name", "location", "site", "name"),
    ),
}


def fields_of(sort: str) -> Mapping[str, MeasuredField]:
    """Return what the columns of a sort of file may hold."""
    return {**KEPT[Sort(sort)], **HOURS}


def labels(fields: Mapping[str, MeasuredField]) -> dict[str, object]:
    """Return what a column may be taken for, by code, with its name."""
    return sheets.labels({**PLAIN, **fields})


def mapping_of(
    headings: Sequence[str], fields: Mapping[str, MeasuredField]
) -> tuple[str, ...]:
    """Return what each heading is taken for; a heading nobody knows is left out."""
    found = list(fields_matched(headings, {**PLAIN, **fields}, _spellings))
    if YEAR in found and MONTH in found and DAY_OF_MONTH not in found and ON in found:
        found[found.index(ON)] = DAY_OF_MONTH
    if TIME in found and ON not in found and YEAR not in found:
        found[found.index(TIME)] = ON
    return tuple(found)


def count_recognised(cells: Sequence[str], fields: Mapping[str, MeasuredField]) -> int:
    """Count the cells of a row that are headings of a weather file."""
    return sum(map(bool, mapping_of(cells, fields)))


def _spellings(heading: str) -> list[str]:
    """List the ways to read a heading: whole, without brackets, without its unit."""
    bare = re.sub(r"[\(\[].*?[\)\]]", " ", heading.casefold())
    plain = " ".join(re.split(r"[\s_\-.,;:/]+", bare)).strip()
    without_last = plain.rsplit(" ", 1)[0]
    written = {way for ways in column_units.WRITTEN.values() for way in ways}
    last_is_unit = plain.rsplit(" ", 1)[-1] in written
    return [plain, *([without_last] if last_is_unit else [])]


def _has_day(mapping: Sequence[str]) -> bool:
    ways = ((ON,), (YEAR, DAY_OF_YEAR), (YEAR, MONTH, DAY_OF_MONTH))
    return any(all(part in mapping for part in way) for way in ways)


def problems_with(
    mapping: Sequence[str], fields: Mapping[str, MeasuredField]
) -> list[str]:
    """Say what is wrong with a choice of columns; nothing when it will do."""
    problems = []
    if not _has_day(mapping):
        problems.append(
            _(
                "No column found for the day. Choose below which column holds it, or "
                "which hold year, month and day."
            )
        )
    if not any(code in mapping for code in fields):
        problems.append(
            _(
                "No column found for a measured value. Choose below what each column "
                "holds. If none fits, this is not a file of daily weather."
            )
        )
    problems += taken_twice(mapping, {**PLAIN, **fields})
    if "wind_2m" in mapping and "wind_10m" in mapping:
        problems.append(
            _("Wind is given at 2 m and at 10 m. Leave one of the two columns out.")
        )
    return problems
