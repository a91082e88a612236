"""Days worked up from rows of hours: lowest, highest and mean, sums of rain and sun."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from statistics import fmean
from zoneinfo import ZoneInfo

from django.utils.translation import gettext as _

from orchard.science.figures import figure
from orchard.services.errors import Refused
from orchard.services.imports.sheets import Line, RowResult, cells_by_field
from orchard.services.imports.weather_files.cells import number_in
from orchard.services.imports.weather_files.columns import TIME
from orchard.services.imports.weather_files.fates import WeatherReader
from orchard.services.imports.weather_files.moments import (
    DAY_MINUTES,
    day_text,
    moment_in,
)
from orchard.services.imports.weather_files.rows import DECIMALS, TOO_FEW, plan_of
from orchard.services.imports.weather_files.shapes import (
    DayPlan,
    Sort,
    WeatherFate,
    WeatherRow,
)

# What follows for a day from what was measured in its hours.
DERIVED: dict[str, dict[str, Callable[[Sequence[float]], float]]] = {
    "temp": {"tmin": min, "tmax": max, "tmean": fmean},
    "tmin": {"tmin": min},
    "tmax": {"tmax": max},
    "tmean": {"tmean": fmean},
    "rain_mm": {"rain_mm": sum},
    "rh_mean": {"rh_mean": fmean, "rh_min": min, "rh_max": max},
    "rh_min": {"rh_min": min},
    "rh_max": {"rh_max": max},
    "dew_point": {"dew_point": fmean},
    "wind_2m": {"wind_2m": fmean},
    "sunshine_hours": {"sunshine_hours": sum},
    "solar": {"solar": sum},
    "wind": {"wind": fmean},
    "cloud": {"cloud": fmean},
}
EXTREMES = ("tmin", "tmax", "rh_min", "rh_max")
SUMS = ("rain_mm", "sunshine_hours", "solar")


@dataclass(frozen=True, slots=True)
class Hour:
    """One row of a day: its number, its minute, and what was measured."""

    number: int
    minute: int
    plan: DayPlan


class HourlyReader(WeatherReader):
    """Goes through the rows of hours once, and judges the days they make up."""

    def results(self, rows: Iterable[Line], time_zone: str) -> Iterator[WeatherRow]:
        """Yield what happens to each day, and each row that is refused."""
        by_day: dict[date, list[Hour]] = defaultdict(list)
        for number, cells in rows:
            try:
                texts = cells_by_field(self.mapping, cells)
                if self._is_elsewhere(texts):
                    continue
                moment = moment_in(texts, day_first=self.choices.day_first)
                minute = moment.minute
                if minute is None and TIME not in texts:
                    # A spreadsheet leaves the time out at midnight.
                    minute = 0
                if minute is None:
                    raise Refused(_("The time is missing."), code="bad_cell")
            except Refused as refusal:
                self.two_ways += refusal.code == "two_ways"
                name = cells[0]
                yield RowResult(number, name, WeatherFate.REFUSED, (str(refusal),))
                continue
            plan, problems = self._measured(moment.on, texts)
            if problems:
                self.impossible += sum(
                    problem.code == "impossible" for problem in problems
                )
                reasons = tuple(map(str, problems))
                yield RowResult(number, day_text(texts), WeatherFate.REFUSED, reasons)
                continue
            by_day[moment.on].append(Hour(number, minute, plan))
        step = _step(by_day.values())
        for on in sorted(by_day):
            yield self._day_of(on, by_day[on], step, time_zone)

    def _measured(
        self, on: date, texts: Mapping[str, str]
    ) -> tuple[DayPlan, list[Refused]]:
        fields = dict(self.fields)
        if "solar" in fields:
            highest = figure("hourly_highest_solar").value
            fields["solar"] = replace(fields["solar"], high=highest)
        numbers = {code: cell for code, cell in texts.items() if code in fields}
        return plan_of(
            on,
            numbers,
            fields,
            self.units,
            as_gaps=self.choices.as_gaps,
            system=self.system,
        )

    def _day_of(
        self, on: date, hours: list[Hour], step: int, time_zone: str
    ) -> WeatherRow:
        number = min(hour.number for hour in hours)
        if note := self._why_left_out(on):
            return RowResult(number, on.isoformat(), WeatherFate.SHORT, notes=(note,))
        try:
            self._require_possible(on)
        except Refused as refusal:
            reasons = (str(refusal),)
            return RowResult(number, on.isoformat(), WeatherFate.REFUSED, reasons)
        minutes = minutes_of(on, time_zone)
        expected = max(1, round(minutes / step))
        # On one day in autumn the clock shows an hour twice.
        if minutes <= DAY_MINUTES or len(hours) > expected:
            hours = _each_once(hours)
        hours.sort(key=lambda hour: hour.minute)
        if twice := _twice(hours, minutes, expected):
            why = _("%(time)s is there twice, with other values.") % {"time": twice}
            return RowResult(number, on.isoformat(), WeatherFate.REFUSED, (why,))
        plan = self._worked_up(on, hours, expected, step)
        if all(value is None for value in plan.values.values()):
            note = _("Only %(count)d of %(all)d rows of the day: it is left out.") % {
                "count": len({hour.minute for hour in hours}),
                "all": expected,
            }
            return RowResult(number, on.isoformat(), WeatherFate.SHORT, notes=(note,))
        return self._weighed(number, plan, self._beyond(plan))

    def _why_left_out(self, on: date) -> str:
        """Say why a day that every such file begins or ends with is left out."""
        if self.sort == Sort.DAYS and on >= self.today:
            return _("The day is not over yet, so it is left out.")
        if self.sort == Sort.FORECAST and on < self.today:
            return _("The day is past, so it is left out of a forecast.")
        return ""

    def _worked_up(
        self, on: date, hours: Sequence[Hour], expected: int, step: int
    ) -> DayPlan:
        values: dict[str, float | None] = {}
        written: dict[str, str] = {}
        flags: dict[str, str] = {}
        for source in hours[0].plan.values:
            measured = {
                (hour.minute, hour.number): value
                for hour in hours
                if (value := hour.plan.values[source]) is not None
            }
            for name, derive in DERIVED[source].items():
                if name != source and name in hours[0].plan.values:
                    continue
                if name not in self.kept:
                    continue
                if name in EXTREMES and step > figure("hourly_widest_step_min").value:
                    values[name], flags[name] = None, TOO_FEW
                    written[name] = _("a row every %(step)d minutes") % {"step": step}
                    continue
                is_sum = name in SUMS and not self._is_power(name)
                if is_sum:
                    enough = len(measured) >= expected
                else:
                    enough = _is_enough([at for at, _n in measured], expected, step)
                written[name] = _("%(count)d of %(all)d rows") % {
                    "count": len(measured),
                    "all": expected,
                }
                if not enough:
                    values[name], flags[name] = None, TOO_FEW
                    continue
                way = fmean if self._is_power(name) else derive
                values[name] = round(way(list(measured.values())), DECIMALS)
        return DayPlan(on, values, written, flags)

    def _is_power(self, name: str) -> bool:
        """Tell whether sunlight is given as power, whose day is a mean, not a sum."""
        return name == "solar" and self.units.get(name) == "W/m²"

    def _beyond(self, plan: DayPlan) -> list[Refused]:
        """Refuse a sum of hours that no day ever had."""
        return [
            Refused(
                _("%(name)s: %(value)s in a day can't be right. Possible: %(range)s.")
                % {
                    "name": field.label_in(self.system),
                    "value": field.written_in(value, self.system),
                    "range": field.range_in(self.system),
                },
                code="impossible",
            )
            for name, value in plan.values.items()
            if value is not None
            and not (field := self.kept[name]).low <= value <= field.high
        ]


def daily_highest(
    rows: Iterable[Line], mapping: Sequence[str], column: int
) -> list[Line]:
    """Return for each day the row with the highest figure in a column.

    The units of hours are told by these, as those of days are by theirs.
    """
    highest: dict[str, tuple[float, Line]] = {}
    for line in rows:
        try:
            texts = cells_by_field(mapping, line[1])
            day, figure_there = day_text(texts), number_in(line[1][column]).number
        except Refused:
            continue
        if figure_there is None:
            continue
        if day not in highest or figure_there > highest[day][0]:
            highest[day] = (figure_there, line)
    return [line for _figure, line in highest.values()]


def minutes_of(on: date, time_zone: str) -> float:
    """Return how long a day is by its zone's clock: two a year are not 24 hours."""
    zone = ZoneInfo(time_zone)
    begins = datetime.combine(on, time(0), zone)
    ends = datetime.combine(on + timedelta(1), time(0), zone)
    return (ends.timestamp() - begins.timestamp()) / 60


def _step(days: Iterable[Sequence[Hour]]) -> int:
    """Return the minutes from one row to the next, as most rows have it."""
    steps: Counter[int] = Counter()
    for hours in days:
        minutes = sorted({hour.minute for hour in hours})
        steps.update(
            later - earlier
            for earlier, later in zip(minutes, minutes[1:], strict=False)
        )
    return steps.most_common(1)[0][0] if steps else 60


def _is_enough(minutes: Sequence[int], expected: int, step: int) -> bool:
    """Tell whether the rows of a day say enough of it for its extremes and means."""
    if not minutes or len(minutes) < expected * figure("hourly_share_needed").value:
        return False
    edges = [-step, *sorted(minutes), DAY_MINUTES]
    longest = max(
        later - earlier for earlier, later in zip(edges, edges[1:], strict=False)
    )
    return longest - step <= figure("hourly_longest_gap_h").value * 60


def _each_once(hours: Iterable[Hour]) -> list[Hour]:
    """Return the rows of a day without those that say the same again."""
    found: dict[tuple[object, ...], Hour] = {}
    for hour in hours:
        found.setdefault((hour.minute, *hour.plan.values.values()), hour)
    return list(found.values())


def _twice(hours: Sequence[Hour], minutes: float, expected: int) -> str:
    """Return a time that has two rows, where no clock can have shown it twice."""
    if minutes > DAY_MINUTES and len(hours) <= expected:
        return ""
    times = Counter(hour.minute for hour in hours)
    minute = next((minute for minute, count in times.items() if count > 1), None)
    return "" if minute is None else f"{minute // 60:02}:{minute % 60:02}"
