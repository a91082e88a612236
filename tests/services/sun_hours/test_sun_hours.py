"""Sun: horizons surveyed, and the hours they leave."""

from __future__ import annotations

import pytest

from orchard.science.sun import SunPath
from orchard.services import sun_hours
from tests.conftest import make_orchard, make_spot
from tests.refusals import refused
from tests.services.weather_days import AFTERNOON, JANUARY


def surveyed(orchard, by, height, **more):
    spot = make_spot(orchard, "9")
    row = sun_hours.survey_horizon(
        spot,
        surveyed_on=JANUARY,
        points=[(azimuth, height) for azimuth in range(0, 360, 45)],
        by=by,
        now=AFTERNOON,
        today=JANUARY,
        **more,
    )
    return spot, row


def test_a_bowl_takes_hours_in_every_month_and_most_in_winter(orchard, vera):
    spot, row = surveyed(orchard, vera, 30.0)
    year = sun_hours.year_of_spot(orchard, spot, row, year=2026)
    assert all(month.hours < month.open_h for month in year.months)
    assert year.worst.number in (12, 1)
    assert year.worst.enough.value == "too_little"


def test_the_darkest_month_of_the_south_is_in_its_own_winter(southbank, otto):
    spot, row = surveyed(southbank, otto, 15.0)
    year = sun_hours.year_of_spot(southbank, spot, row, year=2026)
    assert year.worst.number in (6, 7)


def test_a_wall_to_the_south_takes_northern_winter_sun(orchard, vera):
    spot, row = surveyed(orchard, vera, 2.0)
    wall = sun_hours.Obstacle(azimuth=180.0, distance=4.0, height=4.0, width=12.0)
    year = sun_hours.year_of_spot(orchard, spot, row, year=2026, what_if=wall)
    by_month = {month.number: month for month in year.months}
    assert by_month[12].then_h < by_month[12].hours - 3
    assert by_month[6].then_h == pytest.approx(by_month[6].hours, abs=0.2)


def test_the_declination_turns_compass_into_true_directions(orchard, vera):
    _spot, row = surveyed(orchard, vera, 10.0, declination=-3.0)
    assert row.points[0] == [42.0, 10.0]
    assert [357.0, 10.0] in row.points


def test_too_few_directions_or_an_impossible_angle_are_refused(orchard, vera):
    spot = make_spot(orchard, "9")
    for points in ([(0, 5), (90, 5), (180, 5)], [(0, 5), (90, 95), (180, 5), (270, 5)]):
        with refused("out_of_range"):
            sun_hours.survey_horizon(
                spot,
                surveyed_on=JANUARY,
                points=points,
                by=vera,
                now=AFTERNOON,
                today=JANUARY,
            )


def test_nobody_sees_another_orchards_ground(orchard, vera, southbank, otto):
    surveyed(orchard, vera, 10.0)
    other = make_orchard("elsewhere")
    assert sun_hours.tally_spots(other, year=2026).surveyed == 0
    assert not sun_hours.spots(southbank, year=2026)


class TestKept:
    """A spot's year is worked out when its horizon is kept, and not by who looks."""

    @pytest.fixture
    def asked(self, monkeypatch):
        """Count how often a year is worked out."""
        hours_past, asked = SunPath.hours_past, []

        def counted(path, horizon):
            asked.append(path)
            return hours_past(path, horizon)

        monkeypatch.setattr(SunPath, "hours_past", counted)
        return asked

    def test_whoever_looks_reads_what_is_kept(
        self, orchard, vera, asked, django_assert_num_queries
    ):
        spot, row = surveyed(orchard, vera, 30.0)
        assert len(asked) == 1
        with django_assert_num_queries(3):
            [listed] = sun_hours.spots(orchard, year=2026)
        assert sun_hours.tally_spots(orchard, year=2026).dark == 1
        assert len(asked) == 1
        shown = sun_hours.newest_horizon(spot)
        year = sun_hours.year_of_spot(orchard, spot, shown, year=2026)
        # Only the open sky is worked out on the page of a spot.
        assert len(asked) == 2
        assert listed.worst_h == year.worst.hours == min(row.direct_sun.hours)

    @pytest.mark.parametrize("change", ["year", "place"])
    def test_another_year_or_place_is_worked_out_anew_and_kept_at_night(
        self, orchard, vera, asked, change
    ):
        surveyed(orchard, vera, 12.0)
        year = 2027 if change == "year" else 2026
        if change == "place":
            orchard.latitude = "48.5"
            orchard.save()
        [now] = sun_hours.spots(orchard, year=year)
        assert len(asked) == 2
        assert sun_hours.keep_years(orchard, year=year) == 1
        del asked[:]
        [kept] = sun_hours.spots(orchard, year=year)
        assert (kept.worst_h, asked) == (now.worst_h, [])
        assert sun_hours.keep_years(orchard, year=year) == 0

    def test_only_the_newest_survey_of_a_spot_is_kept_at_night(self, orchard, vera):
        surveyed(orchard, vera, 30.0)
        _spot, newer = surveyed(orchard, vera, 10.0)
        assert sun_hours.keep_years(orchard, year=2027) == 1
        newer.direct_sun.refresh_from_db()
        assert newer.direct_sun.year == 2027
