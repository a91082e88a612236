"""What a tree's ground or pot still wants, explained, by its own balance of water."""

from __future__ import annotations

import math
from datetime import date

from django.utils.formats import date_format
from django.utils.translation import gettext as _

from orchard.records.models import Crown, Tree
from orchard.science import water
from orchard.services.explained import Input, Number
from orchard.services.water import containers, root_zone
from orchard.services.water.balance import FAO_56
from orchard.services.water.containers import PotWater
from orchard.services.water.root_zone import RootWater

SUBSTRATES = (
    "De Boodt, M. & Verdonck, O. (1972), Acta Horticulturae 26, 37-44; " + FAO_56
)


def tree_deficit(
    roots: RootWater, tree: Tree, crown: Crown | None, today: date
) -> Number | None:
    """Return what a tree's own balance asks for; None while it has no beginning."""
    if tree.setting == Tree.Setting.CONTAINER:
        pot = containers.container_water(roots, tree, today=today)
        return container_deficit(pot) if pot.is_known else None
    used = root_zone.root_zone_depletion(roots, tree.pk, today=today)
    if used is None or roots.total is None or crown is None:
        return None
    return _in_ground(used[0], used[1] * roots.total, crown)


def container_deficit(pot: PotWater) -> Number:
    """Return what would fill a pot again, or why that is not known."""
    what = _("Still to give")
    if pot.full_on is None:
        return Number(what, None, "L", missing=pot.why_not)
    since = [day for day in pot.days if day.on > pot.full_on]
    return Number(
        what,
        pot.missing,
        "L",
        law="water.container_balance",
        method=_(
            "What is missing in the mix since it was full on %(day)s; rain is counted "
            "over the pot's mouth, as if the pot were as wide as it is high."
        )
        % {"day": date_format(pot.full_on, "j M Y")},
        source=SUBSTRATES,
        inputs=(
            Input(_("The pot"), pot.volume, "L"),
            Input(_("Water it holds for roots"), pot.total, "L"),
            Input(_("Of this drawn with ease"), pot.ready, "L"),
            Input(_("Used since"), math.fsum(day.used for day in since), "L"),
            Input(_("Rain in its mouth"), math.fsum(day.rain for day in since), "L"),
        ),
        digits=1,
    )


def _in_ground(full_on: date, missing_mm: float, crown: Crown) -> Number:
    """Return what would fill a tree's ground again, by its own balance of water."""
    return Number(
        _("Still to give"),
        water.litres_per_tree(missing_mm, 1.0, crown.width_m),
        "L",
        law="water.root_zone_balance",
        method=_(
            "What is missing in the ground since it was full on %(day)s, rain and "
            "waterings counted, over the crown circle."
        )
        % {"day": date_format(full_on, "j M Y")},
        source=FAO_56,
        inputs=(
            Input(_("Missing in the ground"), missing_mm, "mm"),
            Input(
                _("Width of the crown"),
                crown.width_m,
                "m",
                date_format(crown.measured_on, "j M Y"),
            ),
        ),
        digits=0,
    )
