"""Taking a weather file in: all of it, or nothing."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.db import transaction
from django.utils.translation import gettext as _

from orchard.records.models import Forecast, Intake, Orchard, Station, User, WeatherDay
from orchard.services import audit, care_plan, guide_sync
from orchard.services.audit import Verb
from orchard.services.errors import Refused
from orchard.services.imports.sheets import (
    BATCH,
    Sheet,
    require_complete,
    whole_or_nothing,
)
from orchard.services.imports.weather_files.checking import Progress, preview
from orchard.services.imports.weather_files.columns import KEPT
from orchard.services.imports.weather_files.hours import DERIVED
from orchard.services.imports.weather_files.shapes import (
    Sort,
    WeatherChoices,
    WeatherFate,
    WeatherPreview,
    WeatherRow,
)

# Columns that are kept under other names than their own.
STORED_AS = {"wind_10m": ("wind_2m",), "temp": tuple(DERIVED["temp"])}


@dataclass(frozen=True, slots=True)
class NewStation:
    """A station that is entered together with its first file."""

    name: str
    source: str
    sort: str = Station.Sort.RECORD


@dataclass(frozen=True, slots=True)
class ImportedDays:
    """What a weather file brought."""

    new: int
    here: int
    corrected: int


def add_station(
    orchard: Orchard,
    *,
    by: User,
    now: datetime,
    name: str,
    source: str,
    sort: str = Station.Sort.RECORD,
    elevation_m: int | None = None,
) -> Station:
    """Enter a station that days of weather come from.

    Raises:
        Refused (no_such_station): no name, a name taken, or no source.
    """
    name, source = " ".join(name.split()), " ".join(source.split())
    if not name:
        raise Refused(
            _("Give the station a name."), code="no_such_station", field="name"
        )
    if not source:
        raise Refused(
            _("Say where the figures come from, so that others can check them."),
            code="no_such_station",
            field="source",
        )
    with transaction.atomic():
        if Station.objects.filter(orchard=orchard, name__iexact=name).exists():
            raise Refused(
                _("There is a station %(name)s already. Choose it from the list.")
                % {"name": name},
                code="no_such_station",
                field="name",
            )
        row = Station(
            orchard=orchard,
            name=name,
            sort=sort,
            source=source,
            elevation_m=elevation_m,
            made_by=by,
            made_at=now,
        )
        return audit.save(Verb.ADD, row, by=by, now=now)


def import_days(
    orchard: Orchard,
    sheet: Sheet,
    *,
    sort: str = Sort.DAYS,
    station: Station | NewStation | None = None,
    by: User,
    now: datetime,
    today: date,
    choices: WeatherChoices | None = None,
    made_at: datetime | None = None,
    source: str = "",
    progress: Progress | None = None,
) -> ImportedDays:
    """Enter all days of a weather file, each value with where it came from.

    A file taken in again changes nothing: its days are here already. A forecast says
    whose it is (`source`) and when it was made (`made_at`, else now).

    Raises:
        Refused (not_imported): something is open or a row is refused; the file is left
            alone.
        Refused (no_such_station): days without a station, or a new one that cannot be.
    """
    choices = choices or WeatherChoices()
    overtaken = _(
        "Somebody imported weather of the same days in the meantime. Nothing was "
        "imported. Check the file again."
    )
    with whole_or_nothing(orchard, overtaken=overtaken):
        if isinstance(station, NewStation):
            station = add_station(
                orchard,
                by=by,
                now=now,
                name=station.name,
                source=station.source,
                sort=station.sort,
            )
        _require_station(sort, station)
        looked = preview(
            orchard,
            sheet,
            sort=sort,
            station=station,
            today=today,
            choices=choices,
            progress=progress,
        )
        require_complete(
            looked,
            refusal=_(
                "%(count)d of %(all)d rows can't be imported, so nothing was. The "
                "first is row %(row)d: %(why)s"
            ),
        )
        intake = _intake(orchard, station, sheet, looked, by=by, now=now)
        rows = [
            row
            for row in looked.rows
            if row.fate in (WeatherFate.NEW, WeatherFate.DIFFERS)
        ]
        if not rows:
            return ImportedDays(0, looked.here, 0)
        intake.save()
        if sort == Sort.FORECAST:
            _enter_forecasts(intake, rows, made_at or now, source)
        else:
            _enter_days(intake, rows)
        corrected = _correct(intake, rows, reason=_reason(sheet))
        audit.write(
            Verb.TAKE_IN_FILE,
            intake,
            by=by,
            now=now,
            orchard=orchard,
            after={
                **audit.snapshot(intake, "sort", "file_name", "columns", "days"),
                "station": station.name if station else "",
                "corrected": corrected,
                "left_out": sorted(looked.rows_left_out),
            },
        )
        guide_sync.review_care_plan(orchard, now)
    care_plan.open_after(orchard, now=now, today=today)
    return ImportedDays(looked.new, looked.here, corrected)


def _require_station(sort: str, station: Station | None) -> None:
    if sort == Sort.DAYS and station is None:
        raise Refused(
            _("Say which station the days come from."),
            code="no_such_station",
            field="station",
        )


def _reason(sheet: Sheet) -> str:
    return _("imported again from “%(name)s”") % {"name": sheet.name}


def _intake(
    orchard: Orchard,
    station: Station | None,
    sheet: Sheet,
    looked: WeatherPreview,
    *,
    by: User,
    now: datetime,
) -> Intake:
    return Intake(
        orchard=orchard,
        station=station,
        sort=looked.sort,
        file_name=sheet.name,
        columns={
            name: {
                "column": column.heading,
                "unit": column.unit,
                "how": str(column.how or ""),
                "height_m": 10 if column.field == "wind_10m" else None,
            }
            for column in looked.columns
            if column.field
            for name in STORED_AS.get(column.field, (column.field,))
            if name in KEPT[Sort(looked.sort)]
        },
        days=looked.new + looked.corrected,
        by=by,
        taken_at=now,
    )


def _enter_days(intake: Intake, rows: Iterable[WeatherRow]) -> None:
    _insert([_day(intake, row) for row in rows if row.fate is WeatherFate.NEW])


def _insert(days: Sequence[WeatherDay]) -> None:
    """Check the fields of days and insert them.

    What they point to, that each day is there once, and what cannot be, the database
    holds without being asked.
    """
    for day in days:
        day.clean_fields(exclude=("station", "intake", "by", "corrects"))
    WeatherDay.objects.bulk_create(days, batch_size=BATCH)


def _day(intake: Intake, row: WeatherRow) -> WeatherDay:
    plan = row.plan
    if plan is None:
        raise ValueError(f"row {row.number} has no plan")
    return WeatherDay(
        station=intake.station,
        on=plan.on,
        intake=intake,
        row_number=row.number,
        written=dict(plan.written),
        flags=dict(plan.flags),
        by=intake.by,
        received_at=intake.taken_at,
        **plan.values,
    )


def _correct(intake: Intake, rows: Iterable[WeatherRow], *, reason: str) -> int:
    """Put the file's values in place of those on record."""
    differing = {
        row.replaces: row
        for row in rows
        if row.fate is WeatherFate.DIFFERS and row.replaces is not None
    }
    numbers = sorted(differing)
    for start in range(0, len(numbers), BATCH):
        batch = WeatherDay.objects.filter(pk__in=numbers[start : start + BATCH])
        olds = list(batch.order_by("pk"))
        # The day on record steps aside first: there is never more than one.
        batch.update(superseded_at=intake.taken_at)
        news = [
            _corrected(intake, old, differing[old.pk], reason=reason) for old in olds
        ]
        _insert(news)
        audit.write_lines(
            audit.line(
                Verb.CORRECT,
                new,
                by=intake.by,
                now=intake.taken_at,
                orchard=intake.orchard,
                before=audit.snapshot(old, *WeatherDay.MEASURED),
                after=audit.snapshot(new, *WeatherDay.MEASURED),
                reason=reason,
            )
            for old, new in zip(olds, news, strict=True)
        )
    return len(differing)


def _corrected(
    intake: Intake, old: WeatherDay, row: WeatherRow, *, reason: str
) -> WeatherDay:
    """Return a day with the values of the file in place of those on record."""
    new = _day(intake, row)
    for name in WeatherDay.MEASURED:
        # What the file leaves out stays as it was on record, with its origin.
        if getattr(new, name) is None:
            setattr(new, name, getattr(old, name))
            _carry(old.written, new.written, name)
            _carry(old.flags, new.flags, name)
    new.corrects, new.correction_reason = old, reason
    return new


def _carry(old: dict[str, str], new: dict[str, str], name: str) -> None:
    new.pop(name, None)
    if name in old:
        new[name] = old[name]


def _enter_forecasts(
    intake: Intake, rows: Iterable[WeatherRow], made_at: datetime, source: str
) -> None:
    if not source.strip():
        raise Refused(
            _("Say whose forecast it is, so that others can check it."),
            code="not_imported",
            field="source",
        )
    forecasts = [
        Forecast(
            orchard=intake.orchard,
            for_on=row.plan.on,
            made_at=made_at,
            source=source.strip(),
            intake=intake,
            row_number=row.number,
            written=dict(row.plan.written),
            by=intake.by,
            received_at=intake.taken_at,
            **row.plan.values,
        )
        for row in rows
        if row.plan is not None
    ]
    for forecast in forecasts:
        forecast.clean_fields(exclude=("orchard", "intake", "by"))
    Forecast.objects.bulk_create(forecasts, batch_size=BATCH)
