"""Noting one thing by hand: a reading of the own thermometer, a forecast."""

from __future__ import annotations

from datetime import date, datetime

from django.db import transaction
from django.utils.translation import gettext as _

from orchard.records.days import day_in
from orchard.records.models import Forecast, Orchard, Reading, Spot, User
from orchard.science.figures import days
from orchard.services import audit, care_plan, guide_sync, permissions, weather
from orchard.services.audit import Verb
from orchard.services.errors import Refused, require_reason
from orchard.services.imports.weather_files.columns import FORECAST
from orchard.services.quantities import quantity


def note_reading(
    orchard: Orchard,
    *,
    by: User,
    now: datetime,
    at: datetime,
    celsius: float,
    what: str = Reading.What.NOW,
    spot: Spot | None = None,
    dew_point: float | None = None,
    calm_clear: bool | None = None,
    note: str = "",
) -> Reading:
    """Note what the orchard's own thermometer showed.

    Raises:
        Refused (no_reading): in the future, out of all measure, or a dew point above
            the air.
    """
    if at > now:
        raise Refused(
            _("That time is in the future. Enter when it was read."),
            code="no_reading",
            field="at",
        )
    _check_celsius(celsius, "celsius", orchard.units)
    if dew_point is not None:
        _check_celsius(dew_point, "dew_point", orchard.units)
        if dew_point > celsius and what == Reading.What.NOW:
            raise Refused(
                _(
                    "The dew point can't be above the air temperature. Check both "
                    "figures."
                ),
                code="no_reading",
                field="dew_point",
            )
    row = Reading(
        orchard=orchard,
        spot=spot,
        what=what,
        at=at,
        on=day_in(at, orchard.time_zone),
        celsius=round(celsius, 3),
        dew_point=None if dew_point is None else round(dew_point, 3),
        calm_clear=calm_clear,
        note=note.strip(),
        by=by,
        received_at=now,
    )
    return audit.save(Verb.NOTE, row, by=by, now=now)


def _check_celsius(value: float, field: str, system: str) -> None:
    if not FORECAST["tmin"].low <= value <= FORECAST["tmax"].high:
        raise Refused(
            _("%(value)s was never measured anywhere. Check the figure and its unit.")
            % {"value": quantity(value, "°C", system)},
            code="no_reading",
            field=field,
        )


def withdraw_reading(
    reading: Reading, *, by: User, now: datetime, reason: str
) -> Reading:
    """Withdraw a reading that was wrong; it stays readable.

    Raises:
        Refused (reason_missing): no reason is given. no_reading: withdrawn before.
        MayNot (not_yours): somebody else's, and the person may not correct others.
    """
    with transaction.atomic():
        reading = (
            Reading.objects.select_for_update(of=("self",), no_key=True)
            .select_related("orchard")
            .get(pk=reading.pk)
        )
        if not reading.is_current:
            raise Refused(_("This reading was already withdrawn."), code="no_reading")
        member = permissions.member_for(by, reading.orchard.slug)
        permissions.require_own(member, reading)
        reason = require_reason(reason)
        before = audit.snapshot(reading)
        reading.withdrawn_at, reading.withdrawn_by = now, by
        reading.withdrawn_reason = reason
        return audit.save(
            Verb.WITHDRAW,
            reading,
            by=by,
            now=now,
            before=before,
            reason=reading.withdrawn_reason,
        )


def note_forecast(
    orchard: Orchard,
    *,
    by: User,
    now: datetime,
    today: date,
    for_on: date,
    source: str,
    made_at: datetime | None = None,
    tmin: float | None = None,
    tmax: float | None = None,
    dew_point: float | None = None,
    wind: float | None = None,
    cloud: float | None = None,
    rain_mm: float | None = None,
    is_confirmed: bool = False,
) -> Forecast:
    """Note what is forecast for a day; the newest counts, and work follows at once.

    Raises:
        Refused (unlikely_forecast): a lowest far from what the place has at that time
            of year, and nobody has confirmed it.
        Refused (no_forecast): a day past or too far off, a value that cannot be, the
            lowest above
            the highest, or nothing said at all.
    """
    made_at = made_at or now
    values = {
        "tmin": tmin,
        "tmax": tmax,
        "dew_point": dew_point,
        "wind": wind,
        "cloud": cloud,
        "rain_mm": rain_mm,
    }
    _check_forecast(for_on, today, made_at, now, source, values, orchard.units)
    if (
        tmin is not None
        and not is_confirmed
        and not weather.is_minimum_believable(orchard, for_on, tmin)
    ):
        raise Refused(
            _(
                "That lowest is far from what this place has at that time of year. "
                "Check the figure and its unit; if it is right, tick here."
            ),
            code="unlikely_forecast",
            field="is_confirmed",
        )
    row = Forecast(
        orchard=orchard,
        for_on=for_on,
        made_at=made_at,
        source=source.strip(),
        by=by,
        received_at=now,
        **{
            name: None if value is None else round(value, 3)
            for name, value in values.items()
        },
    )
    with transaction.atomic():
        Orchard.objects.select_for_update(no_key=True).get(pk=orchard.pk)
        audit.save(Verb.NOTE, row, by=by, now=now)
        guide_sync.review_care_plan(orchard, now)
    # A forecast typed at three in the afternoon must not wait for the night.
    care_plan.open_after(orchard, now=now, today=today)
    return row


def _check_forecast(
    for_on: date,
    today: date,
    made_at: datetime,
    now: datetime,
    source: str,
    values: dict[str, float | None],
    system: str,
) -> None:
    if for_on < today:
        raise Refused(
            _("That day is past; a forecast is for days to come."),
            code="no_forecast",
            field="for_on",
        )
    if for_on > today + days("forecast_furthest_days"):
        raise Refused(
            _("That day is further off than any forecast reaches. Check the date."),
            code="no_forecast",
            field="for_on",
        )
    if made_at > now:
        raise Refused(
            _("That time is in the future. Enter when the forecast was made."),
            code="no_forecast",
            field="made_at",
        )
    if not source.strip():
        raise Refused(
            _("Say whose forecast it is, so that others can check it."),
            code="no_forecast",
            field="source",
        )
    if all(value is None for value in values.values()):
        raise Refused(
            _("Give at least one figure of the forecast."),
            code="no_forecast",
            field="tmin",
        )
    for name, value in values.items():
        field = FORECAST[name]
        if value is not None and not field.low <= value <= field.high:
            raise Refused(
                _("%(name)s must be from %(range)s.")
                % {"name": field.label_in(system), "range": field.range_in(system)},
                code="no_forecast",
                field=name,
            )
    low, high = values["tmin"], values["tmax"]
    if low is not None and high is not None and low > high:
        raise Refused(
            _("The lowest is above the highest. Perhaps they are swapped."),
            code="no_forecast",
            field="tmin",
        )
