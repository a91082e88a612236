"""Blocks and spots: where trees stand, and in which order they are walked."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import datetime
from itertools import count

from django.db import transaction
from django.db.models import Count, Max, Q, QuerySet
from django.utils.translation import gettext as _

from orchard.records.models import Block, Orchard, Spot, Tree, User
from orchard.science.codes import plain_code
from orchard.services import audit
from orchard.services.audit import Verb
from orchard.services.errors import Refused
from orchard.services.paging import NumberedPage, page_by_number
from orchard.services.trees.saving import changed

SHORT_CODE = re.compile(r"[^\W_](?:[\w.]*[^\W_])?")
RANGE = re.compile(r"(\d+)\s*(?:-|\u2013|to)\s*(\d+)")
MOST_SPOTS = 500
SPOTS_PAGE = 50


@dataclass(frozen=True, slots=True)
class BlockLine:
    """One block with what stands in it."""

    code: str
    name: str
    spots: int
    trees: int


@dataclass(frozen=True, slots=True)
class SpotLine:
    """One spot with the tree that stands in it."""

    spot: Spot
    tree: Tree | None


@dataclass(frozen=True, slots=True)
class SpotPlan:
    """How a spot shall be: its number, its turn on the walk, a path below."""

    spot_id: int
    number: str
    position: int
    over_path: bool


def blocks_of(orchard: Orchard) -> list[BlockLine]:
    """Return the blocks in walking order, each with its spots and standing trees."""
    standing = Q(spots__trees__isnull=False, spots__trees__removed_on=None)
    rows = (
        Block.objects.filter(orchard=orchard)
        .annotate(
            spot_count=Count("spots", distinct=True),
            tree_count=Count("spots__trees", filter=standing, distinct=True),
        )
        .order_by("position", "id")
    )
    return [
        BlockLine(row.code, row.name, row.spot_count, row.tree_count) for row in rows
    ]


def spots_of(block: Block, *, among: Collection[int] | None = None) -> list[SpotLine]:
    """Return a block's spots in walking order, each with its standing tree.

    Only those among some numbers of spots, where these are given.
    """
    spots = block.spots.order_by("position", "id")
    return _with_trees(spots if among is None else spots.filter(pk__in=among))


def spots_page(
    block: Block, *, page: int = 1, spot: int | None = None
) -> NumberedPage[SpotLine]:
    """Return a page of them; where a spot of the block is named, the page it is on."""
    spots = block.spots.order_by("position", "id")
    named = spots.filter(pk=spot).first() if spot is not None else None
    if named is not None:
        earlier = Q(position__lt=named.position)
        earlier |= Q(position=named.position, pk__lt=named.pk)
        page = spots.filter(earlier).count() // SPOTS_PAGE + 1
    found = page_by_number(spots, number=page, size=SPOTS_PAGE)
    return found.showing(_with_trees(found.rows))


def _with_trees(spots: Iterable[Spot]) -> list[SpotLine]:
    shown = list(spots)
    standing = Tree.objects.filter(spot__in=shown, removed_on=None)
    trees = {tree.spot_id: tree for tree in standing.select_related("kind")}
    return [SpotLine(spot, trees.get(spot.pk)) for spot in shown]


def all_spots(orchard: Orchard) -> QuerySet[Spot]:
    """Return every spot of an orchard with its block, in walking order."""
    return (
        Spot.objects.filter(block__orchard=orchard)
        .select_related("block")
        .order_by("block__position", "block_id", "position", "id")
    )


def free_spots(orchard: Orchard, *, at_most: int | None = None) -> list[Spot]:
    """Return the spots without a standing tree, or the first of them as walked."""
    taken = Tree.objects.filter(orchard=orchard, removed_on=None).values("spot_id")
    return list(all_spots(orchard).exclude(pk__in=taken)[:at_most])


def spot_named(orchard: Orchard, text: str) -> Spot | None:
    """Return the spot that somebody wrote as block and number, such as A-12."""
    block, _dash, number = plain_code(text).partition("-")
    spots = all_spots(orchard).filter(
        block__code__iexact=block.strip(), number__iexact=number.strip()
    )
    return spots.first()


def short_code_in(text: str, *, refusal: str, field: str) -> str:
    """Return a block's code or spot's number in its plain spelling.

    Refuse what cannot be part of an address.
    """
    code = plain_code(text)
    if not SHORT_CODE.fullmatch(code) or len(code) > 12:
        raise Refused(
            _(
                "“%(code)s” isn't a valid code. Use up to 12 letters and digits, "
                "without space, dash or slash."
            )
            % {"code": code},
            code=refusal,
            field=field,
        )
    return code


@transaction.atomic
def add_block(
    orchard: Orchard, *, by: User, now: datetime, code: str, name: str
) -> Block:
    """Add a block at the end of the walk.

    Raises:
        Refused (bad_block): the code is in use or cannot be part of an address.
    """
    code = short_code_in(code, refusal="bad_block", field="code")
    _refuse_taken_block(orchard, code)
    last = orchard.blocks.aggregate(last=Max("position"))["last"]
    block = Block(
        orchard=orchard,
        code=code,
        name=name.strip() or _("Block %(code)s") % {"code": code},
        position=0 if last is None else last + 1,
    )
    fields = ("code", "name", "position")
    return audit.save(Verb.ADD, block, by=by, now=now, fields=fields)


@transaction.atomic
def correct_block(
    block: Block, *, by: User, now: datetime, code: str, name: str, position: int
) -> Block:
    """Rename a block or give it another turn on the walk; trees stay as they are."""
    code = short_code_in(code, refusal="bad_block", field="code")
    if code.lower() != block.code.lower():
        _refuse_taken_block(block.orchard, code)
    if not name.strip():
        raise Refused(_("Give the block a name."), code="bad_block", field="name")
    before, after = changed(
        block, {"code": code, "name": name.strip(), "position": position}
    )
    if after:
        audit.save(Verb.CORRECT, block, by=by, now=now, before=before, after=after)
    return block


def _refuse_taken_block(orchard: Orchard, code: str) -> None:
    if orchard.blocks.filter(code__iexact=code).exists():
        raise Refused(
            _("There is a block %(code)s already. Choose another code.")
            % {"code": code},
            code="bad_block",
            field="code",
        )


@transaction.atomic
def add_spots(
    block: Block,
    *,
    by: User,
    now: datetime,
    numbers: str,
    over_path: Collection[str] = (),
) -> list[Spot]:
    """Add the spots of a list such as "1-12, 14, 15a" at the end of a block.

    All or none; those named in `over_path` reach over a path.

    Raises:
        Refused (bad_spot): a number is in use or cannot be part of an address.
    """
    here = list(block.spots.values_list("number", "position"))
    taken = {number.lower() for number, _position in here}
    following = count(max((position for _number, position in here), default=-1) + 1)
    spots = []
    for written in numbers_in(numbers):
        number = short_code_in(written, refusal="bad_spot", field="number")
        if number.lower() in taken:
            raise Refused(
                _("Spot %(number)s is in this block already.") % {"number": number},
                code="bad_spot",
                field="number",
            )
        taken.add(number.lower())
        spots.append(
            Spot(
                block=block,
                number=number,
                over_path=number in over_path,
                position=next(following),
            )
        )
    fields = ("block_id", "number", "position", "over_path")
    audit.save_all(Verb.ADD, spots, by=by, now=now, fields=fields)
    return spots


def numbers_in(text: str) -> list[str]:
    """Return the single numbers of a list with ranges; refuse nonsense."""
    numbers: list[str] = []
    for piece in (piece.strip() for piece in text.split(",")):
        span = RANGE.fullmatch(piece)
        if span:
            first, last = int(span[1]), int(span[2])
            if last < first or last - first >= MOST_SPOTS:
                raise Refused(
                    _("“%(piece)s” isn't a range of up to 500 spots. Write it as 1-12.")
                    % {"piece": piece},
                    code="bad_spot",
                    field="numbers",
                )
            numbers += [str(number) for number in range(first, last + 1)]
        elif piece:
            numbers.append(short_code_in(piece, refusal="bad_spot", field="numbers"))
    if not numbers or len(numbers) > MOST_SPOTS:
        raise Refused(
            _("Write 1 to 500 spots, such as 1-12 or 1, 2, 2a."),
            code="bad_spot",
            field="numbers",
        )
    return numbers


@transaction.atomic
def arrange_spots(
    block: Block, *, by: User, now: datetime, plans: list[SpotPlan]
) -> int:
    """Rename and reorder a block's spots as planned; return how many changed.

    Raises:
        Refused (bad_spot): a number stands twice or cannot be part of an address.
    """
    spots = {spot.pk: spot for spot in block.spots.all()}
    wanted = {pk: spot.number for pk, spot in spots.items()}
    for plan in plans:
        if plan.spot_id in wanted:
            wanted[plan.spot_id] = short_code_in(
                plan.number, refusal="bad_spot", field="number"
            )
    seen: set[str] = set()
    for number in wanted.values():
        if number.lower() in seen:
            raise Refused(
                _("Spot %(number)s would be in this block twice.") % {"number": number},
                code="bad_spot",
            )
        seen.add(number.lower())
    renamed = [plan for plan in plans if plan.spot_id in spots]
    moving = [
        spots[plan.spot_id]
        for plan in renamed
        if spots[plan.spot_id].number != wanted[plan.spot_id]
    ]
    before_all = {pk: _as_planned(spot) for pk, spot in spots.items()}
    # Two spots may swap numbers, and a number may be only once at any moment.
    for spot in moving:
        Spot.objects.filter(pk=spot.pk).update(number=f"~{spot.pk}"[:12])
    count = 0
    for plan in renamed:
        spot = spots[plan.spot_id]
        spot.number = wanted[plan.spot_id]
        spot.position = plan.position
        spot.over_path = plan.over_path
        old, new = before_all[spot.pk], _as_planned(spot)
        if old == new:
            continue
        audit.save(
            Verb.CORRECT,
            spot,
            by=by,
            now=now,
            before={name: old[name] for name in new if old[name] != new[name]},
            after={name: new[name] for name in new if old[name] != new[name]},
        )
        count += 1
    return count


def _as_planned(spot: Spot) -> dict[str, object]:
    return audit.snapshot(spot, "number", "position", "over_path")
