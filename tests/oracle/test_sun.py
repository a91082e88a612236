from __future__ import annotations

import random
from datetime import UTC, date, datetime, timedelta

import pytest

from orchard.science import sun
from orchard.science.sun import hours

pytestmark = pytest.mark.oracle
pandas = pytest.importorskip("pandas")
solarposition = pytest.importorskip("pvlib.solarposition")


def test_two_thousand_positions_match_the_reference_algorithm() -> None:
    # pvlib, method nrel_numpy: the solar position algorithm of Reda & Andreas (2004).
    draw = random.Random(2004)
    for _ in range(40):
        latitude, longitude = draw.uniform(-66, 66), draw.uniform(-180, 180)
        moments = [
            datetime(1990, 1, 1, tzinfo=UTC)
            + timedelta(minutes=draw.randrange(60 * 365 * 24 * 60))
            for _ in range(50)
        ]
        table = solarposition.get_solarposition(
            pandas.DatetimeIndex(moments), latitude, longitude
        )
        for moment, row in zip(moments, table.itertuples(), strict=True):
            geometric, azimuth = hours.geometric_position(moment, latitude, longitude)
            seen, _ = sun.position(moment, latitude, longitude)
            assert geometric == pytest.approx(row.elevation, abs=0.02)
            # At the moment the disc leaves the horizon refraction jumps in both.
            if abs(row.elevation + 0.8333) > 0.03:
                assert seen == pytest.approx(row.apparent_elevation, abs=0.05)
            if abs(row.elevation) < 87:
                turned = abs((azimuth - row.azimuth + 180) % 360 - 180)
                assert turned < 0.25
                if abs(row.elevation) < 75:
                    assert turned < 0.05


def test_the_sun_is_on_the_horizon_at_a_thousand_sunrises_and_sunsets() -> None:
    # pvlib's elevation of the centre at our moments: -0.8333 degrees. Within
    # 0.02 degrees is within about ten seconds in these latitudes.
    draw = random.Random(34302)
    first = date(1990, 1, 1)
    for _ in range(50):
        latitude, longitude = draw.uniform(-55, 55), draw.uniform(-180, 180)
        moments = []
        for _ in range(10):
            day = first + timedelta(days=draw.randrange(60 * 365))
            found = sun.rise_and_set(day, latitude, longitude)
            assert found is not None
            noon = datetime(day.year, day.month, day.day, 12, tzinfo=UTC)
            noon -= timedelta(hours=longitude / 15)
            assert noon - timedelta(hours=12) < found.rises_at < noon
            assert noon < found.sets_at < noon + timedelta(hours=12)
            moments += [found.rises_at, found.sets_at]
        table = solarposition.get_solarposition(
            pandas.DatetimeIndex(moments), latitude, longitude
        )
        for elevation in table["elevation"]:
            assert elevation == pytest.approx(-0.8333, abs=0.02)
