"""Charts and drawings placed on a page."""

from __future__ import annotations

from orchard.web.charts.drawings import (
    Axis,
    Dot,
    SignPicture,
    Tick,
    condition_picture,
    sign_picture,
)
from orchard.web.charts.plot import (
    LEFT,
    RIGHT,
    Area,
    Bar,
    Chart,
    Series,
    area_points,
    polyline_points,
    round_steps,
    spread_labels,
    value_bar,
    value_ticks,
    with_unit,
    x_scale,
    y_scale,
)

__all__ = [
    "LEFT",
    "RIGHT",
    "Area",
    "Bar",
    "Chart",
    "Dot",
    "Series",
    "SignPicture",
    "Axis",
    "Tick",
    "x_scale",
    "spread_labels",
    "condition_picture",
    "value_ticks",
    "sign_picture",
    "round_steps",
    "value_bar",
    "polyline_points",
    "area_points",
    "y_scale",
    "with_unit",
]
