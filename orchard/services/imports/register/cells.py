"""Reading one cell of a register: litres, yes or no. Nothing is guessed silently."""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal

from django.utils.translation import gettext as _

from orchard.science.figures import limits
from orchard.science.units import US_UNITS
from orchard.services.errors import Refused
from orchard.services.quantities import quantity

LITRES_PER_US_GALLON = Decimal(str(US_UNITS["L"].step))
UNITS = {
    "l": Decimal(1),
    "litre": Decimal(1),
    "litres": Decimal(1),
    "liter": Decimal(1),
    "liters": Decimal(1),
    "gal": LITRES_PER_US_GALLON,
    "gallon": LITRES_PER_US_GALLON,
    "gallons": LITRES_PER_US_GALLON,
}
YES = frozenset({"yes", "y", "true", "1", "x"})
NO = frozenset({"no", "n", "false", "0"})
GROUND = frozenset({"ground", "in the ground", "in ground", "no", "none", "-"})
POTTED = frozenset({"container", "pot", "in a container", "yes", "tub", "planter"})


@dataclass(frozen=True, slots=True)
class Container:
    """Whether a tree stands in a container, and how many litres it holds."""

    potted: bool
    litres: Decimal | None = None
    note: str = ""


def container_in(text: str, system: str) -> Container:
    """Return what a cell says of a container; a bare number is litres.

    What is wrong with it is told in the units of the orchard, its `system`.
    """
    word = text.casefold()
    if not word:
        return Container(False)
    if word in GROUND:
        return Container(False)
    if word in POTTED:
        return Container(True, None, _("In a container; its size is not said."))
    found = re.fullmatch(r"([\d.,]+)\s*([a-z]*)\.?", word)
    if found is None or (found[2] and found[2] not in UNITS):
        raise Refused(
            _(
                "“%(text)s” isn't a container size. Write it with its unit, such as "
                "%(example)s."
            )
            % {"text": text, "example": "15 gal" if system == "us" else "50 L"},
            code="bad_cell",
        )
    number = _number(text, found[1])
    litres = (number * UNITS[found[2] or "l"]).quantize(Decimal("0.1"))
    least, most = limits("container_litres")
    if not least < litres <= most:
        raise Refused(
            _("Enter a container size above 0 and up to %(most)s.")
            % {"most": quantity(most, "L", system)},
            code="bad_cell",
        )
    note = ""
    if (UNITS[found[2] or "l"] != 1) is (system != "us"):
        note = _("“%(text)s” is read as %(size)s.") % {
            "text": text,
            "size": quantity(float(litres), "L", system),
        }
    return Container(True, litres, note)


def _number(text: str, digits: str) -> Decimal:
    if re.fullmatch(r"\d+", digits):
        return Decimal(digits)
    if re.fullmatch(r"\d+[.,]\d{1,2}", digits):
        return Decimal(digits.replace(",", "."))
    raise Refused(
        _("“%(text)s” can be read in two ways. Write 1500 or 1.5, with no other mark.")
        % {"text": text},
        code="bad_cell",
    )


def yes_in(text: str) -> bool:
    """Return whether a cell says yes; an empty one says no."""
    word = text.casefold()
    if word in YES:
        return True
    if word in NO or not word:
        return False
    raise Refused(
        _("“%(text)s” is neither yes nor no.") % {"text": text}, code="bad_cell"
    )
