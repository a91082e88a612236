"""Pictures as grey levels: how sharp and bright one is, and how alike two are.

Grey levels run from 0 (black) to 255 (white), row by row, one byte each.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from math import cos, pi
from operator import mul
from statistics import median

# The side of the small square that likeness is told from, and how many waves each way.
SQUARE, WAVES = 32, 8
# The shortest side whose sharpness can be told, px.
SMALLEST = 3
# Added to every Laplacian, so that none is below zero: the least is four times -255.
LIFT = 1024
_ALL_BITS, _SIGN = (1 << 64) - 1, 1 << 63


def sharpness(grey: bytes, width: int, height: int) -> float:
    """Return the variance of the Laplacian of a picture, in squared grey levels.

    Edges make the Laplacian swing; a blurred picture has few. ValueError where width
    (px) and height (px) do not fit the grey levels, or either is below 3.

    References:
        Pech-Pacheco, Cristobal, Chamorro-Martinez and Fernandez-Valdivia (2000),
        Diatom autofocusing in brightfield microscopy, Proc. 15th ICPR, 3:314-317
        (from memory).
    """
    if min(width, height) < SMALLEST or len(grey) != width * height:
        raise ValueError(
            f"{len(grey)} grey levels are not {width} x {height}, each 3+."
        )
    laplacian = _laplacian(grey, width)
    count = (width - 2) * (height - 2)
    total = squares = 0
    for row in range(width, width * (height - 1), width):
        values = laplacian[row + 1 : row + width - 1].tolist()
        total += sum(values)
        squares += sum(map(mul, values, values))
    return (squares * count - total**2) / count**2


def _laplacian(grey: bytes, width: int) -> memoryview:
    """Return it for each pixel, with LIFT added; those at the edge mean nothing.

    All pixels are reckoned at once, as one long number with 16 bits for each.
    """
    size = 2 * len(grey)
    lanes = bytearray(size)
    lanes[::2] = grey
    levels = int.from_bytes(lanes, "little")
    lift = int.from_bytes(LIFT.to_bytes(2, "little") * len(grey), "little")
    beside = (levels >> 16) + (levels << 16)
    across = (levels >> 16 * width) + (levels << 16 * width)
    found = (beside + across + lift - 4 * levels) & ((1 << 8 * size) - 1)
    return memoryview(found.to_bytes(size, sys.byteorder)).cast("H")


def brightness(grey: bytes) -> float:
    """Return how bright a picture is on the whole, 0 (black) to 1 (white).

    The mean grey level as a share of white. ValueError for an empty picture.
    """
    if not grey:
        raise ValueError("There are no grey levels.")
    return sum(grey) / len(grey) / 255


def likeness(grey: bytes) -> int:
    """Return 64 bits that two pictures alike share but for a few, as a signed number.

    From a square of 32 x 32 grey levels: whether each of its 8 x 8 longest waves, the
    mean left aside, is above the middle one. ValueError for another size.

    References:
        Ahmed, Natarajan and Rao (1974), Discrete cosine transform, IEEE Trans.
        Computers C-23:90-93 (from memory). Coskun, Sankur and Memon (2006),
        Spatio-temporal transform based video hashing, IEEE Trans. Multimedia
        8:1190-1208: low coefficients against their median (from memory).
    """
    if len(grey) != SQUARE * SQUARE:
        raise ValueError(f"{len(grey)} grey levels are not {SQUARE} x {SQUARE}.")
    across = [
        _waves(grey[row : row + SQUARE]) for row in range(0, SQUARE * SQUARE, SQUARE)
    ]
    waves = [wave for column in zip(*across, strict=True) for wave in _waves(column)]
    middle = median(waves)
    bits = 0
    for wave in waves:
        bits = bits << 1 | (wave > middle)
    return bits - (1 << 64) if bits & _SIGN else bits


def _waves(levels: Sequence[float]) -> list[float]:
    """Return the longest waves of a line, from the first: a cosine transform."""
    return [sum(map(mul, levels, weights)) for weights in _WEIGHTS]


_WEIGHTS = [
    [cos(pi * wave * (2 * place + 1) / (2 * SQUARE)) for place in range(SQUARE)]
    for wave in range(1, WAVES + 1)
]


def bits_apart(first: int, second: int) -> int:
    """Return in how many of their 64 bits two likenesses differ."""
    return ((first ^ second) & _ALL_BITS).bit_count()
