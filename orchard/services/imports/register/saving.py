"""Taking a register in: all of it, or nothing."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from django.db.models import Max
from django.utils.translation import gettext as _

from orchard.records.models import Block, Kind, Orchard, Spot, Stay, Tree, User
from orchard.services import audit
from orchard.services.audit import Verb
from orchard.services.imports.register.checking import preview
from orchard.services.imports.register.plans import TreePlan
from orchard.services.imports.register.shapes import (
    RegisterChoices,
    RegisterFate,
    RegisterPreview,
)
from orchard.services.imports.sheets import (
    BATCH,
    Sheet,
    require_complete,
    whole_or_nothing,
)
from orchard.services.trees import add_block, add_kind, columns


@dataclass(frozen=True, slots=True)
class ImportedTrees:
    """What a register brought."""

    trees: int
    here: int
    blocks: int
    spots: int
    kinds: int


def import_trees(
    orchard: Orchard,
    sheet: Sheet,
    *,
    by: User,
    now: datetime,
    today: date,
    choices: RegisterChoices | None = None,
) -> ImportedTrees:
    """Enter all new trees of a register, with the blocks, spots and kinds ticked.

    A file taken in again changes nothing: its trees are here already.

    Raises:
        Refused (not_imported): a row is refused; the whole file is left alone.
    """
    choices = choices or RegisterChoices()
    overtaken = _(
        "Somebody changed the orchard's trees in the meantime. Nothing was imported. "
        "Check the file again."
    )
    with whole_or_nothing(orchard, overtaken=overtaken):
        looked = preview(orchard, sheet, today=today, choices=choices)
        require_complete(
            looked,
            refusal=_(
                "%(count)d of %(all)d rows can't be imported, so nothing was. Correct "
                "them and check again."
            ),
        )
        return _taken(orchard, looked, choices, by=by, now=now, name=sheet.name)


def _taken(
    orchard: Orchard,
    looked: RegisterPreview,
    choices: RegisterChoices,
    *,
    by: User,
    now: datetime,
    name: str,
) -> ImportedTrees:
    plans = [
        row.plan for row in looked.rows if row.fate is RegisterFate.NEW and row.plan
    ]
    kinds = _kinds(orchard, plans, choices, by=by, now=now)
    blocks, new_blocks = _blocks(orchard, plans, by=by, now=now)
    spots, new_spots = _spots(orchard, plans, blocks, by=by, now=now)
    rows = [
        Tree(
            orchard=orchard,
            kind_id=plan.kind_id or kinds[plan.kind.casefold()].pk,
            spot_id=plan.spot_id or spots[_place(plan)].pk,
            entered_at=now,
            **plan.details(),
        )
        for plan in plans
    ]
    for tree in rows:
        tree.clean_fields(exclude=("orchard", "kind", "spot", "replaces"))
    Tree.objects.bulk_create(rows, batch_size=BATCH)
    Stay.objects.bulk_create(
        (
            Stay(tree=tree, spot_id=tree.spot_id, since_on=tree.planted_on)
            for tree in rows
        ),
        batch_size=BATCH,
    )
    audit.write_many(
        Verb.TAKE_IN,
        ((tree, tree, audit.snapshot(tree, "spot_id", *columns())) for tree in rows),
        by=by,
        now=now,
        orchard=orchard,
        reason=_("register “%(name)s”") % {"name": name},
    )
    return ImportedTrees(
        trees=len(rows),
        here=looked.here,
        blocks=new_blocks,
        spots=new_spots,
        kinds=len({kind.pk for kind in kinds.values()}),
    )


def _place(plan: TreePlan) -> tuple[str, str]:
    return plan.place[0].lower(), plan.place[1].lower()


def _kinds(
    orchard: Orchard,
    plans: list[TreePlan],
    choices: RegisterChoices,
    *,
    by: User,
    now: datetime,
) -> dict[str, Kind]:
    hosts = {name.casefold(): host for name, host in choices.new_kinds}
    wanted = {plan.kind.casefold(): plan.kind for plan in plans if plan.kind_id is None}
    return {
        key: add_kind(orchard, by=by, now=now, name=name, host=hosts[key])
        for key, name in wanted.items()
    }


def _blocks(
    orchard: Orchard, plans: list[TreePlan], *, by: User, now: datetime
) -> tuple[dict[str, Block], int]:
    blocks = {block.code.lower(): block for block in orchard.blocks.all()}
    count = 0
    for plan in plans:
        code = plan.place[0]
        if code.lower() not in blocks:
            blocks[code.lower()] = add_block(
                orchard, by=by, now=now, code=code, name=""
            )
            count += 1
    return blocks, count


def _spots(
    orchard: Orchard,
    plans: list[TreePlan],
    blocks: dict[str, Block],
    *,
    by: User,
    now: datetime,
) -> tuple[dict[tuple[str, str], Spot], int]:
    last = {
        row["block_id"]: row["last"]
        for row in Spot.objects.filter(block__orchard=orchard)
        .values("block_id")
        .annotate(last=Max("position"))
    }
    spots: dict[tuple[str, str], Spot] = {}
    for plan in plans:
        if plan.spot_id is not None:
            continue
        block = blocks[plan.place[0].lower()]
        last[block.pk] = last.get(block.pk, -1) + 1
        spot = Spot(block=block, number=plan.place[1], position=last[block.pk])
        spot.clean_fields(exclude=("block",))
        spots[_place(plan)] = spot
    Spot.objects.bulk_create(spots.values(), batch_size=BATCH)
    audit.write_many(
        Verb.ADD,
        (
            (spot, None, audit.snapshot(spot, "block_id", "number", "position"))
            for spot in spots.values()
        ),
        by=by,
        now=now,
        orchard=orchard,
    )
    return spots, len(spots)
