"""The outlook in words: what a night may cost a tree, what was noted of one."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from orchard.services import frost
from orchard.services.frost import FrostNight, NotedNight, TreeNight


@dataclass(frozen=True, slots=True)
class Part:
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
    parts: tuple[Part, ...]
    because: tuple[str, ...]
    has_class: bool
    has_task: bool


def tree_night(row: TreeNight, night: FrostNight) -> TreeRow:
    """Return a tree's night with its limit taken apart."""
    first, *more = row.risk.parts
    return TreeRow(
        code=row.tree.code,
        kind=row.tree.kind.name,
        harm=frost.harm_words(row.risk.harm) if row.risk.cover else "",
        fruit=frost.fruit_words(row),
        expected_c=row.risk.expected_min_c,
        cover_at_c=row.risk.cover_at_c,
        hours_below=row.hours_below,
        parts=(
            Part(first[0], first[1], False),
            *(Part(part_word(what), value, True) for what, value in more),
        ),
        because=row.risk.because,
        has_class=row.has_class,
        has_task=row.tree.pk in night.with_task,
    )


def part_word(what: str) -> str:
    """Name what raises a tree's limit."""
    words: dict[str, Any] = {
        "young tree": _("young tree"),
        "age not known": _("age not known, taken as young"),
        "container": _("in a container"),
        "soft growth": _("soft growth or bloom"),
        "fruit on the tree": _("fruit on the tree"),
    }
    return str(words.get(what, what))


def night_noted(noted: NotedNight) -> str:
    """Say what was noted of a night and what follows."""
    said = [_("The night is noted.")]
    if noted.severe:
        said.append(_("Severe frost: fruit stays on the trees for two weeks."))
    elif noted.hard:
        said.append(_("Hard frost: fruit is cut open before any is given away."))
    if noted.opened:
        count = len(noted.opened)
        said.append(
            ngettext("%(count)d task opened.", "%(count)d tasks opened.", count)
            % {"count": count}
        )
    return " ".join(said)
