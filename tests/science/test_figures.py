from __future__ import annotations

import shutil
import tomllib
from datetime import timedelta
from pathlib import Path

import pytest

from orchard.science import figures, guide
from orchard.science.guide_files import GUIDE_FOLDER, GuideError

FILES = (
    "constants.toml", "practice.toml", "crops.toml", "feeding.toml", "ripeness.toml",
)  # fmt: skip


def test_every_row_of_every_file_has_unit_and_source() -> None:
    for file in FILES:
        content = tomllib.loads((GUIDE_FOLDER / file).read_text(encoding="utf-8"))
        assert content
        for table in content:
            rows = figures.rows(table, file)
            assert len({row["key"] for row in rows}) == len(rows), (file, table)


def test_every_figure_explains_itself() -> None:
    found = figures.all_figures()
    assert found
    for figure in found:
        assert figure.what
        assert figures.figure(figure.key) is figure


def test_every_figure_and_span_of_stages_is_used_by_the_code() -> None:
    code = "".join(
        path.read_text(encoding="utf-8")
        for path in GUIDE_FOLDER.parents[1].rglob("*.py")
    )
    keys = [figure.key for figure in figures.all_figures()]
    for table in ("stage_span", "limit"):
        keys += [row["key"] for row in figures.rows(table, "practice.toml")]
    assert [key for key in keys if f'"{key}"' not in code] == []


def test_days_hours_and_stages_are_read_in_their_units() -> None:
    assert figures.days("soon_days") == timedelta(days=7)
    assert figures.hours("evening_reading_h") == timedelta(hours=2)
    assert list(figures.stages("petal_fall")) == [67, 68, 69]
    assert figures.limits("brix_read") == (1.0, 30.0)
    with pytest.raises(GuideError, match="stage_span luck: it is missing"):
        figures.stages("luck")


def test_an_unknown_table_or_figure_is_refused() -> None:
    with pytest.raises(GuideError, match=r"constants\.toml: it has no \[\[other\]\]"):
        figures.rows("other", "constants.toml")
    with pytest.raises(GuideError, match="figure luck: it is missing"):
        figures.figure("luck")


def test_a_number_without_its_source_is_never_reckoned_with(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for file in FILES:
        shutil.copy(GUIDE_FOLDER / file, tmp_path)
    monkeypatch.setattr(figures, "GUIDE_FOLDER", tmp_path)
    figures._default_tables.cache_clear()
    assert figures.figure("heat_base_c").unit == "°C"
    path = tmp_path / "constants.toml"
    text = path.read_text("utf-8").replace('how = "read"', 'how = "guessed"', 1)
    path.write_text(text, "utf-8")
    figures._default_tables.cache_clear()
    with pytest.raises(GuideError, match="only be one of read, memory"):
        figures.figure("heat_base_c")
    figures._default_tables.cache_clear()


@pytest.mark.parametrize(
    ("job", "share"),
    [
        ("water_ground", "water_from_share"),
        ("valve_run", "water_from_share"),
        ("water_pot", "pot_water_from_share"),
    ],
)
def test_a_job_of_watering_begins_where_the_page_says(job, share):
    trigger = guide.load().jobs[job].trigger
    assert trigger.setting("depleted_share") == figures.figure(share).value
