"""Charts and drawings placed on a page."""

from __future__ import annotations

from orchard.web.charts.drawings import (
    Dot,
    Picture,
    Tick,
    condition_picture,
    drawn_signs,
    of_sign,
)
from orchard.web.charts.plot import (
    LEFT,
    RIGHT,
    Area,
    Bar,
    Chart,
    Line,
    Scale,
    across,
    apart,
    level_ticks,
    round_steps,
    standing,
    through,
    under,
    up,
    written,
)

__all__ = [
    "LEFT",
    "RIGHT",
    "Area",
    "Bar",
    "Chart",
    "Dot",
    "Line",
    "Picture",
    "Scale",
    "Tick",
    "across",
    "apart",
    "condition_picture",
    "drawn_signs",
    "level_ticks",
    "of_sign",
    "round_steps",
    "standing",
    "through",
    "under",
    "up",
    "written",
]
