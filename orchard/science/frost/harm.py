"""A frost night: how cold it will get, which trees it hurts, what cover gains."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from orchard.science import arguments, figures, guide
from orchard.science.frost.night import (
    Coefficients,
    NightObservation,
    fit_night_minimum,
    hours_below,
    night_curve,
    night_minimum,
    site_offset,
)
from orchard.science.weather import dew_point, wet_bulb

# The names callers use; how the night goes is worked out in a room of its own.
__all__ = [
    "Coefficients",
    "Cover",
    "FruitFrost",
    "Harm",
    "Heat",
    "NightObservation",
    "Risk",
    "dew_point",
    "fit_night_minimum",
    "hours_below",
    "night_curve",
    "night_minimum",
    "protection",
    "risk",
    "site_offset",
    "wet_bulb",
]


class Harm(StrEnum):
    """The worst that the night may do to the tree itself."""

    NONE = "none"
    SOFT_GROWTH = "soft_growth"
    WOOD = "wood"
    TREE = "tree"


class FruitFrost(StrEnum):
    """What the night means for fruit still on the tree."""

    SAFE = "safe"
    UNKNOWN = "unknown"
    CUT_TEST = "cut_test"
    HOLD = "hold"


class Cover(StrEnum):
    """How a tree is covered for the night."""

    NONE = "none"
    DRAPED = "draped"
    TO_GROUND = "to_ground"
    FRAMED_TO_GROUND = "framed_to_ground"


class Heat(StrEnum):
    """What warms a tree in the night."""

    NONE = "none"
    LAMPS = "lamps"
    WET_GROUND = "wet_ground"


@dataclass(frozen=True, slots=True)
class Risk:
    """What a night asks for one tree; temperatures in °C.

    `parts` are the terms whose sum is `cover_at_c`, in words, so that a page can show
    each in the orchard's own units. `because` is in sentences without numbers.
    """

    expected_min_c: float
    cover_at_c: float
    cover: bool
    harm: Harm
    fruit: FruitFrost
    parts: tuple[tuple[str, float], ...]
    because: tuple[str, ...]

    @property
    def spare_c(self) -> float:
        """How far the night stays above the limit, °C; negative below it."""
        return self.expected_min_c - self.cover_at_c


def risk(
    forecast_min: float,
    kind: str,
    tenderness: guide.Tenderness | str,
    planted_years: float | None,
    container: bool,
    *,
    hours_below: float | None = None,
    offset: float = 0.0,
    soft_growth: bool = False,
    hours_below_hold: float | None = None,
    fruit_hanging: bool = False,
) -> Risk:
    """Return what a night asks for one tree.

    Parameters
    ----------
    forecast_min : lowest air temperature forecast, °C
    kind : the tree's kind, in words, for the reasons given
    tenderness : its class of cold hardiness, or the key of one in the guide
    planted_years : years since it was planted here, not since it was grafted; None
        when not known, which is taken as newly planted
    container : whether it stands in a container
    hours_below : hours at or below the fruit check temperature (-2 °C), if known
    offset : how much the spot differs from the forecast, °C (see `site_offset`)
    soft_growth : whether it is in soft growth or bloom; only then can it lose that
    hours_below_hold : hours at or below the fruit hold temperature (-4 °C), if known
    fruit_hanging : whether unpicked fruit hangs on it; the limit is then at least the
        guide's fruit alert

    Returns
    -------
    Risk. A tree is to be covered when the expected minimum is at or below its limit.

    Raises
    ------
    ValueError
        When a temperature or an age has no meaning, the class is unknown, or hours are
        given that the expected minimum rules out.

    Notes
    -----
    Limit = cover temperature of the class, plus the additions for a young tree, a
    container and soft growth, which are figures of the guide and planning values, and
    so are the most that they add together and the highest limit. They say how early to
    be careful: harm begins at the temperatures of the class, with nothing added.

    References
    ----------
    Additions: see the guide's figures. Fruit: Falivene, S. & Filippi, L. (2006, rev.
    2014), Frost damage in citrus fruit, New South Wales DPI. Read.
    """
    expected = arguments.temperature("forecast_min", forecast_min) + arguments.number(
        "offset", offset, "°C", at_least=-15.0, at_most=15.0
    )
    if not kind:
        raise ValueError("kind is empty; allowed is the name of a kind of tree.")
    hardiness = _class_of(tenderness)
    additions, because = _additions(planted_years, container, soft_growth)
    wanted = sum(degrees for _, degrees in additions)
    highest = figures.figure("frost_cover_highest_c").value - hardiness.cover_at_c
    more = min(wanted, figures.figure("frost_additions_most_c").value, highest)
    if more < wanted:
        additions.append(("at most", more - wanted))
        because.append("The additions have reached their upper limit.")
    cover_at = hardiness.cover_at_c + more
    alert = figures.figure("fruit_alert_c").value
    if fruit_hanging and cover_at < alert:
        additions.append(("fruit on the tree", alert - cover_at))
        because.append("It carries fruit, which freezes before the tree is damaged.")
        cover_at = alert
    cover = expected <= cover_at
    harm = Harm.NONE
    for limit, worst, at_stake in (
        (hardiness.soft_growth_c, Harm.SOFT_GROWTH, soft_growth),
        (hardiness.wood_c, Harm.WOOD, True),
        (hardiness.mature_kill_c, Harm.TREE, True),
    ):
        if at_stake and expected <= limit:
            harm = worst
    fruit, fruit_words = _fruit(expected, hours_below, hours_below_hold)
    verdict = "reaches" if cover else "stays above"
    first = f"The night {verdict} the limit of this tree: {kind}, {hardiness.name}."
    return Risk(
        expected_min_c=expected,
        cover_at_c=cover_at,
        cover=cover,
        harm=harm,
        fruit=fruit,
        parts=(
            (f"{hardiness.key}, {hardiness.name}", hardiness.cover_at_c),
            *additions,
        ),
        because=(first, *because, fruit_words),
    )


def _class_of(tenderness: guide.Tenderness | str) -> guide.Tenderness:
    if isinstance(tenderness, guide.Tenderness):
        return tenderness
    classes = guide.load().tenderness
    if tenderness not in classes:
        raise ValueError(
            f"tenderness is {tenderness!r}; allowed is {', '.join(sorted(classes))}."
        )
    return classes[tenderness]


def _additions(
    planted_years: float | None, container: bool, soft_growth: bool
) -> tuple[list[tuple[str, float]], list[str]]:
    found: list[tuple[str, float]] = []
    because: list[str] = []
    if planted_years is None:
        found.append(("age not known", figures.figure("frost_new_c").value))
        because.append("When it was planted is not known, so it is taken as new.")
    else:
        years = arguments.number("planted_years", planted_years, "years", at_least=0.0)
        if years < figures.figure("frost_new_years").value:
            found.append(("newly planted", figures.figure("frost_new_c").value))
            because.append("It is newly planted, and new trees are most tender.")
        elif years < figures.figure("frost_young_years").value:
            found.append(("young tree", figures.figure("frost_young_c").value))
            because.append("It is young, and young trees are more tender.")
    if container:
        found.append(("container", figures.figure("frost_container_c").value))
        because.append("It is in a container, where roots get as cold as the air.")
    if soft_growth:
        found.append(("soft growth", figures.figure("frost_soft_growth_c").value))
        because.append("It has soft growth or flowers, which freeze first.")
    return found, because


def _fruit(
    expected: float, hours: float | None, hours_hold: float | None
) -> tuple[FruitFrost, str]:
    check = figures.figure("fruit_check_c").value
    hold = figures.figure("fruit_hold_c").value
    for name, given, limit in (
        ("hours_below", hours, check),
        ("hours_below_hold", hours_hold, hold),
    ):
        if given is None:
            continue
        spent = arguments.number(name, given, "h", at_least=0.0, at_most=24.0)
        if spent > 0 and expected > limit:
            raise ValueError(
                f"{name} is {spent:g} h, yet the expected minimum of {expected:g} °C "
                f"stays above {limit:g} °C; allowed is 0."
            )
    if expected > check:
        return FruitFrost.SAFE, "Fruit is not expected to freeze."
    if (
        hours_hold is not None
        and hours_hold >= figures.figure("fruit_hold_hours").value
    ):
        return FruitFrost.HOLD, "Fruit is badly frozen: pick none until it passes."
    if hours is None:
        return (
            FruitFrost.UNKNOWN,
            "Fruit may freeze. The hours below the limit are not known.",
        )
    if hours >= figures.figure("fruit_check_hours").value:
        return (
            FruitFrost.CUT_TEST,
            "Cold long enough to freeze fruit: cut some open.",
        )
    return FruitFrost.SAFE, "Not cold for long enough to freeze fruit."


def protection(cover: str, heat: str) -> tuple[float, float]:
    """Return how many degrees cover and heat may gain on a still night.

    Parameters
    ----------
    cover : "none", "draped", "to_ground" or "framed_to_ground"
    heat : "none", "lamps" (that give heat) or "wet_ground"

    Returns
    -------
    (low, high), °C above the air outside: a range, never a promise. Wind takes most
    of it away.

    Raises
    ------
    ValueError
        When a word is not one of those above.

    Notes
    -----
    Lamps without a cover that reaches the ground gain nothing that can be counted on,
    so their low end is then 0. Electricity near water and cloth near lamps are for
    those who know them: follow local rules and the lamp's label.

    References
    ----------
    Common practice, no source; the figures of the guide say so row by row.
    """
    cloth = _gain("cover", cover, "cover_gain")
    warmth = _gain("heat", heat, "heat_gain")
    low = cloth[0] + warmth[0]
    if heat == Heat.LAMPS and cover in (Cover.NONE, Cover.DRAPED):
        low = cloth[0]
    return low, cloth[1] + warmth[1]


def _gain(name: str, word: str, table: str) -> tuple[float, float]:
    found = {row["key"]: row for row in figures.rows(table)}
    if word not in found:
        raise ValueError(f"{name} is {word!r}; allowed is {' or '.join(found)}.")
    return float(found[word]["low"]), float(found[word]["high"])


def cut_test_passes(cut: int, spoilt: int) -> bool:
    """Tell whether fruit cut open after a frost is fit to be picked and given away.

    Parameters
    ----------
    cut : fruit cut in half, from the outside of the crown
    spoilt : those of them with ice in them, or with dry and hollow segments

    Raises
    ------
    ValueError
        When fewer were cut than speak for a tree, or more are spoilt than were cut.

    References
    ----------
    Falivene, S. & Filippi, L. (2006, rev. 2014), Frost damage in citrus fruit, New
    South Wales DPI, for cutting; ten fruit and a tenth: common practice, no source.
    """
    fewest = figures.figure("cut_test_fewest").value
    count = arguments.number("cut", float(cut), at_least=fewest)
    bad = arguments.number("spoilt", float(spoilt), at_least=0.0, at_most=count)
    return 100.0 * bad / count < figures.figure("cut_test_fails_percent").value
