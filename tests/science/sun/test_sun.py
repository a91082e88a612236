from __future__ import annotations

import math
import re
from datetime import UTC, date, datetime, timedelta, timezone

import pytest
from hypothesis import given
from hypothesis import strategies as st

from orchard.science import sun
from orchard.science.sun.hours import (
    Horizon,
    _Skyline,
    direct_hours,
    geometric_position,
    skyline_at,
)
from tests.science.published import rows

latitudes = st.floats(min_value=-65, max_value=65)
longitudes = st.floats(min_value=-180, max_value=180)
days = st.dates(min_value=date(1990, 1, 1), max_value=date(2050, 12, 31))


def horizon_of(text: str) -> list[tuple[float, float]]:
    """Read the words of the table: ranges of azimuth with upright edges."""
    if text == "open":
        return []
    if bowl := re.fullmatch(r"bowl (\d+) all round", text):
        return [(0.0, float(bowl[1]))]
    base = float(found[1]) if (found := re.match(r"fence (\d+)", text)) else 0.0
    start, end, height = (
        float(part) for part in re.search(r"az(\d+)-(\d+) h(\d+)", text).groups()
    )
    return [(start, base), (start, height), (end, height), (end, base)]


def test_the_worked_example_of_the_solar_position_algorithm() -> None:
    """The worked example of the solar position algorithm comes out as printed."""
    # Reda & Andreas (2004), NREL/TP-560-34302, appendix: zenith 50.11162, azimuth
    # 194.34024 (from memory; recomputed with pvlib). The example stands at 820 mbar,
    # which bends light 0.004 degrees less than at sea level.
    when = datetime(2003, 10, 17, 12, 30, 30, tzinfo=timezone(timedelta(hours=-7)))
    elevation, azimuth = sun.position(when, 39.742476, -105.1786)
    assert 90 - elevation == pytest.approx(50.11162, abs=0.01)
    assert azimuth == pytest.approx(194.34024, abs=0.01)


def test_sunrise_and_sunset_of_the_same_example() -> None:
    """Sunrise and sunset of that example come out as printed."""
    # Printed 06:12:43 and 17:20:19 at UTC-7 (from memory; recomputed with pvlib). The
    # algorithm answers for a day of UTC, so its sunset is that of the local day before.
    today = sun.rise_and_set(date(2003, 10, 17), 39.742476, -105.1786)
    yesterday = sun.rise_and_set(date(2003, 10, 16), 39.742476, -105.1786)
    assert today is not None
    assert yesterday is not None
    rise = datetime(2003, 10, 17, 13, 12, 43, tzinfo=UTC)
    fall = datetime(2003, 10, 17, 0, 20, 19, tzinfo=UTC)
    assert abs(today.rises_at - rise) < timedelta(seconds=30)
    assert abs(yesterday.sets_at - fall) < timedelta(seconds=30)


@pytest.mark.parametrize("row", rows("sun-positions"), ids=lambda row: row["case"])
def test_positions_in_both_hemispheres(row: dict[str, str]) -> None:
    """The sun stands where the reference library has it, in both hemispheres."""
    # pvlib 0.16.1, nrel_numpy.
    when = datetime.fromisoformat(row["utc"])
    place = float(row["lat"]), float(row["lon"])
    elevation, azimuth = sun.position(when, *place)
    assert elevation == pytest.approx(float(row["elevation_apparent"]), abs=0.02)
    geometric, _ = geometric_position(when, *place)
    assert geometric == pytest.approx(float(row["elevation_geometric"]), abs=0.02)
    near_zenith = elevation > 87
    assert azimuth == pytest.approx(
        float(row["azimuth_from_north"]), abs=0.5 if near_zenith else 0.05
    )


@pytest.mark.parametrize(
    ("utc", "place", "elevation", "azimuth"),
    [
        ("2024-03-20 09:00", (39.47, -0.38), 31.694, 120.39),
        ("2024-06-20 23:00", (-34.18, 142.16), 13.309, 49.10),
        ("2024-01-31 19:00", (-36.85, 174.76), 15.325, 100.44),
    ],
)
def test_more_positions_without_refraction(
    utc: str, place: tuple[float, float], elevation: float, azimuth: float
) -> None:
    """Nor does it differ where the bending of light is left out."""
    # pvlib 0.16.1.
    when = datetime.fromisoformat(utc).replace(tzinfo=UTC)
    found = geometric_position(when, *place)
    assert found[0] == pytest.approx(elevation, abs=0.02)
    assert found[1] == pytest.approx(azimuth, abs=0.02)


PLACE = re.compile(r"([\d.]+)([NS]) ([\d.]+)([EW])")


def place_of(text: str) -> tuple[float, float]:
    if text == "0N 0E":
        return 0.0, 0.0
    north, ns, east, ew = PLACE.fullmatch(text).groups()
    return (
        float(north) * (1 if ns == "N" else -1),
        float(east) * (1 if ew == "E" else -1),
    )


@pytest.mark.parametrize(
    "row", rows("sun-daylength"), ids=lambda row: row["place"] + row["date"]
)
def test_rise_set_and_day_length(row: dict[str, str]) -> None:
    """Sunrise, sunset and length of day are those of the reference library."""
    # pvlib 0.16.1 sun_rise_set_transit_spa.
    day = date.fromisoformat(row["date"])
    found = sun.rise_and_set(day, *place_of(row["place"]))
    assert found is not None
    hours = {"Etc/GMT+5": -5, "UTC": 0, "Etc/GMT-10": 10}[row["tz"]]
    zone = timezone(timedelta(hours=hours))
    for moment, column in (
        (found.rises_at, "sunrise_spa"),
        (found.sets_at, "sunset_spa"),
    ):
        printed = datetime.fromisoformat(f"{row['date']} {row[column]}")
        assert abs(moment - printed.replace(tzinfo=zone)) < timedelta(minutes=1)
    assert found.hours == pytest.approx(float(row["daylength_h_spa"]), abs=0.02)
    assert direct_hours(
        day, *place_of(row["place"]), [], step_minutes=1
    ) == pytest.approx(float(row["geometric_h_centre_above_0"]), abs=0.05)


@pytest.mark.parametrize(
    "row",
    rows("sun-hours-horizon"),
    ids=lambda row: " ".join((row["place"], row["date"], row["horizon"])),
)
def test_direct_sun_past_a_horizon(row: dict[str, str]) -> None:
    """The hours of sun past a horizon are those counted minute by minute."""
    # pvlib 0.16.1 at 1-minute midpoints, in both hemispheres.
    day = date.fromisoformat(row["date"])
    place = float(row["lat"]), float(row["lon"])
    horizon = horizon_of(row["horizon"])
    fine = direct_hours(day, *place, horizon, step_minutes=1)
    assert fine == pytest.approx(float(row["sun_hours_geometric"]), abs=0.05)
    coarse = direct_hours(day, *place, horizon, step_minutes=10)
    assert coarse == pytest.approx(float(row["sun_hours_geometric"]), abs=0.35)


def test_a_wall_to_the_north_shades_only_the_south_in_midwinter() -> None:
    # pvlib 0.16.1: 9.733 to 5.733 h at 34.18 S; nothing lost at 25.5 N.
    north_wall = horizon_of("wall N az315-45 h30")
    south_wall = horizon_of("wall S az135-225 h30")
    south_place, winter_there = (-34.18, 142.16), date(2024, 6, 20)
    north_place, winter_here = (25.5, -80.5), date(2024, 12, 21)

    def hours(day: date, place: tuple[float, float], wall: Horizon) -> float:
        return direct_hours(day, *place, wall, step_minutes=1)

    assert hours(winter_there, south_place, north_wall) == pytest.approx(
        5.733, abs=0.05
    )
    assert hours(winter_there, south_place, south_wall) == hours(
        winter_there, south_place, []
    )
    assert hours(winter_here, north_place, north_wall) == hours(
        winter_here, north_place, []
    )
    assert hours(winter_here, north_place, south_wall) == pytest.approx(9.283, abs=0.05)


def test_a_horizon_is_joined_by_straight_lines_around_the_circle() -> None:
    # Own arithmetic: from 30 degrees at 350 down to 10 degrees at 10 is 20 at north.
    skyline = _Skyline.from_points([(10.0, 10.0), (350.0, 30.0)])
    assert skyline.elevation(0.0) == pytest.approx(20.0)
    assert skyline.elevation(180.0) == pytest.approx(20.0)
    assert skyline.elevation(355.0) == pytest.approx(25.0)
    assert skyline.elevation(359.999) == pytest.approx(20.0, abs=0.01)


def test_the_order_of_the_points_does_not_matter() -> None:
    points = [(200.0, 25.0), (20.0, 5.0), (110.0, 40.0)]
    day = date(2024, 3, 20)
    first = direct_hours(day, 25.5, -80.5, points)
    assert direct_hours(day, 25.5, -80.5, sorted(points)) == first


def test_a_year_of_hours_turns_round_with_the_hemisphere() -> None:
    # Geometry: midsummer is longest, and the hemispheres swap.
    north = sun.year_of_hours(2023, 34.18, 0.0, [], step_minutes=20)
    south = sun.year_of_hours(2023, -34.18, 0.0, [], step_minutes=20)
    assert len(north) == 12
    assert max(north) == north[5]
    assert min(north) == north[11]
    assert max(south) == south[11]
    assert min(south) == south[5]


@pytest.mark.parametrize(
    "horizon",
    [
        [],
        [(90.0, 30.0), (270.0, 10.0)],
        # Upright edges, and a wall across north.
        [(150.0, 4.0), (150.0, 35.0), (210.0, 35.0), (210.0, 4.0)],
        [(340.0, 0.0), (340.0, 50.0), (20.0, 50.0), (20.0, 0.0)],
    ],
)
def test_the_mean_of_a_month_is_that_of_its_days(
    horizon: list[tuple[float, float]],
) -> None:
    each = [
        direct_hours(date(2024, 2, day), 33.0, -112.0, horizon, step_minutes=30)
        for day in range(1, 30)
    ]
    year = sun.year_of_hours(2024, 33.0, -112.0, horizon, step_minutes=30)
    assert year[1] == pytest.approx(sum(each) / 29)


@given(days, latitudes, longitudes, st.floats(0, 60), st.floats(0, 29))
def test_a_higher_horizon_never_gives_more_sun(
    day: date, latitude: float, longitude: float, height: float, more: float
) -> None:
    low = direct_hours(day, latitude, longitude, [(0.0, height)], step_minutes=30)
    high = direct_hours(
        day, latitude, longitude, [(0.0, height + more)], step_minutes=30
    )
    assert 0 <= high <= low <= 24


@given(days, latitudes, longitudes)
def test_azimuth_and_elevation_stay_on_the_sphere(
    day: date, latitude: float, longitude: float
) -> None:
    when = datetime(day.year, day.month, day.day, 5, tzinfo=UTC)
    elevation, azimuth = sun.position(when, latitude, longitude)
    assert -90 <= elevation <= 90.6
    assert 0 <= azimuth < 360


def test_the_sun_that_never_sets_and_never_rises() -> None:
    assert sun.rise_and_set(date(2024, 6, 21), 75, 20) is None
    assert direct_hours(date(2024, 6, 21), 75, 20, []) == pytest.approx(24.0)
    assert sun.rise_and_set(date(2024, 12, 21), 75, 20) is None
    assert direct_hours(date(2024, 12, 21), 75, 20, []) == 0.0


def test_a_moment_is_the_same_in_every_time_zone() -> None:
    utc = datetime(2024, 6, 20, 17, 24, tzinfo=UTC)
    local = utc.astimezone(timezone(timedelta(hours=-4)))
    assert sun.position(utc, 25.5, -80.5) == sun.position(local, 25.5, -80.5)


@pytest.mark.parametrize(
    ("call", "told"),
    [
        (lambda: sun.position(datetime(2024, 6, 20), 25, -80), "when"),  # noqa: DTZ001
        (lambda: sun.position(datetime(1800, 1, 1, tzinfo=UTC), 25, 0), "1900 to 2100"),
        (lambda: sun.position(datetime(2024, 1, 1, tzinfo=UTC), 91, 0), "latitude"),
        (lambda: sun.position(datetime(2024, 1, 1, tzinfo=UTC), 0, 181), "longitude"),
        (lambda: direct_hours(date(2024, 1, 1), 0, 0, [(400, 5)]), "azimuth"),
        (lambda: direct_hours(date(2024, 1, 1), 0, 0, [(40, 95)]), "elevation"),
        (lambda: direct_hours(date(2024, 1, 1), 0, 0, [(40, math.nan)]), "horizon"),
        (
            lambda: direct_hours(date(2024, 1, 1), 0, 0, [], step_minutes=7),
            "divisor of 60",
        ),
        (
            lambda: direct_hours(datetime(2024, 1, 1, tzinfo=UTC), 0, 0, []),
            "day is",
        ),
        (lambda: sun.year_of_hours(1500, 0, 0, []), "year"),
    ],
)
def test_places_and_moments_without_meaning_are_refused(call, told: str) -> None:
    with pytest.raises(ValueError, match=told):
        call()


def test_a_wall_hides_what_plane_geometry_says() -> None:
    # By hand: 5 m high, 5 m away, 10 m wide: 45 degrees up in the middle and 45 to
    # either side, where the top stands at atan(5 cos 45 / 5) = 35.26 degrees.
    wall = sun.obstacle(180.0, 5.0, 5.0, 10.0)
    assert wall[0] == (pytest.approx(135.0), 0.0)
    assert wall[1] == (pytest.approx(135.0), pytest.approx(35.264, abs=0.001))
    assert skyline_at(wall, 180.0) == pytest.approx(45.0)
    assert skyline_at(wall, 0.0) == 0.0


def test_a_wall_across_north_is_one_wall() -> None:
    wall = sun.obstacle(0.0, 5.0, 5.0, 10.0)
    assert skyline_at(wall, 0.0) == pytest.approx(45.0)
    assert skyline_at(wall, 350.0) == pytest.approx(44.56, abs=0.05)
    assert skyline_at(wall, 20.0) > 40.0
    assert skyline_at(wall, 180.0) == 0.0


def test_two_skylines_are_as_high_as_the_higher() -> None:
    together = sun.higher_of([(0.0, 10.0)], sun.obstacle(180.0, 5.0, 5.0, 10.0))
    assert skyline_at(together, 180.0) == pytest.approx(45.0)
    assert skyline_at(together, 10.0) == pytest.approx(10.0)


def test_a_wall_to_the_north_takes_winter_sun_in_the_south_only() -> None:
    # The table of direct hours above says the same of upright walls at both places.
    wall = sun.obstacle(0.0, 5.0, 3.0, 10.0)
    day = date(2024, 6, 20)
    south = direct_hours(day, -34.18, 142.16, wall)
    assert south < direct_hours(day, -34.18, 142.16, []) - 2
    winter = date(2024, 12, 21)
    north = direct_hours(winter, 25.5, -80.5, wall)
    assert north == direct_hours(winter, 25.5, -80.5, [])


def test_four_and_six_and_eight_hours_part_the_places() -> None:
    # Common practice, no source: under 4 too little, 6 needed, 8 good.
    said = [sun.enough(hours).value for hours in (3.9, 4.0, 5.9, 6.0, 7.9, 8.0)]
    assert said == ["too_little", "little", "little", "enough", "enough", "good"]
