from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from orchard.science import figures

FILES = ("constants.toml", "feeding.toml", "ripeness.toml")


def test_every_row_of_every_file_has_unit_and_source() -> None:
    for file in FILES:
        content = tomllib.loads(
            (figures.GUIDE_FOLDER / file).read_text(encoding="utf-8")
        )
        assert content
        for table in content:
            rows = figures.rows(table, file)
            assert len({row["key"] for row in rows}) == len(rows), (file, table)


def test_every_figure_explains_itself() -> None:
    found = figures.all_figures()
    assert len(found) > 10
    for figure in found:
        assert figure.what
        assert figures.figure(figure.key) is figure


def test_every_figure_is_used_by_a_law() -> None:
    code = "".join(
        path.read_text(encoding="utf-8")
        for path in Path(figures.__file__).parent.glob("*.py")
    )
    # What the callers pass on, or count days by.
    for_callers = {
        "heat_base_c", "heat_cap_c", "fruit_hold_days", "pruned_lately_days",
        "ripeness_again_days",
    }  # fmt: skip
    for figure in figures.all_figures():
        assert figure.key in for_callers or f'"{figure.key}"' in code, figure.key


@pytest.mark.parametrize("missing", ["key", "source", "unit", "how"])
def test_a_row_without_its_source_unit_or_key_is_refused(
    missing: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    row = {"key": "a", "source": "FAO", "unit": "m", "how": "read"}
    monkeypatch.setattr(figures, "GUIDE_FOLDER", tmp_path)
    whole = "\n".join(f'{key} = "{value}"' for key, value in row.items())
    (tmp_path / "whole.toml").write_text(f"[[t]]\n{whole}\n", encoding="utf-8")
    assert figures.rows("t", "whole.toml")[0]["key"] == "a"
    del row[missing]
    rest = "\n".join(f'{key} = "{value}"' for key, value in row.items())
    (tmp_path / "rest.toml").write_text(f"[[t]]\n{rest}\n", encoding="utf-8")
    with pytest.raises(figures.FiguresError, match=f"rest.toml.*{missing} is missing"):
        figures.rows("t", "rest.toml")


def test_a_row_that_was_neither_read_nor_remembered_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(figures, "GUIDE_FOLDER", tmp_path)
    (tmp_path / "odd.toml").write_text(
        '[[t]]\nkey = "a"\nsource = "FAO"\nunit = "m"\nhow = "guessed"\n',
        encoding="utf-8",
    )
    with pytest.raises(figures.FiguresError, match="allowed is read or memory"):
        figures.rows("t", "odd.toml")


def test_an_unknown_table_or_figure_is_refused() -> None:
    with pytest.raises(figures.FiguresError, match="no rows in its table 'other'"):
        figures.rows("other", "constants.toml")
    with pytest.raises(figures.FiguresError, match="no figure 'luck'"):
        figures.figure("luck")
