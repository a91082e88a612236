from __future__ import annotations

import shutil
import tomllib
from pathlib import Path

import pytest

from orchard.science import figures
from orchard.science.guide_files import GUIDE_FOLDER, GuideError

FILES = ("constants.toml", "feeding.toml", "ripeness.toml")


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


def test_every_figure_is_used_by_a_law() -> None:
    code = "".join(
        path.read_text(encoding="utf-8")
        for path in Path(figures.__file__).parent.rglob("*.py")
    )
    # What the callers pass on, or count days by.
    for_callers = {
        "heat_base_c", "heat_cap_c", "fruit_hold_days", "pruned_lately_days",
        "ripeness_again_days",
    }  # fmt: skip
    for figure in figures.all_figures():
        assert figure.key in for_callers or f'"{figure.key}"' in code, figure.key


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
