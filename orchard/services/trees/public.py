"""What a tag tells anybody who scans it: the tree, and nothing about people."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date, datetime

from django.utils.translation import gettext as _

from orchard.records.days import day_in
from orchard.records.models import Kind, Tag, Tree
from orchard.science import guide, windows
from orchard.science.words import HoldKind
from orchard.services.errors import NotThere
from orchard.services.facts import large_crowns
from orchard.services.holds import holds_of
from orchard.services.weather import frost_risk


@dataclass(frozen=True, slots=True)
class PublicFace:
    """A tree as its tag shows it; no position, no person, no finding."""

    orchard_name: str
    code: str
    kind: str
    believed: bool
    planted_year: int | None
    rootstock: str
    own_roots: bool
    state: str
    ripe_months: tuple[int, ...]
    hang_weeks: int
    tender: guide.Tenderness | None
    cover_at_c: float
    too_large_to_cover: bool
    in_us_units: bool
    is_retired: bool
    removed_year: int | None
    # What nobody may do there after a treatment; never what is suspected.
    closed: tuple[str, ...]
    # The tree that stands in its place, and its tag; empty while there is none.
    successor: str
    successor_token: str


def tag_for(token: str) -> Tag:
    """Return a tag by its token, retired ones included, with tree and orchard.

    Raises:
        NotThere: no tag ever had this token.
    """
    if not re.fullmatch(r"[\w-]{1,32}", token, re.ASCII):
        raise NotThere()
    tag = (
        Tag.objects.select_related("tree__kind", "tree__orchard")
        .filter(token=token)
        .first()
    )
    if tag is None:
        raise NotThere()
    return tag


def public_face(tag: Tag, *, now: datetime) -> PublicFace:
    """Return what anybody may know of the tree of a tag."""
    tree = tag.tree
    kind = tree.kind
    cultivar = guide.load().cultivars.get(kind.guide_key)
    months = cultivar.ripe_months if cultivar else ()
    today = day_in(now, tree.orchard.time_zone)
    newer = _tag_of_successor(tree)
    first = windows.first_month(float(tree.orchard.latitude))
    return PublicFace(
        orchard_name=tree.orchard.name,
        code=tree.code,
        kind=kind.name,
        believed=tree.believed,
        planted_year=tree.planted_on.year if tree.planted_on else None,
        rootstock=tree.rootstock,
        own_roots=tree.own_roots,
        state=tree.state,
        ripe_months=tuple((first - 1 + month - 1) % 12 + 1 for month in months),
        hang_weeks=cultivar.hang_weeks if cultivar else 0,
        tender=_tenderness(kind),
        cover_at_c=frost_risk(
            tree, 0.0, today, soft_growth=False, fruit_hanging=False
        ).cover_at_c,
        too_large_to_cover=tree.pk in large_crowns(tree.crowns.newest_sizes(today)),
        in_us_units=tree.orchard.units == "us",
        is_retired=tag.retired_at is not None,
        removed_year=tree.removed_on.year if tree.removed_on else None,
        closed=_closed(tree, today, now),
        successor=newer.tree.code if newer else "",
        successor_token=newer.token if newer else "",
    )


def _closed(tree: Tree, today: date, now: datetime) -> tuple[str, ...]:
    found = holds_of(tree.orchard, [tree.pk], today=today, now=now)
    public = (HoldKind.ENTRY, HoldKind.HARVEST)
    return tuple(hold.reason for hold in found.get(tree.pk, ()) if hold.kind in public)


def _tag_of_successor(tree: Tree) -> Tag | None:
    """Return the tag on the tree that stands now where a removed one stood."""
    if tree.removed_on is None:
        return None
    newer = Tree.objects.filter(replaces=tree).first()
    while newer is not None and newer.removed_on is not None:
        newer = Tree.objects.filter(replaces=newer).first()
    if newer is None:
        return None
    tags = Tag.objects.filter(tree=newer, retired_at=None)
    return tags.select_related("tree").order_by("-id").first()


def _tenderness(kind: Kind) -> guide.Tenderness | None:
    return guide.load().tenderness.get(kind.tender_class)


def title_of(tree: Tree) -> str:
    """Name a tree's cultivar as surely as it is known."""
    if tree.believed:
        return _("believed to be %(kind)s") % {"kind": tree.kind.name}
    return tree.kind.name
