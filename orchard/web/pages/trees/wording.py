"""How a tree's own facts are written."""

from __future__ import annotations

from datetime import date

from django.utils.formats import date_format, number_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from orchard.records.models import Orchard, Tree
from orchard.science.units import shown
from orchard.services.timeline import ConditionTrend, Direction


def facts_of(tree: Tree, *, today: date) -> list[tuple[str, str]]:
    """Return who a tree is, line by line, as its page lists it."""
    name = tree.kind.name
    if tree.believed:
        name = _("believed to be %(name)s") % {"name": name}
    if tree.label_name and tree.label_name != tree.kind.name:
        name = _("%(name)s (label: %(label)s)") % {
            "name": name,
            "label": tree.label_name,
        }
    rootstock = tree.rootstock or _("not known")
    block = tree.spot.block
    rows = [
        (_("Cultivar"), name),
        (_("Rootstock"), _("on its own roots") if tree.own_roots else rootstock),
        (_("Spot"), f"{tree.spot}, {block.name}"),
        (_("Age"), age_text(tree, today=today)),
        (_("Setting"), setting_text(tree)),
        (_("State"), tree.get_state_display()),
    ]
    extras = [
        (tree.irrigated, _("Water"), _("on drip irrigation")),
        (tree.staked, _("Support"), _("staked")),
        (bool(tree.note), _("Note"), tree.note),
    ]
    return rows + [(label, text) for there, label, text in extras if there]


def age_text(tree: Tree, *, today: date) -> str:
    """Say how old a tree is, or was, from grafting or else from planting."""
    since = tree.born_on or tree.planted_on
    if since is None:
        return _("not known")
    precision = tree.born_precision if tree.born_on else tree.planted_precision
    until = min(tree.removed_on or tree.died_on or today, today)
    months = (until.year - since.year) * 12 + until.month - since.month
    months -= until.day < since.day
    if precision == Tree.Precision.YEAR:
        years = until.year - since.year
        text = ngettext("about %(n)d year", "about %(n)d years", years) % {"n": years}
        if years < 1:
            text = _("under a year")
    elif months < 1:
        text = _("under a month")
    elif months < 24:
        text = ngettext("%(n)d month", "%(n)d months", months) % {"n": months}
    else:
        text = ngettext("%(n)d year", "%(n)d years", months // 12) % {"n": months // 12}
    if tree.born_on is None:
        return _("%(age)s since planting") % {"age": text}
    return text


def setting_text(tree: Tree) -> str:
    """Say where a tree stands, its container in the orchard's own units."""
    where = str(tree.get_setting_display())
    if tree.container_litres is None:
        return where
    litres = float(tree.container_litres)
    if tree.orchard.units == Orchard.Units.US:
        gallons = f"{shown(litres, 'L', Orchard.Units.US)[0]:.1f}".removesuffix(".0")
        size = _("%(size)s gallons") % {"size": gallons}
    else:
        size = _("%(size)s litres") % {"size": f"{litres:g}"}
    return f"{where}, {size}"


def trend_text(trend: ConditionTrend) -> str:
    """Say where a tree's condition is going, and on how many scores that rests."""
    if trend.since is None:
        return ""
    words = {
        "count": trend.scores,
        "day": date_format(trend.since, "j M Y"),
        "steps": number_format(abs(trend.steps_a_year), decimal_pos=1),
    }
    if trend.direction is Direction.UNKNOWN:
        text = ngettext(
            "%(count)d score since %(day)s: too few for a trend.",
            "%(count)d scores since %(day)s: too few for a trend.",
            trend.scores,
        )
    elif trend.direction is Direction.NONE:
        text = _("No clear trend in %(count)d scores since %(day)s.")
    elif trend.direction is Direction.WORSE:
        text = _(
            "Getting worse by about %(steps)s steps a year "
            "(%(count)d scores since %(day)s)."
        )
    else:
        text = _(
            "Getting better by about %(steps)s steps a year "
            "(%(count)d scores since %(day)s)."
        )
    return text % words
