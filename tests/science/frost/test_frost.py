from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from orchard.science import figures, frost, guide, weather
from orchard.science.frost.harm import Cover, Heat, protection
from orchard.science.guide import Tenderness
from tests.science.published import rows

# Ten clear nights, as printed with the regression of Snyder & de Melo-Abreu (2005), FAO
# Environment and Natural Resources Series 10; data read in a description of the method.
NIGHTS = list(
    zip(
        [3.2, 0.8, 0.2, 2.6, 4.4, 5.2, 2.7, 1.2, 4.5, 5.6],
        [-4.2, -8.8, -6.5, -6.2, -6.1, 2.6, -0.7, -1.7, -1.2, 0.1],
        [-3.1, -5.0, -6.3, -5.4, -4.0, -2.5, -4.8, -5.0, -4.4, -3.3],
        strict=True,
    )
)


def hardiness(
    key: str, soft: float, wood: float, kill: float, cover: float
) -> Tenderness:
    return Tenderness(
        key=key,
        name=key,
        soft_growth_c=soft,
        wood_c=wood,
        mature_kill_c=kill,
        cover_at_c=cover,
        sources=("COMMON",),
        how="memory",
    )


# Planning values, common practice, no source.
T2 = hardiness("T2", -1.5, -2.5, -4, 1)
T3 = hardiness("T3", -2.5, -4.5, -6, -1)
T5 = hardiness("T5", -5, -7, -10, -3.5)


def test_the_night_minimum_is_fitted_in_two_steps() -> None:
    # Printed -0.7409219 at T0 10, Td 2 (read). One regression on both variables would
    # give -1.0293 there, so the number tells the two methods apart.
    fitted = frost.fit_night_minimum(NIGHTS)
    assert frost.night_minimum(10, 2, fitted) == pytest.approx(-0.7409219, abs=1e-7)
    # statsmodels OLS, step by step.
    assert fitted.base == pytest.approx(-5.82199, abs=1e-5)
    assert fitted.air == pytest.approx(0.50281, abs=1e-5)
    assert fitted.dew == pytest.approx(0.026472, abs=1e-6)
    assert fitted.r_squared == pytest.approx(0.675, abs=5e-4)
    assert fitted.rmse_c == pytest.approx(0.631, abs=5e-4)
    assert fitted.nights == 10


def test_four_nights_are_the_fewest_that_can_be_fitted() -> None:
    assert frost.fit_night_minimum(NIGHTS[:4]).nights == 4
    # Nothing to explain when every night ended alike.
    alike = [(evening, dew, -3.0) for evening, dew, _ in NIGHTS]
    assert frost.fit_night_minimum(alike).r_squared is None


def test_a_night_follows_the_square_root_of_time() -> None:
    # Brunt's law with 0.95 °C two hours after sunset, -5.45 °C at sunrise and a night
    # of 15 h: printed values (read).
    printed = [
        *(-0.825, -1.560, -2.124, -2.600, -3.019, -3.398, -3.746),
        *(-4.071, -4.375, -4.663, -4.937, -5.199, -5.450),
    ]
    for hours, expected in enumerate(printed, start=3):
        found = frost.night_curve(0.95, -5.45, 15, hours)
        assert found == pytest.approx(expected, abs=0.001)
    assert frost.night_curve(0.95, -5.45, 15, 2) == pytest.approx(0.95)


@pytest.mark.parametrize(
    ("threshold", "hours"), [(0.0, 12.714), (-2.0, 10.238), (-2.2, 9.851)]
)
def test_hours_below_a_temperature_on_that_curve(
    threshold: float, hours: float
) -> None:
    """The hours below a temperature are those the night's curve itself shows."""
    # Own inversion of the curve: it crosses at 2.2864, 4.7620 and 5.1492 h.
    found = frost.hours_below(threshold, 0.95, -5.45, 15)
    assert found == pytest.approx(hours, abs=0.001)
    crossing = frost.night_curve(0.95, -5.45, 15, 15 - found)
    assert crossing == pytest.approx(threshold, abs=1e-9)


def test_hours_below_at_the_ends_of_the_curve() -> None:
    """A night above a temperature has no hours below it, one below has all of them."""
    assert frost.hours_below(5.0, 0.95, -5.45, 15) == 13.0
    assert frost.hours_below(-6.0, 0.95, -5.45, 15) == 0.0
    assert frost.hours_below(-5.45, 0.95, -5.45, 15) == pytest.approx(0.0)
    assert frost.hours_below(1.0, 1.0, 1.0, 15) == 13.0


@pytest.mark.parametrize("row", rows("dewpoint-wetbulb"), ids=str)
def test_dew_point_and_wet_bulb_against_the_table(row: dict[str, str]) -> None:
    """Dew point and wet bulb are those of the published tables."""
    # FAO-56 to the printed digits; WMO-No. 8 and MetPy within 0.1 °C; MetPy's wet bulb
    # within 0.2 °C in frost weather (0.4 °C at 20 °C and above).
    celsius, humidity = float(row["t_c"]), float(row["rh_pct"])
    dew = weather.dew_point(celsius, humidity)
    assert dew == pytest.approx(float(row["dewpoint_fao_c"]), abs=0.001)
    assert dew == pytest.approx(float(row["dewpoint_wmo_c"]), abs=0.1)
    assert dew == pytest.approx(float(row["dewpoint_metpy_c"]), abs=0.1)
    wet = weather.wet_bulb(celsius, humidity, 101.3)
    assert wet == pytest.approx(float(row["wetbulb_psychrometer_c"]), abs=0.001)
    near = 0.2 if celsius < 15 else 0.4
    assert wet == pytest.approx(float(row["wetbulb_metpy_c"]), abs=near)


def test_saturated_air_has_its_dew_point_and_wet_bulb_at_its_temperature() -> None:
    assert weather.dew_point(0, 100) == pytest.approx(0.0, abs=1e-9)
    assert weather.wet_bulb(0, 100, 101.3) == pytest.approx(0.0, abs=1e-6)


@given(st.floats(-15, 40), st.floats(1, 100), st.floats(80, 103))
def test_the_wet_bulb_lies_between_the_dew_point_and_the_air(
    celsius: float, humidity: float, pressure: float
) -> None:
    dew = weather.dew_point(celsius, humidity)
    wet = weather.wet_bulb(celsius, humidity, pressure)
    assert dew - 1e-6 <= wet <= celsius + 1e-6


@given(st.floats(-15, 40), st.floats(1, 99), st.floats(0, 1))
def test_moister_air_has_a_higher_dew_point(
    celsius: float, humidity: float, more: float
) -> None:
    assert weather.dew_point(celsius, humidity + more) >= weather.dew_point(
        celsius, humidity
    )


def test_frost_night_lists_lemons_and_young_trees_but_no_grown_satsuma() -> None:
    """A frost night lists lemons and young trees, but no grown Satsuma."""

    # Worked scenario: forecast +0.8, spot -1.5 °C colder, so -0.7: tender lemons, young
    # trees in pots and young trees are listed, a mature hardy one is not.
    def night(tenderness: Tenderness, age: float, container: bool) -> frost.Risk:
        return frost.risk(0.8, "any", tenderness, age, container, offset=-1.5)

    lemon = night(T2, 10, False)
    assert lemon.expected_min_c == pytest.approx(-0.7)
    assert lemon.cover_at_c == pytest.approx(1.0)
    assert lemon.cover
    young_in_pot = night(T3, 2, True)
    assert young_in_pot.cover_at_c == pytest.approx(2.0)
    assert young_in_pot.cover
    young = night(T3, 2, False)
    assert young.cover_at_c == pytest.approx(0.0)
    assert young.cover
    satsuma = night(T5, 10, False)
    assert satsuma.cover_at_c == pytest.approx(-3.5)
    assert not satsuma.cover


# Planning values, common practice, no source: +2 while new, +1 while young, +2 in a
# container, +1.5 in soft growth or bloom; together +3, and no limit above +3 °C.
@pytest.mark.parametrize(
    ("tenderness", "planted", "container", "soft", "limit"),
    [
        (T3, 10, False, False, -1.0),
        (T3, 1.99, False, False, 1.0),
        (T3, 2, False, False, 0.0),
        (T3, 4.99, False, False, 0.0),
        (T3, 5, False, False, -1.0),
        (T3, 10, True, False, 1.0),
        (T3, 10, False, True, 0.5),
        (T3, 3, False, True, 1.5),
        (T3, 1, True, True, 2.0),
        (T2, 3, False, False, 2.0),
        (T2, 1, True, True, 3.0),
        (T5, 1, True, False, -0.5),
    ],
)
def test_additions_raise_the_limit_of_covering_up_to_its_end(
    tenderness: Tenderness, planted: float, container: bool, soft: bool, limit: float
) -> None:
    found = frost.risk(3.9, "citrus", tenderness, planted, container, soft_growth=soft)
    assert found.cover_at_c == pytest.approx(limit)
    assert sum(degrees for _, degrees in found.parts) == pytest.approx(limit)


def test_no_tree_is_covered_on_a_night_above_three_degrees() -> None:
    for tenderness in guide.load().tenderness.values():
        found = frost.risk(3.1, "citrus", tenderness, 0, True, soft_growth=True)
        assert found.cover_at_c <= 3.0
        assert not found.cover


def test_a_tree_at_its_limit_is_covered_and_just_above_it_is_not() -> None:
    assert frost.risk(-1.0, "orange", T3, 10, False).cover
    assert not frost.risk(-0.99, "orange", T3, 10, False).cover


def test_a_planting_without_a_date_is_taken_as_new_and_says_so() -> None:
    found = frost.risk(0.0, "orange", T3, None, False)
    assert found.cover_at_c == 1.0
    assert any("planted is not known" in sentence for sentence in found.because)


@pytest.mark.parametrize(
    ("minimum", "harm"),
    [
        (-2.4, frost.Harm.NONE),
        (-2.5, frost.Harm.SOFT_GROWTH),
        (-4.5, frost.Harm.WOOD),
        (-6.0, frost.Harm.TREE),
    ],
)
def test_harm_rises_with_the_cold(minimum: float, harm: frost.Harm) -> None:
    found = frost.risk(minimum, "orange", T3, 10, False, soft_growth=True)
    assert found.harm is harm


@pytest.mark.parametrize(
    ("minimum", "hours", "hours_hold", "fruit"),
    [
        (-1.9, None, None, frost.FruitFrost.SAFE),
        (-2.0, None, None, frost.FruitFrost.UNKNOWN),
        (-2.0, 4.0, None, frost.FruitFrost.CUT_TEST),
        (-2.0, 3 + 59 / 60, None, frost.FruitFrost.SAFE),
        (-4.0, 7.0, 5.0, frost.FruitFrost.HOLD),
        (-4.0, 7.0, 4.9, frost.FruitFrost.CUT_TEST),
    ],
)
def test_fruit_needs_cold_and_time(
    minimum: float, hours: float | None, hours_hold: float | None, fruit: str
) -> None:
    # Falivene & Filippi (2006, rev. 2014), New South Wales DPI: -2 °C for 4 h check,
    # -4 °C for 5 h stop picking (read).
    found = frost.risk(
        minimum,
        "orange",
        T3,
        10,
        False,
        hours_below=hours,
        hours_below_hold=hours_hold,
    )
    assert found.fruit == fruit


def test_the_fruit_figures_are_those_of_the_source() -> None:
    assert figures.figure("fruit_check_c").value == -2.0
    assert figures.figure("fruit_check_hours").value == 4.0
    assert figures.figure("fruit_hold_c").value == -4.0
    assert figures.figure("fruit_hold_hours").value == 5.0
    assert figures.figure("fruit_hold_days").value == 14.0


@given(st.floats(-15, 10), st.floats(0, 30), st.booleans(), st.booleans())
def test_colder_never_asks_for_less(
    minimum: float, age: float, container: bool, soft: bool
) -> None:
    order = list(frost.Harm)
    mild = frost.risk(minimum, "orange", T3, age, container, soft_growth=soft)
    cold = frost.risk(minimum - 1, "orange", T3, age, container, soft_growth=soft)
    assert cold.cover >= mild.cover
    assert order.index(cold.harm) >= order.index(mild.harm)


def test_what_makes_a_tree_tender_moves_no_limit_of_harm() -> None:
    # Planning values of the class, with nothing added: wood of T3 is hurt from -4.5 °C.
    for planted, container in ((1, True), (3, False), (20, False)):
        mild = frost.risk(-4.4, "orange", T3, planted, container)
        assert mild.harm is frost.Harm.NONE
        cold = frost.risk(-4.5, "orange", T3, planted, container)
        assert cold.harm is frost.Harm.WOOD


def test_soft_growth_is_lost_only_where_there_is_some() -> None:
    assert frost.risk(-2.5, "orange", T3, 10, False).harm is frost.Harm.NONE
    soft = frost.risk(-2.5, "orange", T3, 10, False, soft_growth=True)
    assert soft.harm is frost.Harm.SOFT_GROWTH


def test_no_class_is_harmed_at_or_above_freezing() -> None:
    for tenderness in guide.load().tenderness.values():
        found = frost.risk(0.0, "citrus", tenderness, 0, True, soft_growth=True)
        assert found.harm is frost.Harm.NONE
        assert found.fruit is frost.FruitFrost.SAFE


def test_hours_of_cold_may_be_none_on_a_mild_night() -> None:
    mild = frost.risk(5.0, "orange", T3, 10, False, hours_below=0, hours_below_hold=0)
    assert mild.fruit is frost.FruitFrost.SAFE


def test_a_class_may_be_named_by_its_key_in_the_guide() -> None:
    found = frost.risk(5.0, "lemon", "T2", 10, False)
    assert found.cover_at_c == guide.load().tenderness["T2"].cover_at_c


def test_hanging_fruit_raises_the_limit_of_hardy_trees_only() -> None:
    # Common practice, no source: trees with fruit are looked after from -1 °C.
    hardy = frost.risk(-1.0, "satsuma", "T5", 12.0, False, fruit_hanging=True)
    assert hardy.cover
    assert hardy.cover_at_c == pytest.approx(-1.0)
    assert sum(degrees for _, degrees in hardy.parts) == pytest.approx(-1.0)
    assert not frost.risk(-1.0, "satsuma", "T5", 12.0, False).cover
    tender = frost.risk(-1.0, "lemon", "T2", 12.0, False, fruit_hanging=True)
    assert tender.cover_at_c == frost.risk(-1.0, "lemon", "T2", 12.0, False).cover_at_c


def test_cover_and_heat_gain_a_range() -> None:
    # Common practice, no source: only the order is checked.
    assert protection("none", "none") == (0.0, 0.0)
    draped = protection("draped", "none")
    grounded = protection("to_ground", "none")
    lit = protection("to_ground", "lamps")
    for low, high in (draped, grounded, lit):
        assert 0 <= low < high
    assert draped[1] < grounded[1] < lit[1]
    # Lamps count for nothing certain without a cover that reaches the ground.
    assert protection("none", "lamps")[0] == 0.0
    assert protection("draped", "lamps")[0] == draped[0]
    lamps = next(row for row in figures.rows("heat_gain") if row["key"] == "lamps")
    assert lit == (grounded[0] + lamps["low"], grounded[1] + lamps["high"])
    assert all(
        row["how"] == "memory"
        for table in ("cover_gain", "heat_gain")
        for row in figures.rows(table)
    )


def test_every_word_for_cover_and_heat_has_a_figure() -> None:
    for cover in Cover:
        for heat in Heat:
            low, high = protection(cover, heat)
            assert 0 <= low <= high <= 10


def test_the_offset_of_a_spot_is_the_median_of_the_last_ten_nights() -> None:
    # Own arithmetic; the two odd nights lie before the last ten.
    nights = [(9.0, 0.0), (9.0, 0.0), *[(-1.0, 0.5)] * 4, *[(-2.0, 0.0)] * 6]
    assert frost.site_offset(nights) == pytest.approx(-2.0)
    assert frost.site_offset([(-1.0, 0.5), (0.0, 0.5)]) == pytest.approx(-1.0)


@pytest.mark.parametrize(
    ("call", "told"),
    [
        (lambda: weather.dew_point(10, 0), "rh"),
        (lambda: weather.dew_point(10, 101), "rh"),
        (lambda: weather.dew_point(math.nan, 50), "t is nan"),
        (lambda: weather.wet_bulb(10, 50, 0), "pressure"),
        (lambda: weather.wet_bulb(10, -1, 101), "rh"),
        (lambda: frost.night_minimum(1, 2, frost.fit_night_minimum(NIGHTS)), "dew"),
        (lambda: frost.fit_night_minimum(NIGHTS[:3]), "holds 3 nights"),
        (lambda: frost.fit_night_minimum([NIGHTS[0]] * 5), "t_sunset2h is the same"),
        (lambda: frost.night_curve(1, 2, 12, 3), "minimum"),
        (lambda: frost.night_curve(1, -2, 12, 1), "hours is 1"),
        (lambda: frost.night_curve(1, -2, 2, 2), "night_hours"),
        (lambda: frost.risk(0, "", T3, 1, False), "kind"),
        (lambda: frost.risk(0, "orange", T3, -1, False), "planted_years"),
        (lambda: frost.risk(math.nan, "orange", T3, 1, False), "forecast_min"),
        (lambda: frost.risk(0, "orange", T3, 1, False, hours_below=2), "hours_below"),
        (lambda: frost.risk(0, "orange", T3, 1, False, hours_below=0.1), "0.1 h"),
        (lambda: frost.risk(0, "orange", "T9", 1, False), "tenderness is 'T9'"),
        (lambda: protection("tent", "none"), "cover is 'tent'"),
        (lambda: protection("none", "led"), "heat is 'led'"),
        (lambda: frost.site_offset([]), "nights is empty"),
    ],
)
def test_nights_without_meaning_are_refused(call, told: str) -> None:
    with pytest.raises(ValueError, match=told):
        call()


# A tenth of at least ten fruit fails the test: common practice, no source.
@pytest.mark.parametrize(
    ("cut", "spoilt", "passes"),
    [(10, 0, True), (10, 1, False), (20, 1, True), (20, 2, False), (11, 1, True)],
)
def test_a_tenth_of_spoilt_fruit_fails_the_cut_test(cut, spoilt, passes) -> None:
    assert frost.cut_test_passes(cut, spoilt) is passes


def test_a_cut_test_refuses_too_few_fruit_and_more_spoilt_than_cut() -> None:
    with pytest.raises(ValueError, match="cut"):
        frost.cut_test_passes(9, 0)
    with pytest.raises(ValueError, match="spoilt"):
        frost.cut_test_passes(10, 11)
