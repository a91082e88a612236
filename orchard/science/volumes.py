"""How much goes in: mix for a container, paint for trunks, a layer on the ground."""

from __future__ import annotations

import math

from orchard.science import arguments

_LITRES_PER_M3 = 1000.0


def frustum_litres(top_diameter: float, bottom_diameter: float, height: float) -> float:
    """Return the volume of a round pot with straight sides.

    Parameters
    ----------
    top_diameter, bottom_diameter : inner diameters, m; one of them may be 0 (a cone)
    height : inner height, m

    Returns
    -------
    Volume, L.

    Raises
    ------
    ValueError
        When a length is missing or negative, or height or both diameters are 0.

    References
    ----------
    Frustum of a cone, pi h (R2 + R r + r2) / 3: geometry.
    """
    top, bottom = _diameters(top_diameter, bottom_diameter)
    metres = arguments.number("height", height, "m", above=0.0, at_most=10.0)
    squares = top**2 + top * bottom + bottom**2
    return math.pi / 12 * metres * squares * _LITRES_PER_M3


def top_up_litres(
    top_diameter: float,
    bottom_diameter: float,
    height: float,
    gap: float,
    *,
    rim: float = 0.0,
) -> float:
    """Return how much mix raises the level in a pot.

    Parameters
    ----------
    top_diameter, bottom_diameter, height : as for `frustum_litres`, m
    gap : distance from the rim down to the mix as it stands, m
    rim : distance from the rim that is to stay free, m

    Returns
    -------
    Volume, L: the slice between the two levels, not a share of the whole by height.

    Raises
    ------
    ValueError
        When a length has no meaning, the gap is deeper than the pot, or the mix already
        stands higher than the rim to be left.

    References
    ----------
    Geometry, as for `frustum_litres`.
    """
    whole = frustum_litres(top_diameter, bottom_diameter, height)
    down = arguments.number("gap", gap, "m", at_least=0.0, at_most=height)
    free = arguments.number("rim", rim, "m", at_least=0.0, at_most=down)
    upper = _below(top_diameter, bottom_diameter, height, free)
    lower = _below(top_diameter, bottom_diameter, height, down)
    return min(max(upper - lower, 0.0), whole)


def _below(top: float, bottom: float, height: float, gap: float) -> float:
    level = height - gap
    if level <= 0:
        return 0.0
    across = bottom + (top - bottom) * level / height
    if across <= 0:
        return 0.0
    return frustum_litres(across, bottom, level)


def trunk_paint_litres(
    trunks: int, girth: float, height: float, coverage_m2_per_l: float, coats: int
) -> float:
    """Return how much paint, ready to brush on, the trunks take.

    Parameters
    ----------
    trunks : number of trunks
    girth : mean girth, m
    height : height to be painted, m
    coverage_m2_per_l : square metres one litre covers, from the can
    coats : number of coats

    Returns
    -------
    Volume, L.

    Raises
    ------
    ValueError
        When a count is not whole or below its least, or a measure is not above 0.

    References
    ----------
    Area of a cylinder's side: geometry. Bark takes more than smooth board, so read the
    coverage for rough ground.
    """
    count = arguments.whole("trunks", trunks)
    around = arguments.number("girth", girth, "m", above=0.0, at_most=20.0)
    up = arguments.number("height", height, "m", above=0.0, at_most=10.0)
    spread = arguments.number("coverage_m2_per_l", coverage_m2_per_l, "m2/L", above=0.0)
    layers = arguments.whole("coats", coats, at_least=1)
    return count * around * up * layers / spread


def layer_litres(area_m2: float, depth: float) -> float:
    """Return how much a layer on the ground takes, as it lies loose.

    Parameters
    ----------
    area_m2 : area covered, m2
    depth : depth of the layer, m

    Returns
    -------
    Volume, L.

    Raises
    ------
    ValueError
        When the area or the depth is missing or not above 0.

    References
    ----------
    Area times depth: geometry.
    """
    area = arguments.number("area_m2", area_m2, "m2", above=0.0)
    deep = arguments.number("depth", depth, "m", above=0.0, at_most=10.0)
    return area * deep * _LITRES_PER_M3


def mix_parts(
    litres: float, first_parts: float, second_parts: float
) -> tuple[float, float]:
    """Return the litres of each of two things mixed by parts of volume.

    Raises ValueError when litres are negative or no part is above 0.
    """
    total = arguments.number("litres", litres, "L", at_least=0.0)
    first = arguments.number("first_parts", first_parts, at_least=0.0)
    second = arguments.number("second_parts", second_parts, at_least=0.0)
    if first + second <= 0:
        raise ValueError("first_parts and second_parts are 0; allowed is one above 0.")
    share = total / (first + second)
    return share * first, share * second


def _diameters(top_diameter: float, bottom_diameter: float) -> tuple[float, float]:
    top = arguments.number("top_diameter", top_diameter, "m", at_least=0, at_most=10)
    bottom = arguments.number(
        "bottom_diameter", bottom_diameter, "m", at_least=0, at_most=10
    )
    if top <= 0 and bottom <= 0:
        raise ValueError("top_diameter and bottom_diameter are 0; one must be above 0.")
    return top, bottom
