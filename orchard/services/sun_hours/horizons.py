"""Horizons: what hides the sky around a spot, surveyed with a compass."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime

from django.db import transaction
from django.utils.translation import gettext as _

from orchard.records.models import Horizon, Orchard, Spot, User
from orchard.science.figures import figure
from orchard.services import audit, corrections
from orchard.services.audit import Verb
from orchard.services.errors import Refused
from orchard.services.sun_hours.yearly import work_out


def survey_horizon(
    spot: Spot,
    *,
    surveyed_on: date,
    points: Iterable[tuple[float, float]],
    by: User,
    now: datetime,
    today: date,
    declination: float = 0.0,
    how: str = Horizon.How.TYPED,
    note: str = "",
) -> Horizon:
    """Note what hides the sky all around a spot.

    `points` are (direction, angle) in degrees as the compass and the eye gave them;
    the declination is added to each direction before it is stored. What it leaves of
    this year's sun is worked out at once and kept.

    Raises:
        Refused (out_of_range): too few directions, or an angle that cannot be.
        Refused (wrong_day): in the future.
    """
    taken = sorted(
        ((float(direction) + declination) % 360.0, float(angle))
        for direction, angle in points
    )
    row = Horizon(
        orchard=spot.block.orchard,
        spot=spot,
        surveyed_on=surveyed_on,
        points=[[round(direction, 1), round(angle, 1)] for direction, angle in taken],
        declination=declination,
        how=how,
        note=note.strip(),
        by=by,
        received_at=now,
    )
    _check(row, today)
    kept = work_out(row, row.orchard, year=today.year)
    with transaction.atomic():
        audit.save(Verb.NOTE, row, by=by, now=now)
        # It had no number before.
        kept.horizon = row
        kept.save(force_insert=True)
    return row


def last_declination(orchard: Orchard) -> float:
    """Return the declination of the newest survey: it is the same all over a place."""
    newest: Horizon | None = (
        Horizon.objects.in_orchard(orchard)
        .current()
        .order_by("-surveyed_on", "-id")
        .first()
    )
    return newest.declination if newest else 0.0


def _check(row: Horizon, today: date) -> None:
    corrections.check_day(None, row.surveyed_on, field="surveyed_on", today=today)
    fewest = round(figure("horizon_fewest_directions").value)
    if len(row.points) < fewest:
        raise Refused(
            _("Measure at least %(fewest)d directions, best all sixteen, then save.")
            % {"fewest": fewest},
            code="out_of_range",
        )
    if any(not 0 <= angle <= 90 for _direction, angle in row.points):
        raise Refused(
            _("Enter an angle from 0 (level) to 90 degrees (straight up)."),
            code="out_of_range",
        )
    if not -60 <= row.declination <= 60:
        raise Refused(
            _("Enter a declination from -60 to 60 degrees."),
            code="out_of_range",
            field="declination",
        )
