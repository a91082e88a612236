"""What somebody brings of one pick, not yet checked."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db.models import TextChoices
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from orchard.records.models import Tree
from orchard.science.words import Picked
from orchard.services.errors import Refused


class FoodCheck(TextChoices):
    """What was asked about a pick and answered with yes, as it is stored.

    After 21 CFR 112 (hands, bins, soiled and dropped produce, water, animals) and what
    extension services ask of those who give fruit away.
    """

    WELL = "well", gettext_lazy("Nobody who picked was ill, and hands were washed")
    BINS = "bins", gettext_lazy("Bins were clean and stood off the soil")
    UNSOILED = "unsoiled", gettext_lazy("Fruit with soil or droppings on it was left")
    SOUND = (
        "sound",
        gettext_lazy("None is split, mouldy, frozen or touched by flood water"),
    )
    PAPER = (
        "paper",
        gettext_lazy(
            "No quarantine applies here, or the authority's paper allows the move"
        ),
    )
    ANIMALS = (
        "animals",
        gettext_lazy(
            "No animals were at the tree, and only drinkable water came from above"
        ),
    )
    ALLOWED = "allowed", gettext_lazy("The coordinator allows it all the same")
    RINSED = "rinsed", gettext_lazy("Rinsed with drinking water")
    UNWASHED = "unwashed", gettext_lazy("Not washed, and whoever gets it is told")
    GROUND = "ground", gettext_lazy("Picked up from the ground")


# Of each of these one is to be answered with yes before anything is given away.
ASKED = (
    (FoodCheck.WELL,),
    (FoodCheck.BINS,),
    (FoodCheck.UNSOILED,),
    (FoodCheck.SOUND,),
    (FoodCheck.RINSED, FoodCheck.UNWASHED),
    (FoodCheck.ANIMALS, FoodCheck.ALLOWED),
    (FoodCheck.PAPER,),
)


@dataclass(frozen=True, slots=True)
class TreePick:
    """What one tree gave: weighed, counted, or both."""

    tree: Tree
    kg: float | None = None
    count: int | None = None
    is_picked_clean: bool = False
    # Of a crate from several trees: its part of the whole.
    is_shared: bool = False


@dataclass(frozen=True, slots=True)
class Pick:
    """Fruit, leaves or flowers picked in one go, as it is typed."""

    part: Picked
    picked_at: datetime
    trees: tuple[TreePick, ...]
    how: str = ""
    checks: frozenset[str] = frozenset()
    note: str = ""

    @property
    def kg(self) -> float | None:
        """Return the weight of all of it, where some was weighed."""
        return _sum([each.kg for each in self.trees])

    @property
    def count(self) -> int | None:
        """Return the number of all of it, where some was counted."""
        total = _sum([each.count for each in self.trees])
        return None if total is None else round(total)


@dataclass(frozen=True, slots=True)
class WrittenPick:
    """A pick as somebody writes it down: trees by their codes, figures of all of it."""

    part: Picked
    picked_at: datetime
    codes: tuple[str, ...]
    kg: float | None = None
    count: int | None = None
    # Of a correction: its figures are those on record.
    is_as_before: bool = False
    is_picked_clean: bool = False
    how: str = ""
    checks: frozenset[str] = frozenset()
    note: str = ""


def _sum(values: Sequence[float | None]) -> float | None:
    given = [value for value in values if value is not None]
    return sum(given) if given else None


def shared_out(
    trees: Sequence[Tree],
    *,
    kg: float | None,
    count: int | None,
    is_picked_clean: bool = False,
) -> tuple[TreePick, ...]:
    """Divide a crate among the trees it was picked from, as evenly as can be.

    Raises:
        Refused (too_few): fewer were counted than there are trees, and none weighed.
    """
    many = len(trees)
    if many > 1 and kg is None and count is not None and 0 < count < many:
        raise Refused(
            _("%(count)d from %(trees)d trees: name only the trees that gave some.")
            % {"count": count, "trees": many},
            code="too_few",
            field="count",
        )
    return tuple(
        TreePick(
            tree,
            None if kg is None else kg / many,
            _portion(count, place, many),
            is_picked_clean,
            is_shared=many > 1,
        )
        for place, tree in enumerate(trees)
    )


def _portion(count: int | None, place: int, many: int) -> int | None:
    """Return the whole number that one of many gets; who gets none has no count."""
    if count is None:
        return None
    portion = count // many + (place < count % many)
    return portion or (None if many > 1 else portion)
