"""Titles above the headings, totals below, and rows that a person leaves out."""

from __future__ import annotations

import io
from functools import partial

import pytest
from openpyxl import Workbook

from orchard.services.imports import register, sheets, weather_files
from orchard.services.imports.sheets import carried_over, divided, with_headings_in
from orchard.services.imports.weather_files import WeatherChoices
from tests.conftest import TODAY
from tests.refusals import refused

pytestmark = pytest.mark.django_db

of_weather = partial(weather_files.count_recognised, fields=weather_files.DAYS)
MONTH = """Hill station, monthly sheet
Observer: A. Nobody;;;
;;;
Date;Min (°C);Max (°C);Rain (mm)
01.05.2026;8,1;21,4;0
02.05.2026;7,3;19,0;12,5
Total;;;12,5
Mean;7,7;20,2;
"""


def read(text: str, recognise=of_weather) -> sheets.Sheet:
    return sheets.read_sheet(io.BytesIO(text.encode()), "may.csv", recognise=recognise)


def test_a_title_and_an_observer_above_the_headings_are_no_headings():
    sheet = read(MONTH)
    assert sheet.headings == ("Date", "Min (°C)", "Max (°C)", "Rain (mm)")
    assert sheet.heading_row == 4
    assert sheet.above[0] == (1, ("Hill station, monthly sheet",))
    assert [number for number, _cells in sheet.rows] == [5, 6, 7, 8]


def test_totals_and_means_are_left_out_and_the_days_are_as_they_stand(orchard):
    looked = weather_files.preview(
        orchard, read(MONTH), today=TODAY, choices=WeatherChoices(day_first=True)
    )
    assert looked.rows_left_out == {7, 8}
    assert (looked.new, looked.refused) == (2, 0)
    assert looked.rows[1].plan.values["rain_mm"] == 12.5


def test_a_row_put_back_is_judged_as_any_other(orchard):
    choices = WeatherChoices(day_first=True, left_out=frozenset({8}))
    looked = weather_files.preview(orchard, read(MONTH), today=TODAY, choices=choices)
    assert "“Total” isn't a date" in looked.rows[-1].reasons[0]


def test_a_title_over_a_whole_table_of_an_xlsx(orchard):
    book = Workbook()
    book.active.append(["Trees of the lower block", None, None])
    book.active.append(["Code", "Variety", "Spot"])
    book.active.append(["A-1", "Meyer lemon", "A-1"])
    book.active.append(["Total: 1", None, None])
    file = io.BytesIO()
    book.save(file)
    file.seek(0)
    sheet = sheets.read_sheet(file, "trees.xlsx", recognise=register.count_recognised)
    assert sheet.headings == ("Code", "Variety", "Spot")
    looked = register.preview(orchard, sheet, today=TODAY)
    assert [row.name for row in looked.rows] == ["A-1"]
    assert looked.left_out == ((4, ("Total: 1", "", "")),)


@pytest.mark.parametrize("code", ["Max", "A-1", "Summer", "Meansville", "Minneola"])
def test_only_words_for_sums_are_taken_for_totals(code):
    sheet = read(f"code,cultivar,spot\n{code},Meyer,1", register.count_recognised)
    kept, aside = divided(sheet, WeatherChoices())
    assert bool(aside) is (code == "Max")
    assert len(kept.rows) + len(aside) == 1


def test_headings_nobody_knows_stand_in_the_first_row_with_several_cells():
    assert read("A list,,\nwhen,cold,warm\n2026-05-01,8,21").headings == (
        "when",
        "cold",
        "warm",
    )


def test_the_headings_can_be_taken_from_another_row():
    sheet = with_headings_in(read("a,b\nx,y\n1,2"), 2)
    assert (sheet.headings, sheet.rows) == (("x", "y"), ((3, ("1", "2")),))
    assert with_headings_in(sheet, 1) == read("a,b\nx,y\n1,2")
    with refused("not_readable"):
        with_headings_in(sheet, 9)
    with refused("not_readable", match="nothing below"):
        with_headings_in(sheet, 3)


def test_a_sheet_comes_back_whole_from_a_form():
    sheet = read(MONTH)
    assert sheets.Sheet.unpacked(sheet.packed()) == sheet


def test_what_was_left_out_is_found_again_in_the_mended_file():
    old = read("date,tmin\n2026-05-01,8\nspoilt,9\nMean,8\n2026-05-03,1")
    choices = WeatherChoices(
        mapping=("on", "tmin"), left_out=frozenset({3}), units={"tmin": "°C"}
    )
    new = read("date,tmin\n2026-05-01,8\n2026-05-02,7\nspoilt,9\nMean,8\nTotal,16")
    carried = carried_over(choices, old, new)
    # The mean was put back by hand; the total is new.
    assert carried.left_out == {4, 6}
    assert (carried.mapping, carried.units) == (("on", "tmin"), {"tmin": "°C"})
    other = read("day,low\n2026-05-01,8")
    assert carried_over(choices, old, other).mapping is None


def test_the_mark_between_the_columns_is_the_one_that_cuts_all_rows_alike():
    sheet = read("Hill, 2026, in the valley\ndate;tmin;tmax\n2026-05-01;8,1;21,4")
    assert sheet.headings == ("date", "tmin", "tmax")
    assert sheet.rows[0][1] == ("2026-05-01", "8,1", "21,4")
