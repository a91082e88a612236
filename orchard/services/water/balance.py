"""The balance of the ground in words and numbers: what is missing, and the dose."""

from __future__ import annotations

from datetime import date

from django.utils.formats import date_format
from django.utils.translation import gettext as _

from orchard.records.models import CrownSize, GrowingTree, Tree
from orchard.science import water
from orchard.science.water import Balance
from orchard.services.explained import Input, Number
from orchard.services.water.root_zone import (
    GroundWater,
    RootWater,
    given_mm,
)

FAO_56 = (
    "Allen, R. G., Pereira, L. S., Raes, D. & Smith, M. (1998), FAO Irrigation and "
    "Drainage Paper 56"
)


def ground_rows(
    roots: RootWater, tree: Tree | GrowingTree, ground: GroundWater
) -> list[Balance]:
    """Return the root zone of a tree day by day since it was last full."""
    if ground.since is None:
        return []
    full_on = ground.since.full_on
    given = given_mm(roots, tree.pk, after=full_on)
    since = [
        (day.on, day.et0 or 0.0, day.kc, day.rain_mm or 0.0, given.get(day.on, 0.0))
        for day in roots.whole
        if day.on > full_on
    ]
    # The balance draws by the share of ready water that holds where 5 mm are used.
    ready = ground.total * water.ready_share(5.0)
    return water.root_zone_balance(since, total=ground.total, ready=ready)


def soil_deficit(ground: GroundWater) -> Number:
    """Return what is missing in the ground, explained, or why that is not known."""
    what = _("Soil water used up")
    law, source = "water.depletion", FAO_56
    if ground.since is None or not ground.is_known:
        return Number(what, None, "mm", law=law, source=source, missing=ground.why_not)
    inputs = [
        Input(_("Readily available water, at this use"), ground.ready, "mm"),
        Input(_("Total available water"), ground.total, "mm"),
        Input(_("Used a day, mean of the last days"), ground.use, "mm"),
        Input(_("Used since"), ground.since.used, "mm"),
    ]
    if ground.depth is not None:
        inputs.insert(0, Input(_("Root depth"), ground.depth, "m"))
    return Number(
        what,
        ground.missing,
        "mm",
        law=law,
        method=_method(ground),
        source=source,
        inputs=tuple(inputs),
        digits=1,
    )


def _method(ground: GroundWater) -> str:
    assert ground.since is not None
    words = _(
        "Day by day since it was full on %(day)s, rain and waterings counted."
    ) % {"day": date_format(ground.since.full_on, "j M Y")}
    return f"{words} {share_words(ground.since.estimated_share)}".strip()


def share_words(share: float) -> str:
    """Say how much of the water used is estimated; nothing where none is."""
    if not share:
        return ""
    percent = max(1, round(share * 100))
    return _("%(share)d %% of the use is estimated.") % {"share": percent}


def ground_dose(ground: GroundWater, crown: CrownSize) -> Number:
    """Return the litres that would fill a tree's ground again, and no more."""
    return Number(
        _("Litres to fill it"),
        water.litres_per_tree(ground.missing, 1.0, crown.width_m),
        "L",
        law="water.litres_per_tree",
        method=_("What is missing in the ground, over the crown circle."),
        source=FAO_56,
        inputs=(
            Input(_("Soil water used up"), ground.missing, "mm"),
            Input(
                _("Crown width"),
                crown.width_m,
                "m",
                date_format(crown.measured_on, "j M Y"),
            ),
        ),
        digits=0,
    )


def day_after(start: date, ahead: int) -> date:
    """Return the day so many days on."""
    return date.fromordinal(start.toordinal() + ahead)
