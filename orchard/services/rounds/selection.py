"""Choosing: which trees a round is to have, by block, by what is due, by hand."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import Exists, OuterRef, Q, QuerySet
from django.utils.translation import gettext as _

from orchard.records.models import Orchard, Task, Tree
from orchard.science.codes import plain_code
from orchard.services.errors import Refused


@dataclass(frozen=True, slots=True)
class TreeChoice:
    """Which trees a round is to have; nothing chosen is no tree.

    Blocks alone mean all their trees; with `due` or `unseen_days` only those of them
    (without blocks: of the orchard) that the condition fits. Codes are added by hand.
    """

    blocks: tuple[str, ...] = ()
    due: bool = False
    unseen_days: int | None = None
    codes: tuple[str, ...] = ()


def choose_trees(orchard: Orchard, choice: TreeChoice, *, on: date) -> list[Tree]:
    """Return the trees of a choice as of a day, in walking order.

    Raises:
        Refused (unknown_codes): a code by hand names no tree that grows here.
    """
    trees = (
        Tree.objects.in_orchard(orchard)
        .looked_after()
        .select_related("kind", "spot__block")
    )
    by_hand = by_code(trees, choice.codes)
    wanted = Q(pk__in=[tree.pk for tree in by_hand])
    if choice.blocks or choice.due or choice.unseen_days is not None:
        wanted |= _by_rule(choice, on)
    return list(trees.filter(wanted).in_walking_order())


def trees_around(orchard: Orchard, choice: TreeChoice) -> list[Tree]:
    """Return all trees one may tick besides: of the chosen blocks, else of all."""
    trees = Tree.objects.in_orchard(orchard).looked_after().select_related("kind")
    if choice.blocks:
        mine = Q(spot__block__code__in=choice.blocks)
        trees = trees.filter(mine | Q(code__in=choice.codes))
    return list(trees.in_walking_order())


def by_code(trees: QuerySet[Tree], codes: Iterable[str]) -> list[Tree]:
    """Return the trees with these codes, as written, each once.

    Raises:
        Refused (unknown_codes): one of the codes names none of the trees.
    """
    asked = {
        plain_code(code).casefold(): code.strip() for code in codes if code.strip()
    }
    if not asked:
        return []
    found = {plain_code(tree.code).casefold(): tree for tree in trees}
    missing = [code for key, code in asked.items() if key not in found]
    if missing:
        raise Refused(
            _(
                "No growing tree here has the code %(codes)s. Correct it, or leave it "
                "out."
            )
            % {"codes": ", ".join(missing[:5])},
            code="unknown_codes",
            field="codes",
        )
    return [found[key] for key in asked]


def _by_rule(choice: TreeChoice, on: date) -> Q:
    wanted = Q(spot__block__code__in=choice.blocks) if choice.blocks else Q()
    fits = Q()
    if choice.due:
        open_tasks = Task.objects.open().not_private().filter(tree=OuterRef("pk"))
        fits |= Q(Exists(open_tasks.filter(opens_on__lte=on, due_on__lte=on)))
    if choice.unseen_days is not None:
        since = on - timedelta(days=choice.unseen_days)
        fits |= Q(last_seen_on=None) | Q(last_seen_on__lt=since)
    return wanted & fits
