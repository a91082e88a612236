"""The list of an orchard's trees: found by code, cultivar or block."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import Exists, OuterRef, Q, Subquery
from django.db.models.lookups import LessThan

from orchard.records.models import Inspection, Orchard, Tag, Tree, TreeQuerySet
from orchard.science.codes import plain_code
from orchard.services.paging import NumberedPage, page_by_number

SIZE = 50
UNSEEN_DAYS = (30, 60, 90, 180)
# A code as people say it: "b7", "B 07" and "b-7" all mean B-07.
CODE_TEXT = re.compile(r"([^\W\d_]*)[-._ ]*0*(\d+)[-._ ]*([^\W\d_]*)")


@dataclass(frozen=True, slots=True)
class TreeFilters:
    """What the list is narrowed to; nothing given means all standing trees."""

    text: str = ""
    block: str = ""
    kind: int | None = None
    state: str = "standing"
    condition: str = ""
    unseen_days: int = 0
    seen_this_month: bool = False
    without_tag: bool = False
    longest_unseen_first: bool = False

    @property
    def narrow(self) -> bool:
        return self != TreeFilters(longest_unseen_first=self.longest_unseen_first)


def tree_list(
    orchard: Orchard, *, today: date, filters: TreeFilters, page: int = 1
) -> NumberedPage[Tree]:
    """Return one page of the trees that the filters leave, in two queries."""
    trees = trees_that_fit(orchard, today=today, filters=filters)
    order = ("unseen_rank", "last_seen_on", "id")
    if filters.longest_unseen_first:
        trees = trees.annotate(unseen_rank=Q(last_seen_on__isnull=False)).order_by(
            *order
        )
    else:
        trees = trees.in_walking_order()
    shown = trees.select_related("kind", "spot__block")
    return page_by_number(shown, number=page, size=SIZE)


def matching_trees(orchard: Orchard, text: str) -> Tree | None:
    """Return the one tree whose code somebody wrote, with or without dash and zeros.

    A tree that stands comes before one that was removed.
    """
    code = _code_pattern(text)
    if code is None:
        return None
    found = list(
        Tree.objects.filter(orchard=orchard, code__iregex=code).order_by("id")[:9]
    )
    exact = [tree for tree in found if tree.code.lower() == text.strip().lower()]
    for some in (exact, [tree for tree in found if tree.is_standing], found):
        if len(some) == 1:
            return some[0]
    return None


def _code_pattern(text: str) -> str | None:
    """Return the pattern of the codes that a text may mean."""
    match = CODE_TEXT.fullmatch(text.strip())
    if match is None:
        return None
    return r"^{}[-._ ]*0*{}[-._ ]*{}$".format(*match.groups())


def trees_that_fit(
    orchard: Orchard, *, today: date, filters: TreeFilters
) -> TreeQuerySet:
    """Return the trees that the filters leave."""
    trees = Tree.objects.filter(orchard=orchard)
    if filters.state == "standing":
        trees = trees.filter(removed_on=None)
    elif filters.state in Tree.State.values:
        trees = trees.filter(state=filters.state)
    code = _code_pattern(plain_code(filters.text))
    by_words = Q()
    for word in filters.text.split():
        by_words &= (
            Q(code__icontains=word)
            | Q(kind__name__icontains=word)
            | Q(label_name__icontains=word)
            | Q(spot__block__name__icontains=word)
            | Q(spot__block__code__iexact=word)
        )
    trees = trees.filter(by_words if code is None else by_words | Q(code__iregex=code))
    if filters.block:
        trees = trees.filter(spot__block__code__iexact=filters.block)
    if filters.kind is not None:
        trees = trees.filter(kind=filters.kind)
    match filters.condition:
        case "poor":
            trees = trees.filter(condition__lte=2)
        case "fair":
            trees = trees.filter(condition=3)
        case "good":
            trees = trees.filter(condition__gte=4)
        case "unscored":
            trees = trees.filter(condition=None)
        case "falling":
            trees = trees.filter(_scored_lower_than_before())
    if filters.unseen_days:
        since = today - timedelta(days=filters.unseen_days)
        trees = trees.filter(Q(last_seen_on=None) | Q(last_seen_on__lt=since))
    if filters.seen_this_month:
        trees = trees.filter(last_seen_on__gte=today.replace(day=1))
    if filters.without_tag:
        valid = Tag.objects.filter(tree=OuterRef("pk"), retired_at=None)
        trees = trees.filter(~Exists(valid))
    return trees


def _scored_lower_than_before() -> Q:
    """Return the condition of trees whose last score is below the one before it."""
    scores = (
        Inspection.objects.current()
        .filter(tree=OuterRef("pk"), condition__isnull=False)
        .order_by("-seen_on", "-id")
        .values("condition")
    )
    return Q(LessThan(Subquery(scores[:1]), Subquery(scores[1:2])))
