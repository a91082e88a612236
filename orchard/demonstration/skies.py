"""The skies of the demonstration: station, readings, forecasts, water and shade."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from random import Random

from django.db.models import Q

from orchard.demonstration import climate
from orchard.demonstration.scene import Scene
from orchard.records.models import Closure, Horizon, Reading, Spot, Task, Tree, User
from orchard.science.windows import season_month
from orchard.services import sun_hours, water
from orchard.services.frost import clock_of
from orchard.services.imports import weather_files
from orchard.services.imports.sheets import Sheet
from orchard.services.imports.weather_files import NewStation

TWO_YEARS = timedelta(days=735)
# Enough for every balance of the ground and of pots to have begun.
SOME_MONTHS = timedelta(days=150)
COMING = 7
# Learnt over many still clear nights: the garden lies in a hollow.
HOLLOW_C = -1.3
LITRES = {
    "water_pot": (6, 12),
    "water_new": (15, 25),
    "water_ground": (60, 120),
}
RUNS_OVER = (0.25, 0.32)
SERVICE = "The weather service of the province (invented)"
WEDNESDAY = 2


@dataclass(frozen=True, slots=True)
class Shade:
    """What stands around a spot: sixteen angles from north clockwise."""

    spot: str
    angles: tuple[int, ...]
    note: str


NORTH_SHADES = (
    Shade("A-3", (4, 4, 5, 6, 8, 9, 7, 6, 5, 5, 6, 9, 12, 10, 6, 5),
          "Open to the south; the hill takes the last light."),
    Shade("D-9", (12, 15, 22, 30, 38, 44, 40, 36, 35, 30, 18, 12, 10, 9, 10, 11),
          "The kiln wall and two old cypresses."),
)  # fmt: skip
SOUTH_SHADES = (
    Shade("H-1", (6, 8, 10, 9, 7, 5, 4, 4, 4, 5, 6, 8, 9, 8, 7, 6), "Level ground."),
    Shade("H-4", (34, 30, 22, 14, 8, 6, 5, 5, 5, 6, 8, 12, 18, 26, 33, 36),
          "The packing shed to the north."),
)  # fmt: skip


# All through the last winter.
MEASURED = timedelta(days=300)


def quiet_mondays(scene: Scene, dice: Random) -> Iterator[tuple[date, float]]:
    """Yield Mondays outside the frost season before a still clear night, and its low.

    On these nights the orchard learns how much colder it is than its forecast: from the
    latest ten, so that none were measured long ago.
    """
    # Not on the first day: the crew is only just coming together.
    day = scene.starts_on + timedelta(days=7 - scene.starts_on.weekday())
    while day < scene.ends_on - timedelta(days=1):
        dawn = day + timedelta(days=1)
        month = season_month(dawn, scene.latitude)
        is_quiet = month in (3, 7) or (month == 8 and dawn.day < 14)
        if is_quiet and day > scene.ends_on - MEASURED:
            yield day, round(9 + 3 * dice.random(), 1)
        day += timedelta(days=7)


def still_night(scene: Scene, low: float, dice: Random, name: str, day: date) -> None:
    """Note a forecast, the evening's air and dew point, and the lowest next morning."""
    by = scene.people[name]
    dawn = day + timedelta(days=1)
    made = scene.at(day, 15)
    weather_files.note_forecast(
        scene.orchard,
        by=by,
        now=made,
        today=day,
        for_on=dawn,
        source=SERVICE,
        tmin=low,
        dew_point=low - 1,
        wind=1.1,
        cloud=5,
    )
    clock = clock_of(scene.orchard, dawn)
    if clock is None:
        return
    evening = round(low + 7.5 + dice.gauss(0, 0.8), 1)
    weather_files.note_reading(
        scene.orchard,
        by=by,
        now=clock.evening_at + timedelta(minutes=5),
        at=clock.evening_at,
        celsius=evening,
        dew_point=round(evening - 6 + dice.gauss(0, 1.2), 1),
    )
    own = round(low + HOLLOW_C + dice.gauss(0, 0.4), 1)
    weather_files.note_reading(
        scene.orchard,
        by=by,
        now=scene.at(dawn, 9),
        at=clock.rises_at,
        celsius=own,
        what=Reading.What.LOWEST,
        calm_clear=True,
    )


def waterings(scene: Scene, dice: Random, day: date) -> None:
    """Note the litres of the watering that the crew closed on a day."""
    closed = (
        Closure.objects.filter(
            task__orchard=scene.orchard,
            task__kind=Task.Kind.CARE,
            task__key__in=LITRES,
            how=Closure.How.DONE,
            done_on=day,
            undone_at=None,
        )
        .select_related("task__tree", "by")
        .only("task__key", "task__tree", "by")
        .order_by("id")
    )
    for closure in closed:
        tree = closure.task.tree
        if tree is None or closure.by is None:
            continue
        tree.orchard = scene.orchard
        least, most = map(float, LITRES[closure.task.key])
        if tree.container_litres is not None:
            # Until it runs through below: a little more than the mix can miss.
            volume = float(tree.container_litres)
            least, most = volume * RUNS_OVER[0], volume * RUNS_OVER[1]
        litres = least + (most - least) * dice.random()
        if tree.state == Tree.State.GROWING:
            water.note_watering(
                [tree],
                given_on=day,
                litres=round(litres),
                by=closure.by,
                now=scene.at(day, 13),
                today=day,
            )


def pots(scene: Scene, name: str, day: date) -> None:
    """Note that every pot was watered until it ran through, as crews do midweek."""
    dice = Random(day.toordinal())
    potted = (
        Tree.objects.in_orchard(scene.orchard)
        .looked_after()
        .filter(setting=Tree.Setting.CONTAINER, container_litres__isnull=False)
        .filter(Q(planted_on=None) | Q(planted_on__lte=day))
        .order_by("id")
    )
    for tree in potted:
        tree.orchard = scene.orchard
    litres = {
        tree.pk: round(float(tree.container_litres or 0) * dice.uniform(*RUNS_OVER))
        for tree in potted
    }
    if litres:
        water.note_watering(
            potted,
            given_on=day,
            litres=litres,
            note="ran through below",
            by=scene.people[name],
            now=scene.at(day, 12),
            today=day,
        )


def begin(scene: Scene, by: User) -> None:
    """Say what the ground is like when the book begins."""
    water.set_soil(
        scene.orchard,
        sort="loam" if scene.latitude > 0 else "sand",
        cover="bare",
        by=by,
        now=scene.at(scene.starts_on, 16),
    )


def finish(
    scene: Scene, dice: Random, *, name: str, crowns: int, days: timedelta
) -> None:
    """Take in so many days up to yesterday, and what is forecast from today."""
    by, today, now = scene.people[name], scene.ends_on, scene.now
    shades = NORTH_SHADES if scene.latitude > 0 else SOUTH_SHADES
    for shade in shades:
        _survey(scene, shade, by)
    measured = [scene.trees[code].pk for code in sorted(scene.trees)[:crowns]]
    _crowns(scene, dice, by, measured)
    yesterday = today - timedelta(days=1)
    skies = climate.days(
        today - days,
        yesterday,
        latitude=scene.latitude,
        dice=dice,
        frosts=scene.frosts,
    )
    weather_files.import_days(
        scene.orchard,
        _sheet("garden station.csv", climate.HEADS, [sky.cells() for sky in skies]),
        station=NewStation(
            "Garden station", "Read off every morning (invented)", "own"
        ),
        by=by,
        now=now,
        today=today,
    )
    weather_files.import_days(
        scene.orchard,
        _sheet("forecast.csv", FORECAST_HEADS, list(_forecast(scene, dice, now))),
        sort=weather_files.Sort.FORECAST,
        by=by,
        now=now,
        today=today,
        source=SERVICE,
    )
    pots = Tree.objects.in_orchard(scene.orchard).filter(setting=Tree.Setting.CONTAINER)
    pots = pots.exclude(pk__in=measured).order_by("code")
    _crowns(scene, dice, by, list(pots.values_list("pk", flat=True)))


FORECAST_HEADS = (
    "Day", "Lowest °C", "Highest °C", "Dew point °C", "Wind (m/s)", "Cloud %",
    "Rain mm",
)  # fmt: skip


def _forecast(scene: Scene, dice: Random, now: datetime) -> Iterator[tuple[str, ...]]:
    """Yield the coming days: in the frost season two clear nights, colder each."""
    winter = season_month(scene.ends_on, scene.latitude) in (9, 10, 11, 12)
    for ahead in range(COMING):
        on = scene.ends_on + timedelta(days=ahead)
        mean = 16.2 + 7.2 * climate.warmth(on, scene.latitude) + dice.gauss(0, 1)
        low, high = mean - 5.5, mean + 5.5
        wind, cloud, rain = 1.0 + dice.random(), 10 + 50 * dice.random(), 0.0
        if winter and ahead in (1, 2):
            low, wind, cloud = (2.2, 1.2, 5.0) if ahead == 1 else (0.6, 0.9, 0.0)
            high = 12.0
        if ahead == 5:
            cloud, rain = 90.0, round(4 + 8 * dice.random(), 1)
        dew = min(low, mean - 7)
        values = (low, high, dew, wind, cloud, rain)
        yield on.isoformat(), *(f"{value:.1f}" for value in values)


def _sheet(name: str, heads: tuple[str, ...], rows: list[tuple[str, ...]]) -> Sheet:
    return Sheet(name, heads, tuple(enumerate(rows, 2)))


def _crowns(scene: Scene, dice: Random, by: User, numbers: Iterable[int]) -> None:
    day = scene.ends_on - timedelta(days=9)
    for number in numbers:
        tree = Tree.objects.get(pk=number)
        tree.orchard = scene.orchard
        if tree.state != Tree.State.GROWING or (tree.planted_on or day) > day:
            continue
        age = min(scene.age(tree, day), 18.0)
        potted = tree.setting == Tree.Setting.CONTAINER
        width = 0.9 + 0.2 * dice.random() if potted else 0.8 + 0.19 * age
        water.measure_crown(
            tree,
            measured_on=day,
            width_m=round(width, 1),
            height_m=round(width * 1.1, 1),
            by=by,
            now=scene.at(day, 11),
            today=day,
        )


def _survey(scene: Scene, shade: Shade, by: User) -> None:
    block, _dash, number = shade.spot.partition("-")
    spot = (
        Spot.objects.filter(
            block__orchard=scene.orchard, block__code=block, number=number
        )
        .select_related("block__orchard")
        .first()
    )
    if spot is None:
        spot = (
            Spot.objects.filter(block__orchard=scene.orchard)
            .select_related("block__orchard")
            .exclude(horizons__isnull=False)
            .order_by("block__position", "position", "id")
            .first()
        )
    if spot is None:
        return
    day = scene.ends_on - timedelta(days=20)
    sun_hours.survey_horizon(
        spot,
        surveyed_on=day,
        points=[(place * 22.5, angle) for place, angle in enumerate(shade.angles)],
        how=Horizon.How.TYPED,
        declination=-1.5 if scene.latitude > 0 else 8.0,
        note=shade.note,
        by=by,
        now=scene.at(day, 12),
        today=day,
    )
