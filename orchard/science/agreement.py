"""Do two observers see the same: agreement beyond what chance would bring."""

from __future__ import annotations

import math
from collections.abc import Sequence

from orchard.science import arguments


def cohen_kappa(table: Sequence[Sequence[int]]) -> tuple[float, float]:
    """Return Cohen's kappa of two observers and its standard error.

    Parameters
    ----------
    table : square table of counts; row = the first observer's grade, column = the
        second's, both in the same order

    Returns
    -------
    (kappa, standard error): 1 is full agreement, 0 what chance brings, below 0 less.
    The error is the large-sample one about the kappa found.

    Raises
    ------
    ValueError
        When the table is not square, has fewer than two grades or no observation, a
        count is negative or not whole, or both observers used one and the same grade
        throughout (chance alone would agree, so kappa has no meaning).

    References
    ----------
    Cohen, J. (1960), A coefficient of agreement for nominal scales, Educational and
    Psychological Measurement 20, 37-46; Fleiss, J. L., Cohen, J. & Everitt, B. S.
    (1969), Large sample standard errors of kappa and weighted kappa, Psychological
    Bulletin 72, 323-327. From memory; checked against a reference library.
    """
    size = len(table)
    if size < 2 or any(len(row) != size for row in table):
        raise ValueError(
            f"table has {size} rows of {[len(row) for row in table]} columns; allowed "
            f"is a square table of at least two grades."
        )
    counts = [[arguments.whole("table", count) for count in row] for row in table]
    total = sum(map(sum, counts))
    if total == 0:
        raise ValueError("table counts nothing; allowed is at least one observation.")
    shares = [[count / total for count in row] for row in counts]
    rows = [math.fsum(row) for row in shares]
    columns = [math.fsum(row[index] for row in shares) for index in range(size)]
    seen = math.fsum(shares[index][index] for index in range(size))
    by_chance = math.fsum(
        row * column for row, column in zip(rows, columns, strict=True)
    )
    if any(sum(row) == total and row[at] == total for at, row in enumerate(counts)):
        raise ValueError(
            "table has both observers at one grade throughout; allowed is a table in "
            "which at least two grades were used."
        )
    kappa = (seen - by_chance) / (1 - by_chance)
    agreeing = math.fsum(
        shares[at][at] * (1 - (rows[at] + columns[at]) * (1 - kappa)) ** 2
        for at in range(size)
    )
    differing = (1 - kappa) ** 2 * math.fsum(
        shares[first][second] * (columns[first] + rows[second]) ** 2
        for first in range(size)
        for second in range(size)
        if first != second
    )
    chance = (kappa - by_chance * (1 - kappa)) ** 2
    # Full agreement leaves a rounding rest of about -1e-17.
    variance = max(agreeing + differing - chance, 0.0) / (1 - by_chance) ** 2
    return kappa, math.sqrt(variance / total)


def table_of(
    first: Sequence[int], second: Sequence[int], grades: int
) -> list[list[int]]:
    """Return the square table of two observers' grades of the same units, in order.

    Grades count from 0 to below `grades`. Raises ValueError when the two lists differ
    in length or a grade is outside the scale.
    """
    size = arguments.whole("grades", grades, at_least=2)
    if len(first) != len(second):
        raise ValueError(
            f"first holds {len(first)}, second {len(second)}; allowed is as many."
        )
    counts = [[0] * size for _ in range(size)]
    for left, right in zip(first, second, strict=True):
        row = arguments.whole("first", left, at_most=size - 1)
        column = arguments.whole("second", right, at_most=size - 1)
        counts[row][column] += 1
    return counts
