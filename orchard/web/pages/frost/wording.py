"""A frost night in words: what it may cost a tree, and what was noted of it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import time
from typing import Any

from django.utils.formats import time_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from orchard.science import frost
from orchard.science.figures import figure
from orchard.science.units import in_text
from orchard.services.frost import FrostNight, NotedNight, TreeNight
from orchard.services.quantities import in_words, span_words


@dataclass(frozen=True, slots=True)
class LimitPart:
    """One part of a tree's limit, °C, in words."""

    what: str
    value: float
    difference: bool


@dataclass(frozen=True, slots=True)
class TreeRow:
    """A tree of the frost page as it is read."""

    code: str
    kind: str
    harm: str
    fruit: str
    expected_c: float
    cover_at_c: float
    hours_below: float | None
    parts: tuple[LimitPart, ...]
    because: tuple[str, ...]
    has_class: bool
    has_task: bool
    instead: tuple[str, ...]


def tree_night(row: TreeNight, night: FrostNight) -> TreeRow:
    """Return a tree's night with its limit taken apart."""
    first, *more = row.risk.parts
    return TreeRow(
        code=row.tree.code,
        kind=row.tree.kind.name,
        harm=harm_words(row.risk.harm, row.too_large) if row.risk.cover else "",
        fruit=fruit_words(row),
        expected_c=row.risk.expected_min_c,
        cover_at_c=row.risk.cover_at_c,
        hours_below=row.hours_below,
        parts=(
            LimitPart(first[0], first[1], False),
            *(LimitPart(part_word(what), value, True) for what, value in more),
        ),
        because=row.risk.because,
        has_class=row.has_class,
        has_task=row.tree.pk in night.with_task,
        instead=instead_of_cover(row) if row.too_large else (),
    )


def harm_words(harm: str, too_large: bool) -> str:
    """Name what a night may cost a tree, and why it is covered where it costs nothing.

    A limit lies above what hurts, because a forecast may err.
    """
    if harm == frost.Harm.NONE and too_large:
        return str(_("no harm if the forecast holds"))
    return {
        frost.Harm.TREE: _("the tree may die"),
        frost.Harm.WOOD: _("wood may be hurt"),
        frost.Harm.SOFT_GROWTH: _("soft growth may be hurt"),
        frost.Harm.NONE: _(
            "no harm if the forecast holds; the cover is for a colder night than that"
        ),
    }[frost.Harm(harm)]


def instead_of_cover(row: TreeNight) -> tuple[str, ...]:
    """Name what can be done the day before for a tree too large to cover."""
    work = [_("bare, firm, moist soil below it and grass mown low")]
    if row.wrap_trunk:
        work.append(_("a bank of soil or a wrap on the trunk"))
    work.append(_("an outdoor lamp where the crown is low"))
    return tuple(work)


def fruit_words(row: TreeNight) -> str:
    """Name what a night may cost the fruit of a tree; nothing where it has none."""
    if not row.fruit_hangs:
        return ""
    if row.risk.fruit == frost.FruitFrost.SAFE:
        return ""
    if row.fruit_ripe:
        return _("ripe fruit: pick it today, or cut it open after the night")
    return _("unripe fruit hangs on it")


def part_word(what: str) -> str:
    """Name what raises a tree's limit."""
    words: dict[str, Any] = {
        "young tree": _("young tree"),
        "newly planted": _("newly planted"),
        "age not known": _("planting not dated, taken as new"),
        "container": _("in a container"),
        "soft growth": _("soft growth or bloom"),
        "fruit on the tree": _("fruit on the tree"),
        "at most": _("upper limit of the additions"),
    }
    return str(words.get(what, what))


def night_noted(noted: NotedNight) -> str:
    """Say what was noted of a night and what follows."""
    sentences = [_("Night recorded.")]
    if noted.severe:
        text = _("Severe frost: fruit stays on the trees for %(how_long)s.")
        how_long = span_words(figure("fruit_hold_days").value)
        sentences.append(text % {"how_long": how_long})
    elif noted.hard:
        sentences.append(_("Hard frost: fruit is cut open before any is given away."))
    if noted.severe or noted.hard:
        sentences.append(_("Fruit picked since that night is kept back."))
    if noted.opened:
        count = len(noted.opened)
        sentences.append(
            ngettext("%(count)d task opened.", "%(count)d tasks opened.", count)
            % {"count": count}
        )
    return " ".join(sentences)


def cover_off_words(by: time, units: str) -> str:
    """Say when covers come off in the morning, in an orchard's units."""
    text = _(
        "Take them off once the canopy is above %(warm)s °C, or at %(by)s if it is "
        "above %(frost)s °C by then: under cloth the tree overheats by day. While it "
        "still freezes, leave them on."
    )
    warm, frost_at = figure("cover_off_c").value, figure("frost_air_c").value
    words = {
        "warm": f"{warm:g}",
        "frost": f"{frost_at:g}",
        "by": time_format(by, "H:i"),
    }
    return in_text(text % words, units)


def night_lead(units: str) -> str:
    """Say what is read of a night, and from when on fruit is cut open."""
    text = _(
        "Read the lowest off the minimum thermometer. After %(hours)s hours at "
        "%(limit)s °C or below, fruit is cut open before any is given away."
    )
    hours, limit = figure("fruit_check_hours").value, figure("fruit_check_c").value
    words = {"hours": in_words(hours), "limit": f"{limit:g}"}
    return in_text(text % words, units)
