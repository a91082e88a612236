"""Feeding: nitrogen by age, product from nitrogen, and what a leaf analysis says."""

from __future__ import annotations

import math
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from functools import lru_cache
from typing import Any, Literal

from orchard.science import arguments, figures
from orchard.science.units import US_UNITS

KG_PER_LB = US_UNITS["kg"].step
# The published table is for citrus; these are the kinds it is taken to cover.
CITRUS_KINDS = frozenset(
    {
        "citrus",
        *("sweet orange", "mandarin", "tangelo", "grapefruit", "pummelo", "lemon"),
        *("lime", "limequat", "citron", "kumquat", "kumquat hybrid", "papeda hybrid"),
    }
)

LeafClass = Literal["deficient", "low", "optimum", "high", "excess"]


@dataclass(frozen=True, slots=True)
class Feeding:
    """A year's nitrogen for one tree, in kg, from least to most, and its splits."""

    year_since_planting: int
    applications: int
    low_kg: float
    high_kg: float
    source: str
    how: str

    @property
    def split_kg(self) -> tuple[float, float]:
        """Return the nitrogen of one application, least and most, kg."""
        return self.low_kg / self.applications, self.high_kg / self.applications

    def product_kg(self, nitrogen_percent: float) -> tuple[float, float]:
        """Return the product for one application, least and most, kg.

        nitrogen_percent is the first of the three numbers on the bag.
        """
        return (
            product_per_application(self.low_kg, self.applications, nitrogen_percent),
            product_per_application(self.high_kg, self.applications, nitrogen_percent),
        )


def nitrogen_for_age(kind: str, age_years: float) -> Feeding:
    """Return how much nitrogen a tree gets this year, and in how many splits.

    Parameters
    ----------
    kind : kind of tree; a published table is at hand for citrus only
    age_years : years since planting, 0 or more; the first year is 0 to below 1

    Returns
    -------
    Feeding, kg of nitrogen for the whole year. From the fifth year on the same.

    Raises
    ------
    ValueError
        When the kind has no table or the age is missing, negative or not finite.

    Notes
    -----
    None in winter and none after mid-autumn: soft growth is frost-tender. The label and
    local fertiliser rules come first.

    References
    ----------
    University of Florida IFAS Extension, HS series, home citrus fertilizer by tree age.
    Read as reprinted by an Extension agent.
    """
    if kind not in CITRUS_KINDS:
        raise ValueError(
            f"kind is {kind!r}, of which no table is at hand; allowed is "
            f"{', '.join(sorted(CITRUS_KINDS))}."
        )
    age = arguments.number("age_years", age_years, "years", at_least=0.0, at_most=300)
    table = {row["year"]: row for row in figures.rows("nitrogen", "feeding.toml")}
    year = int(age) + 1
    row = table[min(year, max(table))]
    return Feeding(
        year_since_planting=year,
        applications=row["applications"],
        low_kg=row["low"] * KG_PER_LB,
        high_kg=row["high"] * KG_PER_LB,
        source=row["source"],
        how=row["how"],
    )


def product_per_application(
    nitrogen: float, applications: int, nitrogen_percent: float
) -> float:
    """Return how much of a product brings a share of the year's nitrogen.

    Parameters
    ----------
    nitrogen : nitrogen of the whole year, kg (or lb: the answer is in the same)
    applications : number of equal shares
    nitrogen_percent : nitrogen in the product, %, above 0 to 100

    Returns
    -------
    Product for one application, kg (or lb).

    Raises
    ------
    ValueError
        When a figure is missing or out of range.

    References
    ----------
    Arithmetic; reproduces the table named at `nitrogen_for_age`.
    """
    year = arguments.number("nitrogen", nitrogen, "kg", at_least=0.0)
    shares = arguments.whole("applications", applications, at_least=1)
    percent = arguments.number(
        "nitrogen_percent", nitrogen_percent, "%", above=0.0, at_most=100.0
    )
    return year / shares / (percent / 100.0)


@dataclass(frozen=True, slots=True)
class YearOfFeed:
    """The nitrogen of a year for one tree, g, and in how many equal doses."""

    grams: float
    doses: int
    # Which rule set it: "crown", "first_year", "age" or "pot".
    rule: Literal["crown", "first_year", "age", "pot"]

    @property
    def dose_grams(self) -> float:
        """Return the nitrogen of one dose, g."""
        return self.grams / self.doses


def nitrogen_by_crown(
    group: str, crown_m: float, age_years: float, planted_days: int | None
) -> YearOfFeed | None:
    """Return how much nitrogen a tree in the ground gets this year.

    Parameters
    ----------
    group : cultivar group, such as "Lemons"; decides the share
    crown_m : width of the crown, m
    age_years : years since grafting or planting; its table is only a ceiling
    planted_days : days since planting, or None where that is not known

    Returns
    -------
    YearOfFeed, g of nitrogen; None while the roots of a newly planted tree settle.

    Raises
    ------
    ValueError
        When the width or the age is missing or out of range.

    Notes
    -----
    20 g for each square metre of the crown's circle, at most 450 g and at most what the
    published table gives for the age. In the first twelve months at most 50 g.

    References
    ----------
    Rule of this book, near the net needs of IVIA for trees of 2, 6 and 12 years (read).
    Shares for grapefruit and lemons: Arizona (read). First season: NSW (read).
    """
    width = arguments.number("crown_m", crown_m, "m", above=0.0, at_most=20.0)
    if (
        planted_days is not None
        and planted_days < figures.days("planting_settles_days").days
    ):
        return None
    table = nitrogen_for_age("citrus", age_years)
    area = math.pi / 4 * width**2
    grams = figures.figure("feed_n_per_m2").value * area * _share(group)
    rule: Literal["crown", "first_year", "age"] = "crown"
    ceiling = min(table.high_kg * 1000, figures.figure("feed_n_most").value)
    if grams > ceiling:
        grams, rule = ceiling, "age"
    first = figures.figure("feed_n_first_year").value
    if planted_days is not None and planted_days < 365 and grams > first:
        grams, rule = first, "first_year"
    doses = max(table.applications, round(figures.figure("feed_splits").value))
    return YearOfFeed(grams, doses, rule)


def nitrogen_by_pot(litres: float, planted_days: int | None) -> YearOfFeed | None:
    """Return how much nitrogen a tree in a pot gets this year: never by its age.

    Parameters
    ----------
    litres : mix in the pot, L
    planted_days : days since potting, or None where that is not known

    Returns
    -------
    YearOfFeed, g of nitrogen; None while the roots of a newly potted tree settle.

    Raises
    ------
    ValueError
        When the litres are missing or out of range.

    References
    ----------
    0.6 g a litre, never over 1.0: from memory.
    """
    mix = arguments.number("litres", litres, "L", above=0.0, at_most=5000.0)
    if (
        planted_days is not None
        and planted_days < figures.days("planting_settles_days").days
    ):
        return None
    a_litre = min(
        figures.figure("feed_n_per_litre").value,
        figures.figure("feed_n_per_litre_most").value,
    )
    doses = round(figures.figure("feed_splits_pot").value)
    return YearOfFeed(a_litre * mix, doses, "pot")


def _share(group: str) -> float:
    words = group.casefold().split()
    if any(word.startswith(("grapefruit", "pummelo")) for word in words):
        return figures.figure("feed_share_grapefruit").value
    if any(word.startswith(("lemon", "lime")) for word in words):
        return figures.figure("feed_share_lemon").value
    return 1.0


@dataclass(frozen=True, slots=True)
class Nutrient:
    """What is analysed in leaves, and between which contents a figure is no slip."""

    key: str
    name: str
    unit: str
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class LeafSet:
    """A published set of ranges, by its name: what it is for, and its source."""

    key: str
    name: str
    # The age of the leaves it is for, months; nothing where it does not say.
    months: tuple[float, float] | None
    # Words of the cultivar groups that it covers; none where it is for all citrus.
    groups: tuple[str, ...]
    source: str
    how: str

    def covers(self, group: str) -> bool:
        """Tell whether it is for a cultivar group, such as "Navel oranges"."""
        words = group.casefold()
        return not self.groups or any(each in words for each in self.groups)

    def is_for_age(self, months: float) -> bool:
        """Tell whether it is for leaves of an age, or does not say for which."""
        return self.months is None or self.months[0] <= months <= self.months[1]


@dataclass(frozen=True, slots=True)
class LeafReading:
    """One content against one set: its range, and the class, or why there is none."""

    leaf_set: LeafSet
    # Both ends of the range, as printed; the lower one may be "".
    range: tuple[str, str]
    status: LeafClass | None
    why_not: Literal["", "group", "age"] = ""

    @property
    def side(self) -> Literal["below", "within", "above"] | None:
        """Return on which side of the range the content lies."""
        if self.status is None:
            return None
        if self.status == "optimum":
            return "within"
        return "below" if self.status in ("deficient", "low") else "above"


def leaf_readings(
    nutrient: str, value: float, group: str, leaf_months: float
) -> tuple[LeafReading, ...]:
    """Return a content against every published set that has a range for it.

    Parameters
    ----------
    nutrient : symbol, one of `leaf_nutrients()`
    value : content of dry matter, in the unit of the nutrient
    group : cultivar group, such as "Navel oranges"
    leaf_months : age of the leaves, months, above 0 to 36

    Returns
    -------
    LeafReading for each set. Its class is left out, with the reason, where the set is
    for other cultivars or for leaves of another age.

    Raises
    ------
    ValueError
        When the nutrient has no range, or a figure is missing or out of range.

    Notes
    -----
    Sets disagree: potassium 0.9 % is low in Florida and in range in Spain, Australia
    and Israel. No verdict is made of several.

    References
    ----------
    The sets of `leaf_sets()`, each with its source.
    """
    age = arguments.number("leaf_months", leaf_months, "months", above=0.0, at_most=36)
    found = []
    for each in leaf_sets():
        row = _leaf_rows().get((each.key, nutrient))
        if row is None:
            continue
        ends = (row["optimum"], row["optimum_to"])
        if not each.covers(group):
            found.append(LeafReading(each, ends, None, "group"))
        elif not each.is_for_age(age):
            found.append(LeafReading(each, ends, None, "age"))
        else:
            status = leaf_status(each.key, nutrient, value)
            found.append(LeafReading(each, ends, status))
    if not found:
        raise ValueError(_no_classes(nutrient))
    return tuple(found)


def leaf_status(leaf_set: str, nutrient: str, value: float) -> LeafClass:
    """Return the class of a nutrient in a leaf analysis by one published set.

    Parameters
    ----------
    leaf_set : key of the set, one of `leaf_sets()`
    nutrient : symbol, one of `leaf_nutrients()`
    value : content of dry matter, % for N P K Ca Mg Cl, mg/kg for the others

    Returns
    -------
    "deficient", "low", "optimum", "high" or "excess". A set that prints its range alone
    gives "low", "optimum" or "high"; for Cl there are only the last three.

    Raises
    ------
    ValueError
        When the set has no range for the nutrient, or the value is missing, negative or
        more than there can be.

    Notes
    -----
    The classes are printed with gaps (nitrogen: low to 2.4, optimum from 2.5). A value
    is first rounded half up to the printed decimals, so 2.45 is optimum and 2.44 low.
    Another set gives another class: name the set with every answer.

    References
    ----------
    University of Florida IFAS, SL 253, Nutrition of Florida Citrus Trees, after Koo et
    al. (1984). From memory. The ranges of the others: see `leaf_sets()`.
    """
    row = _leaf_rows().get((leaf_set, nutrient))
    if row is None:
        raise ValueError(_no_classes(nutrient))
    most = 100.0 if row["unit"] == "%" else 1_000_000.0
    content = arguments.number("value", value, row["unit"], at_least=0.0, at_most=most)
    step = Decimal(1).scaleb(-row["decimals"])
    printed = Decimal(repr(content)).quantize(step, rounding=ROUND_HALF_UP)
    if row["low"] and printed < Decimal(row["low"]):
        return "deficient"
    if row["optimum"] and printed < Decimal(row["optimum"]):
        return "low"
    if printed <= Decimal(row["optimum_to"]):
        return "optimum"
    if row["excess_above"] and printed > Decimal(row["excess_above"]):
        return "excess"
    return "high"


@lru_cache(maxsize=1)
def leaf_nutrients() -> dict[str, Nutrient]:
    """Return the nutrients that have ranges; S, Mo and Na have no full set."""
    return {
        row["key"]: Nutrient(
            row["key"], row["name"], row["unit"], row["low"], row["high"]
        )
        for row in figures.rows("nutrient", "feeding.toml")
    }


@lru_cache(maxsize=1)
def leaf_sets() -> tuple[LeafSet, ...]:
    """Return the published sets of ranges, each with its source."""
    return tuple(
        LeafSet(
            row["key"],
            row["name"],
            (row["months"][0], row["months"][1]) if "months" in row else None,
            row["groups"],
            row["source"],
            row["how"],
        )
        for row in figures.rows("leaf_set", "feeding.toml")
    )


def leaf_sampling(latitude: float) -> tuple[str, str, str]:
    """Return the season months to take leaves in, the source, and whether it was read.

    Parameters
    ----------
    latitude : of the place, degrees, north positive
    """
    key = "south" if latitude < 0 else "north"
    rows = {row["key"]: row for row in figures.rows("leaf_sampling", "feeding.toml")}
    row = rows[key]
    return row["span"], row["source"], row["how"]


@lru_cache(maxsize=1)
def _leaf_rows() -> dict[tuple[str, str], dict[str, Any]]:
    rows = figures.rows("leaf", "feeding.toml")
    return {(row["leaf_set"], row["nutrient"]): row for row in rows}


def _no_classes(nutrient: str) -> str:
    return (
        f"nutrient is {nutrient!r}, which has no full set of classes; allowed is "
        f"{', '.join(leaf_nutrients())}."
    )
