"""A weather file from the shell: looked through, kept, refused with exit code 1."""

from __future__ import annotations

from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from orchard.records.models import Forecast, Station, WeatherDay
from orchard.web.management.commands import import_weather
from tests.conftest import NOW

pytestmark = pytest.mark.django_db
ROWS = ["date,tmin,tmax,rain (mm)", "2026-04-01,41,50,0", "2026-04-03,42,51,3"]
UNITS = ("--units", "tmin=°F, tmax=°F")


@pytest.fixture
def path(tmp_path):
    file = tmp_path / "days.csv"
    file.write_text("\n".join(ROWS), encoding="utf-8")
    return file


@pytest.fixture
def run(orchard, cora):
    def ran(path, *more, by=cora.email, slug=orchard.slug):
        out, err = StringIO(), StringIO()
        call_command(
            "import_weather",
            str(path),
            f"--orchard={slug}",
            f"--by={by}",
            *more,
            stdout=out,
            stderr=err,
        )
        return out.getvalue(), err.getvalue()

    return ran


HILL = ("--station", "Hill", "--source", "Town record")


def test_it_only_looks_until_it_is_told_to_keep(run, path):
    out, err = run(path, *HILL, *UNITS)
    assert "tmin: tmin °F (chosen)" in out
    assert "rain (mm): rain_mm mm (heading)" in out
    assert "days missing from the file: 2026-04-02 to 2026-04-02" in out
    assert "2 new, 0 here already" in out
    assert not WeatherDay.objects.exists()
    assert "2 of 2 rows" in err and "####" in err


def test_it_keeps_the_file_once(run, path):
    out, err = run(path, *HILL, *UNITS, "--save")
    assert out == "alderbrook: 2 new, 0 here already, 0 corrected.\n"
    assert "[########################################] 2 of 2 rows" in err
    assert WeatherDay.objects.order_by("on").first().tmin == 5.0
    again, _err = run(path, "--station", "hill", *UNITS, "--save")
    assert "0 new, 2 here already" in again
    assert Station.objects.count() == 1


def test_columns_are_taken_for_what_is_said(run, path, tmp_path):
    file = tmp_path / "other.csv"
    file.write_text("when,cold,warm\n2026-04-01,5,12\n")
    mapping = ("--mapping", "when=on,cold=tmin,warm=tmax")
    run(file, *HILL, *mapping, "--units", "tmin=°C,tmax=°C", "--save")
    assert WeatherDay.objects.get().tmax == 12.0


def test_a_forecast_comes_the_same_way(run, tmp_path, monkeypatch):

    monkeypatch.setattr(import_weather.timezone, "now", lambda: NOW)
    file = tmp_path / "ahead.csv"
    file.write_text("date,min (C),max (C)\n2026-05-13,4,20\n")
    run(file, "--sort", "forecast", "--source", "Town", "--save")
    assert Forecast.objects.get().source == "Town"


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ((*HILL,), "The unit of “lowest temperature” is not certain"),
        ((*HILL, "--save"), "The unit of “lowest temperature” is not certain"),
        ((*UNITS, "--save"), "Give the station a name"),
        ((*HILL, "--units", "tmin=°R"), "tmin=°R isn't valid. Choose from °C, °F"),
        ((*HILL, "--units", "moon=mm"), "isn't a field"),
        ((*HILL, "--units", "mm"), "write .* as name=value"),
        ((*HILL, "--mapping", "x=tmin"), "the file has no heading 'x'"),
        (
            (*HILL, "--mapping", "tmin=x"),
            "'x' isn't a field. Choose from on, time, year",
        ),
    ],
)
def test_what_will_not_do_is_refused_with_a_sentence(run, path, more, said):
    with pytest.raises(CommandError, match=said.replace("(", r"\(")):
        run(path, *more)
    assert not WeatherDay.objects.exists()
    assert not Station.objects.exists()


def test_a_bad_row_is_named_and_nothing_is_kept(run, tmp_path):
    file = tmp_path / "bad.csv"
    file.write_text("date,tmin (C),tmax (C)\n2026-04-01,4,12\n2026-04-02,14,12\n")
    with pytest.raises(CommandError, match="row 3: lowest temperature"):
        run(file, *HILL, "--save")
    assert not WeatherDay.objects.exists()


def test_strangers_and_small_roles_take_nothing_in(run, path, vera, otto, tmp_path):
    with pytest.raises(CommandError, match="is not a member"):
        run(path, by=otto.email)
    with pytest.raises(CommandError, match="is not a member"):
        run(path, by="nobody@example.org")
    with pytest.raises(CommandError, match="This is for"):
        run(path, by=vera.email)
    with pytest.raises(CommandError, match="can't be read"):
        run(tmp_path / "gone.csv")
