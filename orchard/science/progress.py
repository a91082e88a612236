"""Is it getting worse: severity now, and the sum of it over time."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date

from orchard.science import arguments

# Upper end of each grade in percent, and the grade's midpoint. Grades 0 to 11; some
# texts count them 1 to 12 and print 87 for 88.
_GRADES = (
    (0.0, 0.0),
    (3.0, 1.5),
    (6.0, 4.5),
    (12.0, 9.0),
    (25.0, 18.5),
    (50.0, 37.5),
    (75.0, 62.5),
    (88.0, 81.5),
    (94.0, 91.0),
    (97.0, 95.5),
    (100.0, 98.5),
    (100.0, 100.0),
)


def audpc(dates: Sequence[date] | Sequence[float], values: Sequence[float]) -> float:
    """Return the area under the progress curve.

    Parameters
    ----------
    dates : days of the ratings, as dates or as numbers of days, in any order
    values : severity at each, percent, 0 to 100

    Returns
    -------
    Area, percent·days, by trapezoids.

    Raises
    ------
    ValueError
        When there are fewer than two ratings, as many dates as values are not given,
        two ratings share a day, or a value is out of range.

    References
    ----------
    Shaner, G. & Finney, R. E. (1977), Phytopathology 67, 1051-1056; Madden, L. V.,
    Hughes, G. & van den Bosch, F. (2007), The Study of Plant Disease Epidemics, APS
    Press. From memory; worked example read.
    """
    points = _ordered(dates, values)
    return sum(
        (before[1] + after[1]) / 2 * (after[0] - before[0])
        for before, after in zip(points, points[1:], strict=False)
    )


def relative_audpc(
    dates: Sequence[date] | Sequence[float], values: Sequence[float]
) -> float:
    """Return the area as a share (0 to 1) of what 100 % throughout would give.

    Arguments, errors and source as for `audpc`.
    """
    points = _ordered(dates, values)
    return audpc(dates, values) / (100.0 * (points[-1][0] - points[0][0]))


def _ordered(
    dates: Sequence[date] | Sequence[float], values: Sequence[float]
) -> list[tuple[float, float]]:
    if len(dates) != len(values):
        raise ValueError(
            f"dates holds {len(dates)}, values {len(values)}; allowed is as many."
        )
    if len(dates) < 2:
        raise ValueError(
            f"dates holds {len(dates)} ratings; allowed is at least two, since one has "
            f"no area."
        )
    points = []
    days: Sequence[date | float] = dates
    for when, value in zip(days, values, strict=True):
        day = (
            float(arguments.day("dates", when).toordinal())
            if isinstance(when, date)
            else arguments.number("dates", when, "days")
        )
        severity = arguments.number("values", value, "%", at_least=0.0, at_most=100.0)
        points.append((day, severity))
    points.sort()
    for before, after in zip(points, points[1:], strict=False):
        if before[0] == after[0]:
            raise ValueError(
                "dates names one day twice; allowed is one rating a day, so merge them."
            )
    return points


def severity_index(counts_by_grade: Sequence[int] | Mapping[int, int]) -> float:
    """Return the severity of a group as percent of the worst it could be.

    Parameters
    ----------
    counts_by_grade : number of units in each grade of the scale. As a list, the place
        is the grade, from 0 to the top of the scale; as a mapping, the highest key is
        the top of the scale. The top grade is there even when no unit reached it.

    Returns
    -------
    Index, percent, 0 to 100: 100 * sum(grade * count) / (units * top grade).

    Raises
    ------
    ValueError
        When there is no grade above 0, no unit at all, or a count is negative or not
        whole.

    References
    ----------
    McKinney, H. H. (1923), Journal of Agricultural Research 26, 195-217; Chester
    (1950). From memory; worked example read.
    """
    pairs = (
        list(counts_by_grade.items())
        if isinstance(counts_by_grade, Mapping)
        else list(enumerate(counts_by_grade))
    )
    grades = {
        arguments.whole("grade", grade): arguments.whole(
            f"counts_by_grade, grade {grade}", count
        )
        for grade, count in pairs
    }
    top = max(grades, default=0)
    if top < 1:
        raise ValueError(
            "counts_by_grade has no grade above 0; allowed is the whole scale."
        )
    units = sum(grades.values())
    if units == 0:
        raise ValueError("counts_by_grade counts no unit; allowed is at least one.")
    weight = sum(grade * count for grade, count in grades.items())
    return 100.0 * weight / (units * top)


def horsfall_barratt_grade(percent: float) -> int:
    """Return the grade, 0 to 11, of a severity in percent.

    Grades: 0 none; then up to 3, 6, 12, 25, 50, 75, 88, 94, 97, below 100; 11 all. The
    upper end belongs to the grade. Raises ValueError outside 0 to 100.
    Horsfall, J. G. & Barratt, R. W. (1945), Phytopathology 35, 655. Read second hand.
    """
    severity = arguments.number("percent", percent, "%", at_least=0.0, at_most=100.0)
    if severity == 100.0:
        return 11
    return next(grade for grade, (top, _) in enumerate(_GRADES) if severity <= top)


def horsfall_barratt_midpoint(grade: int) -> float:
    """Return the severity in percent at the middle of a grade, 0 to 11.

    Average midpoints, never grades: the steps are uneven. Source as for the grade.
    """
    return _GRADES[arguments.whole("grade", grade, at_most=11)][1]
