"""Words in a picture stand clear of each other and of what is drawn."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from orchard.web import charts
from orchard.web.charts import LEFT, RIGHT, Series
from orchard.web.charts.plot import BOTTOM, TOP

levels = st.lists(st.floats(min_value=0, max_value=100), min_size=1, max_size=4)


def drawn(points):
    x, y = charts.x_scale(0, 100), charts.y_scale(0, 100)
    return Series(charts.polyline_points(points, x, y)), y


def test_words_stand_at_the_left_while_nothing_is_drawn_there():
    _line, y = drawn([])
    [goal] = charts.spread_labels([(50, "ripe fruit")], y)
    assert (goal.text_x, goal.anchor) == (LEFT + 5, "start")


def test_words_move_to_the_right_of_a_line_that_rises_through_the_left():
    line, y = drawn([(step, step) for step in range(101)])
    low, high = reversed(
        charts.spread_labels([(5, "petal fall"), (95, "ripe")], y, [line])
    )
    assert (low.text, low.anchor) == ("petal fall", "end")
    assert (high.text, high.anchor) == ("ripe", "start")


def test_a_line_of_few_points_is_minded_between_them():
    line, y = drawn([(0, 10), (100, 90)])
    [goal] = charts.spread_labels([(30, "ready water is used up")], y, [line])
    assert goal.anchor == "end"


@given(levels)
def test_words_at_one_side_never_stand_on_each_other(values):
    line, y = drawn([(step, 100 - step) for step in range(101)])
    goals = charts.spread_labels(
        [(value, "a limit: 12 trees") for value in values], y, [line]
    )
    for side in ("start", "end"):
        heights = [goal.text_y for goal in goals if goal.anchor == side]
        gaps = [b - a for a, b in zip(heights, heights[1:], strict=False)]
        assert all(gap >= 12.9 for gap in gaps)
    for goal in goals:
        assert LEFT <= goal.text_x <= RIGHT
        assert TOP - 5 <= goal.y <= BOTTOM
