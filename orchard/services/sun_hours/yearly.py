"""Direct sun of a spot through the year, past what hides the sky around it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from functools import lru_cache

from django.db import transaction
from django.utils.translation import gettext as _

from orchard.records.models import DirectSun, Horizon, Orchard, Spot, Tree
from orchard.science import sun
from orchard.science.figures import figure, limits
from orchard.science.sun import Enough, SunPath
from orchard.services.batches import in_batches
from orchard.services.errors import Refused
from orchard.services.explained import Input, Number
from orchard.services.quantities import quantity_range

Points = tuple[tuple[float, float], ...]
# Of a day, in the mean of each month, January first.
Hours = tuple[float, ...]
PATH_STEP = timedelta(minutes=20)


@dataclass(frozen=True, slots=True)
class SunMonth:
    """One month: mean direct hours a day under open sky, here, and with what-if."""

    number: int
    open_h: float
    hours: float
    enough: Enough
    then_h: float | None
    then_enough: Enough | None


@dataclass(frozen=True, slots=True)
class Path:
    """Where the sun goes on a day: (azimuth, elevation) while it is up, degrees."""

    on: date
    points: Points


@dataclass(frozen=True, slots=True)
class Obstacle:
    """A wall or tree that is not there: its direction, distance, height, width, m."""

    azimuth: float
    distance: float
    height: float
    width: float


@dataclass(frozen=True, slots=True)
class SunYear:
    """A spot's year of sun."""

    spot: Spot
    tree: Tree | None
    horizon: Horizon
    months: tuple[SunMonth, ...]
    paths: tuple[Path, ...]
    darkest: Number
    worst: SunMonth
    skyline: Points
    raised: Points
    what_if: Obstacle | None
    taken_h: float | None


@dataclass(frozen=True, slots=True)
class SpotSun:
    """A spot on the list: surveyed or not, and its darkest month."""

    spot: Spot
    tree: Tree | None
    horizon: Horizon | None
    worst_h: float | None
    enough: Enough | None


def spots(orchard: Orchard, *, year: int) -> tuple[SpotSun, ...]:
    """List the spots in walking order, with what is known of their sun."""
    horizons = {row.spot_id: row for row in _standing(orchard)}
    trees = {
        tree.spot_id: tree
        for tree in Tree.objects.in_orchard(orchard).standing().select_related("kind")
    }
    rows = (
        Spot.objects.filter(block__orchard=orchard)
        .select_related("block")
        .order_by("block__position", "block_id", "position", "id")
    )
    found = []
    for spot in rows:
        horizon = horizons.get(spot.pk)
        worst = min(_hours_past(horizon, orchard, year)) if horizon else None
        found.append(
            SpotSun(
                spot=spot,
                tree=trees.get(spot.pk),
                horizon=horizon,
                worst_h=worst,
                enough=None if worst is None else sun.enough(worst),
            )
        )
    return tuple(found)


@dataclass(frozen=True, slots=True)
class SunTally:
    """How many spots are surveyed, and how many of those are too dark in a month."""

    spots: int
    surveyed: int
    dark: int


def tally_spots(orchard: Orchard, *, year: int) -> SunTally:
    """Count the surveyed spots and those that lack sun in some month."""
    rows = {row.spot_id: row for row in _standing(orchard)}
    needed = figure("sun_needed_h").value
    worst = [min(_hours_past(row, orchard, year)) for row in rows.values()]
    return SunTally(
        spots=Spot.objects.filter(block__orchard=orchard).count(),
        surveyed=len(rows),
        dark=sum(hours < needed for hours in worst),
    )


def newest_horizon(spot: Spot) -> Horizon | None:
    """Return the newest standing survey of a spot."""
    found: Horizon | None = (
        Horizon.objects.current()
        .filter(spot=spot)
        .select_related("by", "direct_sun")
        .order_by("-surveyed_on", "-id")
        .first()
    )
    return found


def check_obstacle(obstacle: Obstacle, orchard: Orchard) -> None:
    """Refuse an obstacle that no wall or tree is like.

    Raises:
        Refused (out_of_range): its distance, height or width.
    """
    for field, value, limit in (
        ("distance", obstacle.distance, "obstacle_distance_m"),
        ("height", obstacle.height, "obstacle_height_m"),
        ("width", obstacle.width, "obstacle_width_m"),
    ):
        least, most = limits(limit)
        if not least <= value <= most:
            raise Refused(
                _("Possible is %(range)s.")
                % {"range": quantity_range(least, most, "m", orchard.units)},
                code="out_of_range",
                field=field,
            )


def year_of_spot(
    orchard: Orchard,
    spot: Spot,
    horizon: Horizon,
    *,
    year: int,
    what_if: Obstacle | None = None,
) -> SunYear:
    """Reckon a spot's year of sun, and what an obstacle would take of it."""
    points = _points(horizon)
    raised: Points = ()
    if what_if is not None:
        wall = sun.obstacle(
            what_if.azimuth, what_if.distance, what_if.height, what_if.width
        )
        raised = tuple(sun.higher_of(points, wall))
    hours = _hours_past(horizon, orchard, year)
    free = _hours(orchard, year, ())
    then = _hours(orchard, year, raised) if raised else None
    months = tuple(
        SunMonth(
            number=number + 1,
            open_h=free[number],
            hours=hours[number],
            enough=sun.enough(hours[number]),
            then_h=then[number] if then else None,
            then_enough=sun.enough(then[number]) if then else None,
        )
        for number in range(12)
    )
    tree = Tree.objects.filter(spot=spot).standing().select_related("kind").first()
    worst = min(months, key=lambda month: month.hours)
    return SunYear(
        spot=spot,
        tree=tree,
        horizon=horizon,
        months=months,
        paths=paths(orchard, year),
        darkest=_darkest(worst, horizon),
        worst=worst,
        skyline=points,
        raised=raised,
        what_if=what_if,
        taken_h=(
            max(month.hours - (month.then_h or 0.0) for month in months)
            if then
            else None
        ),
    )


def paths(orchard: Orchard, year: int) -> tuple[Path, ...]:
    """Return the sun's way over the orchard at both solstices and the equinox."""
    return tuple(
        _path(date(year, month, day), float(orchard.latitude), float(orchard.longitude))
        for month, day in ((12, 21), (3, 20), (6, 21))
    )


@lru_cache(maxsize=64)
def _path(on: date, latitude: float, longitude: float) -> Path:
    noon = datetime.combine(on, time(12), tzinfo=UTC) - timedelta(hours=longitude / 15)
    moment, end = noon - timedelta(hours=12), noon + timedelta(hours=12)
    points = []
    while moment <= end:
        elevation, azimuth = sun.position(moment, latitude, longitude)
        if elevation >= 0:
            points.append((azimuth, elevation))
        moment += PATH_STEP
    return Path(on, tuple(sorted(points)))


def work_out(horizon: Horizon, orchard: Orchard, *, year: int) -> DirectSun:
    """Return what a horizon leaves of a year's sun, not yet kept."""
    return DirectSun(
        horizon=horizon,
        year=year,
        latitude=float(orchard.latitude),
        longitude=float(orchard.longitude),
        hours=list(_hours(orchard, year, _points(horizon))),
    )


def keep_years(orchard: Orchard, *, year: int) -> int:
    """Keep the sun of a year past each standing horizon; return how many were new.

    Those of a year gone by, or of where the orchard is not, make room for them.
    """
    newest = {row.spot_id: row for row in _standing(orchard)}
    rows = [
        work_out(row, orchard, year=year)
        for row in newest.values()
        if _kept(row, orchard, year) is None
    ]
    for batch in in_batches(rows):
        with transaction.atomic():
            DirectSun.objects.bulk_create(
                batch,
                update_conflicts=True,
                unique_fields=["horizon"],
                update_fields=["year", "latitude", "longitude", "hours"],
            )
    return len(rows)


def _standing(orchard: Orchard) -> Sequence[Horizon]:
    rows = Horizon.objects.in_orchard(orchard).current().select_related("direct_sun")
    return tuple(rows.order_by("surveyed_on", "id"))


def _hours_past(horizon: Horizon, orchard: Orchard, year: int) -> Hours:
    """Return the hours past a horizon as they are kept, else as worked out now."""
    kept = _kept(horizon, orchard, year)
    return kept or _hours(orchard, year, _points(horizon))


def _kept(horizon: Horizon, orchard: Orchard, year: int) -> Hours | None:
    row: DirectSun | None = getattr(horizon, "direct_sun", None)
    asked = (year, float(orchard.latitude), float(orchard.longitude))
    if row is None or (row.year, row.latitude, row.longitude) != asked:
        return None
    return tuple(row.hours)


def _points(horizon: Horizon) -> Points:
    return tuple((float(around), float(up)) for around, up in horizon.points)


def _hours(orchard: Orchard, year: int, points: Points) -> Hours:
    path = _sun_path(year, float(orchard.latitude), float(orchard.longitude))
    return tuple(path.hours_past(points))


# A megabyte each; those of a place's spots share one.
@lru_cache(maxsize=8)
def _sun_path(year: int, latitude: float, longitude: float) -> SunPath:
    return SunPath.over(year, latitude, longitude)


def _darkest(worst: SunMonth, horizon: Horizon) -> Number:
    needed = figure("sun_needed_h")
    return Number(
        _("Direct sun in the darkest month"),
        worst.hours,
        "h",
        law="sun.year_of_hours",
        method=_(
            "The sun's place every five minutes of every day, against the horizon as "
            "surveyed; clouds are not known."
        ),
        source="Meeus, J. (1998), Astronomical Algorithms; NREL/TP-560-34302",
        inputs=(
            Input(_("Directions surveyed"), float(len(horizon.points)), ""),
            Input(needed.what, needed.value, "h", needed.source),
        ),
        digits=1,
    )
