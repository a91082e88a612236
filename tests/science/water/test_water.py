from __future__ import annotations

import math
from datetime import UTC, date, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from orchard.science import water, weather
from orchard.science.water import need
from orchard.science.weather import air, radiation
from tests.science.published import rows

# Allen, Pereira, Raes & Smith (1998), FAO Irrigation and Drainage Paper 56: the
# numbered examples. Printed figures are read unless a line says memory.

ANY_DAY = date(2023, 7, 6)
days = st.dates(min_value=date(2000, 1, 1), max_value=date(2040, 12, 31))
latitudes = st.floats(min_value=-60, max_value=60)


def test_example_2_pressure_and_psychrometric_constant() -> None:
    """FAO-56, example 2: air pressure and psychrometric constant as printed."""
    assert air.pressure(1800) == pytest.approx(81.8, abs=0.05)
    assert air.psychrometric_constant(81.8) == pytest.approx(0.054, abs=0.0005)


def test_example_3_saturation_vapour_pressure() -> None:
    """FAO-56, example 3: saturation vapour pressure as printed."""
    # es 2.39 read; the two single values from memory.
    assert weather.saturation_vapour_pressure(24.5) == pytest.approx(3.075, abs=0.001)
    assert weather.saturation_vapour_pressure(15.0) == pytest.approx(1.705, abs=0.001)
    assert air.mean_saturation_vapour_pressure(15, 24.5) == pytest.approx(
        2.39, abs=0.005
    )


def test_example_4_vapour_pressure_from_a_wet_bulb() -> None:
    """FAO-56, example 4: vapour pressure from a wet bulb as printed."""
    pressure = air.pressure(1200)
    assert pressure == pytest.approx(87.9, abs=0.05)
    assert weather.saturation_vapour_pressure(19.5) == pytest.approx(2.267, abs=0.001)
    found = air.vapour_pressure_from_wet_bulb(25.6, 19.5, pressure)
    assert found == pytest.approx(1.91, abs=0.005)


def test_example_5_vapour_pressure_from_humidity() -> None:
    """FAO-56, example 5: vapour pressure from humidity as printed."""
    found = weather.reference_et(ANY_DAY, 50, 100, 18, 25, rh_max=82, rh_min=54)
    assert found.vapour_pressure == pytest.approx(1.70, abs=0.005)


def test_example_8_radiation_above_the_air() -> None:
    """FAO-56, example 8: radiation above the air as printed."""
    third_of_september = date(2023, 9, 3)
    assert radiation.day_of_year(third_of_september) == 246
    assert radiation.inverse_relative_distance(third_of_september) == pytest.approx(
        0.985, abs=0.0005
    )
    assert radiation.declination(third_of_september) == pytest.approx(0.120, abs=0.0005)
    assert radiation.sunset_hour_angle(third_of_september, -20) == pytest.approx(
        1.527, abs=0.0005
    )
    found = weather.extraterrestrial_radiation(third_of_september, -20)
    assert found == pytest.approx(32.2, abs=0.05)


def test_example_9_daylight_hours() -> None:
    """FAO-56, example 9: daylight hours as printed."""
    assert weather.daylight_hours(date(2023, 9, 3), -20) == pytest.approx(
        11.7, abs=0.05
    )


def test_example_10_solar_radiation_from_sunshine() -> None:
    """FAO-56, example 10: solar radiation from sunshine as printed."""
    found = radiation.solar_from_sunshine(7.1, 10.9, 25.1)
    assert found == pytest.approx(14.45, abs=0.05)


def test_example_11_net_longwave() -> None:
    """FAO-56, example 11: net longwave radiation as printed."""
    found = radiation.net_longwave(19.1, 25.1, 2.1, 14.5, 18.8)
    assert found == pytest.approx(3.5, abs=0.05)


def test_example_12_net_shortwave() -> None:
    """FAO-56, example 12: net shortwave radiation as printed."""
    # Printed 11.1, rounded down from 11.165.
    assert radiation.net_shortwave(14.5) == pytest.approx(11.1, abs=0.1)


def test_example_13_soil_heat_of_a_month() -> None:
    """FAO-56, example 13: soil heat of a month as printed."""
    # April to June of 14.1 and 18.8 °C.
    found = radiation.monthly_soil_heat(14.1, 18.8)
    assert found == pytest.approx(0.33, abs=0.005)
    assert found * radiation.MM_PER_MJ == pytest.approx(0.13, abs=0.005)


def test_example_14_wind_at_two_metres() -> None:
    """FAO-56, example 14: wind at two metres as printed."""
    assert weather.wind_at_2m(3.2, 10) == pytest.approx(2.4, abs=0.05)


def test_example_15_solar_radiation_from_temperatures() -> None:
    """FAO-56, example 15: solar radiation from temperatures as printed."""
    found = radiation.solar_from_temperatures(14.8, 26.6, 40.6)
    assert found == pytest.approx(22.3, abs=0.05)


def test_example_18_a_day_with_all_measurements() -> None:
    """FAO-56, example 18: a day with all measurements as printed."""
    # Uccle, 6 July, 50°48' N, 100 m. ET0 3.9 read (3.88 in the working).
    wind = weather.wind_at_2m(10 / 3.6, 10)
    assert wind == pytest.approx(2.078, abs=0.001)
    found = weather.reference_et(
        ANY_DAY,
        50.8,
        100,
        12.3,
        21.5,
        rh_max=84,
        rh_min=63,
        wind_2m=wind,
        sunshine_hours=9.25,
    )
    assert radiation.day_of_year(ANY_DAY) == 187
    assert found.vapour_pressure == pytest.approx(1.409, abs=0.001)
    assert air.slope_of_saturation(16.9) == pytest.approx(0.122, abs=0.0005)
    assert air.psychrometric_constant(air.pressure(100)) == pytest.approx(
        0.0666, abs=0.00005
    )
    above_air = weather.extraterrestrial_radiation(ANY_DAY, 50.8)
    assert above_air == pytest.approx(41.09, abs=0.05)
    assert radiation.clear_sky(100, above_air) == pytest.approx(30.90, abs=0.05)
    assert found.solar == pytest.approx(22.07, abs=0.05)
    assert found.net_radiation == pytest.approx(13.28, abs=0.05)
    assert found.mm == pytest.approx(3.88, abs=0.02)
    assert found.estimated == ()


def test_example_20_a_day_with_temperatures_only() -> None:
    """FAO-56, example 20: a day with temperatures only as printed."""
    # Lyon, mid July, 45°43' N, 200 m. 4.56 and 5.03 from memory, ea and Rs read.
    mid_july = date(2023, 7, 15)
    latitude = 45 + 43 / 60
    found = weather.reference_et(mid_july, latitude, 200, 14.8, 26.6)
    assert found.vapour_pressure == pytest.approx(1.68, abs=0.005)
    assert found.solar == pytest.approx(22.3, abs=0.05)
    assert found.mm == pytest.approx(4.56, abs=0.02)
    assert found.estimated == ("vapour pressure", "wind", "solar radiation")
    by_hargreaves = weather.hargreaves_et(mid_july, latitude, 14.8, 26.6)
    assert by_hargreaves == pytest.approx(5.03, abs=0.02)


def test_the_result_names_only_what_was_estimated() -> None:
    found = weather.reference_et(ANY_DAY, 50.8, 100, 12.3, 21.5, ea=1.4, wind_2m=2.0)
    assert found.estimated == ("solar radiation",)
    found = weather.reference_et(ANY_DAY, 50.8, 100, 12.3, 21.5, rh_mean=70, solar=22)
    assert found.estimated == ("wind",)


def test_humidity_follows_the_published_order_of_preference() -> None:
    # FAO-56 equations 17, 18 and 19, worked by hand from equation 11.
    low, high = 12.3, 21.5
    cold, warm = air.saturated(low), air.saturated(high)

    def vapour(**humidity: float) -> float:
        found = weather.reference_et(ANY_DAY, 50.8, 100, low, high, **humidity)
        return found.vapour_pressure

    assert vapour(rh_max=84) == pytest.approx(0.84 * cold)
    assert vapour(rh_mean=70) == pytest.approx(0.70 * (cold + warm) / 2)
    assert vapour(rh_max=84, rh_min=63, rh_mean=10) == pytest.approx(
        (0.84 * cold + 0.63 * warm) / 2
    )
    assert vapour(ea=1.3, rh_max=84, rh_min=63) == pytest.approx(1.3)


@pytest.mark.parametrize("row", rows("citrus-kc"), ids=str)
def test_crop_coefficients_are_those_of_table_12(row: dict[str, str]) -> None:
    """Crop coefficients are those of FAO-56, Table 12."""
    ground = "bare" if row["ground_cover"] == "none" else "covered"
    share = float(row["canopy_cover"].removesuffix(" %")) / 100
    for stage, column in (("initial", "kc_ini"), ("mid", "kc_mid"), ("end", "kc_end")):
        assert need.crop_coefficient(share, ground, stage) == pytest.approx(
            float(row[column]), abs=1e-9
        )


def test_canopy_raises_the_coefficient_on_bare_ground_and_lowers_it_on_cover() -> None:
    """A wider canopy raises the coefficient on bare ground and lowers it on grass."""
    # The order of the rows of FAO-56 Table 12.
    shares = [0.2, 0.3, 0.5, 0.6, 0.7]
    for stage in need.CropStage:
        bare = [need.crop_coefficient(share, "bare", stage) for share in shares]
        covered = [need.crop_coefficient(share, "covered", stage) for share in shares]
        assert bare == sorted(bare)
        assert covered == sorted(covered, reverse=True)
    for share in shares:
        for ground in need.GroundCover:
            mid = need.crop_coefficient(share, ground, "mid")
            assert mid <= need.crop_coefficient(share, ground, "initial")
            assert mid <= need.crop_coefficient(share, ground, "end")


def test_between_the_rows_the_coefficient_lies_on_a_straight_line() -> None:
    # Own arithmetic between the rows of 20 % (0.50) and 50 % (0.65).
    assert need.crop_coefficient(0.35, "bare", "initial") == pytest.approx(0.575)
    assert need.crop_coefficient(0.05, "bare", "initial") == pytest.approx(0.50)
    assert need.crop_coefficient(1.0, "bare", "initial") == pytest.approx(0.70)


@pytest.mark.parametrize(
    ("across", "kc", "et0", "litres"),
    [(3.0, 0.65, 5.0, 22.97), (2.0, 0.60, 4.5, 8.48), (4.0, 0.70, 6.0, 52.78)],
)
def test_litres_over_the_crown_circle(
    across: float, kc: float, et0: float, litres: float
) -> None:
    """Litres over the crown circle are depth times area."""
    # Own arithmetic: 1 mm on 1 m2 is 1 L.
    assert water.litres_per_tree(et0, kc, across) == pytest.approx(litres, abs=0.005)


def test_litres_over_the_whole_ground_rain_and_losses() -> None:
    """Litres over the whole ground, less rain and with losses, as worked by hand."""
    # Own arithmetic: 5 m by 6 m, 0.65 of 5 mm; 85 % reaches the roots.
    assert need.litres_per_area(5.0, 0.65, 30.0) == pytest.approx(97.5)
    assert need.litres_per_area(5.0, 0.65, 30.0, efficiency=0.85) == pytest.approx(
        114.7, abs=0.05
    )
    assert need.litres_per_area(5.0, 0.65, 30.0, rain=1.25) == pytest.approx(60.0)
    assert need.litres_per_area(5.0, 0.65, 30.0, rain=50.0) == 0.0
    assert water.litres_per_tree(5.0, 0.65, 3.0) < need.litres_per_area(5, 0.65, 30)


@given(days, latitudes, st.floats(-10, 40), st.floats(0, 25))
def test_evapotranspiration_is_never_negative(
    day: date, latitude: float, tmin: float, span: float
) -> None:
    found = weather.reference_et(day, latitude, 100, tmin, tmin + span)
    assert 0 <= found.mm < 25
    assert weather.hargreaves_et(day, latitude, tmin, tmin + span) >= 0


@given(days, st.floats(min_value=0, max_value=65))
def test_the_other_hemisphere_has_the_rest_of_the_day(
    day: date, latitude: float
) -> None:
    # Geometry: daylight at a latitude and at its mirror add up to 24 h.
    both = weather.daylight_hours(day, latitude) + weather.daylight_hours(
        day, -latitude
    )
    assert both == pytest.approx(24.0, abs=1e-9)


def test_beyond_the_polar_circle_the_day_is_whole_or_nothing() -> None:
    midsummer, midwinter = date(2023, 6, 21), date(2023, 12, 21)
    assert weather.daylight_hours(midsummer, 80) == pytest.approx(24.0)
    assert weather.daylight_hours(midwinter, 80) == pytest.approx(0.0)
    assert weather.extraterrestrial_radiation(midwinter, 80) == pytest.approx(0.0)
    with pytest.raises(ValueError, match="does not rise"):
        weather.reference_et(midwinter, 80, 100, -20, -10)


def test_more_sun_than_a_clear_sky_sends_back_no_more_heat() -> None:
    # FAO-56, equation 39: the share of clear-sky radiation is held at 1 (read), and at
    # 0.3 below (Allen et al. 2005, from memory).
    clear = radiation.net_longwave(12.3, 21.5, 1.4, 30.0, 30.0)
    assert radiation.net_longwave(12.3, 21.5, 1.4, 33.0, 30.0) == clear
    dull = radiation.net_longwave(12.3, 21.5, 1.4, 9.0, 30.0)
    assert radiation.net_longwave(12.3, 21.5, 1.4, 0.0, 30.0) == pytest.approx(dull)
    assert 0 < dull < clear


def test_dew_on_a_cold_dull_day_calls_for_no_water() -> None:
    found = weather.reference_et(
        date(2023, 12, 21), 58, 10, 1.0, 2.0, rh_mean=100, wind_2m=0.0, solar=0.1
    )
    assert found.mm == 0.0


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"tmin": 25.0}, "tmin"),
        ({"tmax": math.nan}, "tmax"),
        ({"latitude": 91.0}, "latitude"),
        ({"elevation": -800.0}, "elevation"),
        ({"rh_max": 101.0}, "rh_max"),
        ({"rh_mean": -1.0}, "rh_mean"),
        ({"rh_min": 60.0}, "rh_min"),
        ({"rh_min": 90.0, "rh_max": 80.0}, "rh_min"),
        ({"ea": 5.0}, "ea"),
        ({"wind_2m": -1.0}, "wind_2m"),
        ({"solar": 60.0}, "solar"),
        ({"sunshine_hours": 20.0}, "sunshine_hours"),
        ({"day": datetime(2023, 7, 6, tzinfo=UTC)}, "day"),
    ],
)
def test_weather_without_meaning_is_refused_by_name(
    changes: dict[str, object], told: str
) -> None:
    sound: dict[str, object] = {
        "day": ANY_DAY,
        "latitude": 50.8,
        "elevation": 100.0,
        "tmin": 12.3,
        "tmax": 21.5,
    }
    weather.reference_et(**sound)  # type: ignore[arg-type]
    with pytest.raises(ValueError, match=told):
        weather.reference_et(**(sound | changes))  # type: ignore[arg-type]


def test_words_and_shares_outside_the_table_are_refused() -> None:
    with pytest.raises(ValueError, match="canopy_cover is 70"):
        need.crop_coefficient(70, "bare", "mid")
    with pytest.raises(ValueError, match="allowed is bare or covered"):
        need.crop_coefficient(0.7, "grass", "mid")
    with pytest.raises(ValueError, match="allowed is initial or mid or end"):
        need.crop_coefficient(0.7, "bare", "middle")
    with pytest.raises(ValueError, match="efficiency"):
        water.litres_per_tree(5, 0.65, 3, efficiency=0)
    with pytest.raises(ValueError, match="rain"):
        water.litres_per_tree(5, 0.65, 3, rain=-1)


def test_a_wet_bulb_that_no_air_can_show_is_refused() -> None:
    with pytest.raises(ValueError, match="wet <= dry"):
        air.vapour_pressure_from_wet_bulb(10, 12, 101.3)
    with pytest.raises(ValueError, match="nearer to the dry one"):
        air.vapour_pressure_from_wet_bulb(30, -5, 101.3)


def test_each_answer_names_its_method_and_source() -> None:
    found = weather.reference_et(ANY_DAY, 50.8, 100, 12.3, 21.5)
    assert "Penman-Monteith" in found.method
    assert "Paper 56" in found.source
