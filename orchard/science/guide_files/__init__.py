"""The files of the guide: their rows, and all that is wrong with them at once."""

from __future__ import annotations

from pathlib import Path

from orchard.science.guide_files.faults import Fault, GuideError
from orchard.science.guide_files.rows import Everything, Row, read_rows

__all__ = ["GUIDE_FOLDER", "Everything", "Fault", "GuideError", "Row", "read_rows"]

GUIDE_FOLDER = Path(__file__).resolve().parents[1] / "guide"
