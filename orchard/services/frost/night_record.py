"""The night as it was: its lowest, how long fruit was in the cold, what follows."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from django.db import transaction
from django.utils.translation import gettext as _

from orchard.records.models import Happening, Orchard, Reading, Spot, Task, User
from orchard.science import frost
from orchard.science.events import EventKind
from orchard.science.figures import days, figure
from orchard.services import care_plan, observations
from orchard.services.errors import Refused
from orchard.services.frost import evenings
from orchard.services.imports import weather_files


@dataclass(frozen=True, slots=True)
class NotedNight:
    """What was noted of a night, and the work that opened."""

    reading: Reading
    hours_check: float | None
    hours_hold: float | None
    from_curve: bool
    hard: bool
    severe: bool
    opened: tuple[Task, ...]


def note_night(
    orchard: Orchard,
    *,
    ended_on: date,
    lowest: float,
    by: User,
    now: datetime,
    today: date,
    hours_check: float | None = None,
    hours_hold: float | None = None,
    calm_clear: bool | None = None,
    spot: Spot | None = None,
    note: str = "",
) -> NotedNight:
    """Note a night's lowest and its hours of cold, and open what follows today.

    `hours_check` and `hours_hold` are hours at or below the guide's fruit check
    (-2 °C) and fruit hold (-4 °C); where nobody counted and the evening was read, they
    come from the curve of the night. After the published time fruit is cut, or held.

    Raises:
        Refused (wrong_day): still to come, or too long ago.
        Refused (out_of_range): hours below what the night did not reach, or more than a
            night has.
    """
    if ended_on > today:
        raise Refused(
            _("That night is in the future. Enter the day it ended."),
            code="wrong_day",
            field="ended_on",
        )
    latest = days("frost_night_note_days")
    if ended_on < today - latest:
        raise Refused(
            _(
                "That is more than %(count)d days ago. Fruit has shown its damage by "
                "then."
            )
            % {"count": latest.days},
            code="wrong_day",
            field="ended_on",
        )
    typed = hours_check is not None or hours_hold is not None
    if not typed:
        hours_check, hours_hold = _by_curve(orchard, ended_on, lowest)
    _check(lowest, hours_check, hours_hold)
    severe = (hours_hold or 0.0) >= figure("fruit_hold_hours").value
    hard = severe or (hours_check or 0.0) >= figure("fruit_check_hours").value
    with transaction.atomic():
        reading = weather_files.note_reading(
            orchard,
            by=by,
            now=now,
            at=_dawn(orchard, ended_on, now),
            celsius=lowest,
            what=Reading.What.LOWEST,
            spot=spot,
            calm_clear=calm_clear,
            note=note,
        )
        for what, so in (
            (EventKind.HARD_FROST, hard),
            (EventKind.SEVERE_FROST, severe),
        ):
            if so and not _noted_before(orchard, what, ended_on):
                observations.note_event(
                    orchard, what=what, happened_on=ended_on, by=by, now=now, note=note
                )
    opened = care_plan.open_after(orchard, now=now, today=today)
    return NotedNight(
        reading=reading,
        hours_check=hours_check,
        hours_hold=hours_hold,
        from_curve=not typed and hours_check is not None,
        hard=hard,
        severe=severe,
        opened=tuple(opened),
    )


def _dawn(orchard: Orchard, day: date, now: datetime) -> datetime:
    clock = evenings.clock_of(orchard, day)
    return min(clock.rises_at, now) if clock else now


def _by_curve(
    orchard: Orchard, ended_on: date, lowest: float
) -> tuple[float | None, float | None]:
    """Return the hours of cold by the evening's reading; None without one."""
    clock = evenings.clock_of(orchard, ended_on)
    read = evenings.reading_of(evenings.paired_evenings(orchard, ended_on), clock)
    if clock is None or read is None or read.air < lowest:
        return None, None
    check, hold = (
        frost.hours_below(
            figure(f"fruit_{name}_c").value, read.air, lowest, clock.hours
        )
        for name in ("check", "hold")
    )
    return check, hold


def _check(lowest: float, check: float | None, hold: float | None) -> None:
    for field, hours, key in (
        ("hours_check", check, "fruit_check_c"),
        ("hours_hold", hold, "fruit_hold_c"),
    ):
        if hours is None:
            continue
        if not 0 <= hours <= 24:
            raise Refused(
                _("A night has 0 to 24 hours."), code="out_of_range", field=field
            )
        if hours > 0 and lowest > figure(key).value:
            raise Refused(
                _("The night didn't get that cold: check the lowest and the hours."),
                code="out_of_range",
                field=field,
            )
    if check is not None and hold is not None and hold > check:
        raise Refused(
            _(
                "Hours at the colder limit are part of the other hours, so they can't "
                "be more."
            ),
            code="out_of_range",
            field="hours_hold",
        )


def _noted_before(orchard: Orchard, what: str, on: date) -> bool:
    found: bool = (
        Happening.objects.current()
        .filter(orchard=orchard, tree=None, what=what, happened_on=on)
        .exists()
    )
    return found
