"""How much was used: doses, totals, and the copper in them."""

from __future__ import annotations

from datetime import datetime

from orchard.records.models import Product, ProductUse
from orchard.science.figures import figure

Unit = Product.DoseUnit
# Of each unit of a dose: the measure of what is treated, how much of the measure the
# dose is for, and the product's unit in grams or millilitres.
DOSE_OF = {
    Unit.L_PER_HA: ("m2", 10_000.0, 1000.0),
    Unit.KG_PER_HA: ("m2", 10_000.0, 1000.0),
    Unit.G_PER_M2: ("m2", 1.0, 1.0),
    Unit.ML_PER_L: ("mix", 1.0, 1.0),
    Unit.G_PER_L: ("mix", 1.0, 1.0),
    Unit.ML_PER_TREE: ("trees", 1.0, 1.0),
    Unit.G_PER_TREE: ("trees", 1.0, 1.0),
    Unit.G_PER_L_OF_POT: ("litres", 1.0, 1.0),
}
IN_SMALL = {"L": 1000.0, "mL": 1.0, "kg": 1000.0, "g": 1.0}
LIQUID = frozenset({"L", "mL"})
LIQUID_DOSES = frozenset({Unit.L_PER_HA, Unit.ML_PER_L, Unit.ML_PER_TREE})


def expected_total(
    dose: float,
    dose_unit: str,
    *,
    size: float | None,
    size_unit: str,
    mix_litres: float | None,
    trees: int,
) -> float | None:
    """Return how much product a dose takes, in g or mL; None where a size is missing.

    A dose for each tree is counted over the trees treated.
    """
    measure, per, small = DOSE_OF[Unit(dose_unit)]
    sizes = {"mix": mix_litres, "trees": float(trees) if trees else None}
    if size_unit:
        sizes[size_unit] = size
    amount = sizes.get(measure)
    return None if amount is None else dose * small * amount / per


def used(total: float, unit: str) -> float:
    """Return an amount of product in g or mL."""
    return total * IN_SMALL[unit]


def measures_alike(dose_unit: str, total_unit: str) -> bool:
    """Tell whether a dose and a total are both of a liquid, or both of a solid."""
    return (Unit(dose_unit) in LIQUID_DOSES) is (total_unit in LIQUID)


def off_by_too_much(total: float, expected: float) -> bool:
    """Tell whether a total is so far off dose times size that it needs a reason."""
    return abs(total - expected) > figure("amount_tolerance").value * expected + 1e-9


def copper_grams(uses: list[ProductUse]) -> float:
    """Return the copper in some amounts of products, g, by what their labels say.

    A product without a content of copper on record counts as none.
    """
    grams = 0.0
    for use in uses:
        if use.total is not None:
            grams += used(use.total, use.total_unit) * copper_share(use.product)
    return grams


def copper_share(product: Product) -> float:
    """Return the g of copper in a g or mL of a product."""
    share = 0.0
    for name, content, unit in product.ingredients:
        if "copper" in name.casefold():
            share += content / (100.0 if unit == "%" else 1000.0)
    return share


def years_before(moment: datetime, years: int) -> datetime:
    """Return the same time so many years earlier; 29 February becomes 28."""
    try:
        return moment.replace(year=moment.year - years)
    except ValueError:
        return moment.replace(year=moment.year - years, day=28)
