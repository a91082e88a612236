"""Reads the published tables that lie beside these tests."""

from __future__ import annotations

import csv
from pathlib import Path

FOLDER = Path(__file__).resolve().parent / "data"


def rows(name: str) -> list[dict[str, str]]:
    """Return the rows of one table; its first line names the source."""
    with (FOLDER / f"{name}.csv").open(encoding="utf-8", newline="") as handle:
        source = handle.readline()
        assert source.startswith("# source: "), f"{name} does not name its source"
        found = list(csv.DictReader(handle))
    assert found, f"{name} is empty"
    return found
