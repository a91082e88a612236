"""Planting a tree and correcting what is written about it."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

from django.db import transaction
from django.db.models import Min
from django.utils.translation import gettext as _

from orchard.records.models import Inspection, Kind, Orchard, Spot, Stay, Tree, User
from orchard.science.figures import days, figure, limits
from orchard.science.windows import season_month
from orchard.services import audit
from orchard.services.audit import Verb
from orchard.services.errors import Refused
from orchard.services.partial_days import when_planted, write_when
from orchard.services.quantities import quantity
from orchard.services.trees.codes import fresh_code
from orchard.services.trees.kinds import rootstock_named
from orchard.services.trees.saving import changed, past_day, reason_in

DETAILS = (
    "code",
    "kind",
    "believed",
    "label_name",
    "rootstock",
    "own_roots",
    "setting",
    "container_litres",
    "born_on",
    "born_precision",
    "planted_on",
    "planted_precision",
    "irrigated",
    "staked",
    "on_display",
    "note",
)


@transaction.atomic
def plant(
    orchard: Orchard,
    *,
    by: User,
    now: datetime,
    today: date,
    spot: Spot,
    code: str,
    kind: Kind,
    replaces: Tree | None = None,
    despite: str = "",
    **details: Any,
) -> Tree:
    """Enter a tree in a free spot, with its first stay there.

    `details` are fields of DETAILS. Nothing of a tree it replaces is taken over.
    `despite` says why it is planted on a root that does not suit it; the ledger names
    who said so.

    Raises:
        Refused (code_taken): the code is or was in use; codes are never used twice.
        Refused (spot_taken): a tree stands in the spot.
        Refused (bad_date): a date lies in the future or in the wrong order.
        Refused (does_not_fit): rootstock with own roots, litres without a container.
        Refused (poor_match): the root does not suit the cultivar, and nobody says why.
    """
    unknown = set(details) - set(DETAILS)
    if unknown:
        raise TypeError(f"plant() knows no {', '.join(sorted(unknown))}")
    refuse_strangers(orchard, spot=spot, kind=kind)
    tree = Tree(
        orchard=orchard,
        spot=spot,
        kind=kind,
        code=fresh_code(orchard, code),
        replaces=replaces,
        entered_at=now,
        **details,
    )
    tree.planted_on = first_possible(tree)
    refuse_occupied(spot)
    refuse_misfits(tree)
    refuse_poor_match(tree, despite=despite)
    refuse_days(tree, today=today)
    fields = ("spot_id", "replaces_id", *columns())
    why = despite.strip() if poor_match(kind.guide_key, tree.rootstock) else ""
    audit.save(Verb.PLANT, tree, by=by, now=now, fields=fields, reason=why)
    Stay.objects.create(tree=tree, spot=spot, since_on=tree.planted_on)
    return tree


@transaction.atomic
def correct(
    tree: Tree,
    *,
    by: User,
    now: datetime,
    today: date,
    reason: str,
    despite: str = "",
    **changes: Any,
) -> Tree:
    """Correct what is written about a tree; the ledger keeps both versions.

    `despite` says why a root is right that does not suit the cultivar.

    Raises:
        Refused (reason_missing): no reason was given.
        Refused (code_taken), bad_date, does_not_fit: as for `plant`; a tree cannot be
            planted
            after somebody looked at it, nor after it died.
        Refused (poor_match): as for `plant`.
    """
    unknown = set(changes) - set(DETAILS)
    if unknown:
        raise TypeError(f"correct() knows no {', '.join(sorted(unknown))}")
    reason = reason_in(reason)
    code = changes.get("code", tree.code).strip()
    if code.lower() != tree.code.lower():
        changes["code"] = fresh_code(tree.orchard, code)
    elif "code" in changes:
        changes["code"] = code
    if "kind" in changes:
        refuse_strangers(tree.orchard, spot=tree.spot, kind=changes["kind"])
    before, after = changed(tree, changes)
    first, again = changed(tree, {"planted_on": first_possible(tree)})
    before, after = first | before, after | again
    after = {name: new for name, new in after.items() if new != before[name]}
    before = {name: before[name] for name in after}
    before, after = _with_precision(tree, before, after)
    if not after:
        return tree
    refuse_misfits(tree)
    if {"kind_id", "kind", "rootstock"} & set(after):
        refuse_poor_match(tree, despite=despite)
        if despite.strip() and poor_match(tree.kind.guide_key, tree.rootstock):
            reason = f"{reason} {despite.strip()}"
    if {"planted_on", "born_on"} & set(after):
        refuse_days(tree, today=today)
        refuse_planting_after_life(tree)
    audit.save(
        Verb.CORRECT,
        tree,
        by=by,
        now=now,
        before=before,
        after=after,
        reason=reason,
    )
    if "planted_on" in after:
        _set_first_stay(tree)
    return tree


def columns() -> list[str]:
    """Return the stored names of a tree's details."""
    return ["kind_id" if name == "kind" else name for name in DETAILS]


def refuse_strangers(orchard: Orchard, *, spot: Spot, kind: Kind) -> None:
    """Refuse a spot or kind of another orchard."""
    if spot.block.orchard_id != orchard.pk:
        raise Refused(
            _("This spot belongs to another orchard. Choose one from the list."),
            code="wrong_orchard",
            field="spot",
        )
    if kind.orchard_id != orchard.pk:
        raise Refused(
            _("This cultivar belongs to another orchard. Choose one from the list."),
            code="wrong_orchard",
            field="kind",
        )


def refuse_occupied(spot: Spot, *, but: Tree | None = None) -> None:
    """Refuse a spot in which a tree stands."""
    standing = Tree.objects.filter(spot=spot, removed_on=None).select_related("kind")
    tree = standing.first()
    if tree is not None and tree != but:
        raise Refused(
            _(
                "Spot %(spot)s already has %(code)s (%(kind)s). Move or remove that "
                "tree "
                "first, or choose another spot."
            )
            % {"spot": spot, "code": tree.code, "kind": tree.kind},
            code="spot_taken",
            field="spot",
        )


def refuse_misfits(tree: Tree) -> None:
    """Refuse what cannot be true together of one tree."""
    if tree.own_roots and tree.rootstock:
        raise Refused(
            _(
                "A tree on its own roots has no rootstock. Empty the rootstock, or "
                "take away the tick."
            ),
            code="does_not_fit",
            field="rootstock",
        )
    if tree.container_litres is None:
        return
    if tree.setting != Tree.Setting.CONTAINER:
        raise Refused(
            _("Only a container has a size. This one is in the ground."),
            code="does_not_fit",
            field="container_litres",
        )
    least, most = limits("container_litres")
    if not least < tree.container_litres <= most:
        raise Refused(
            _("Enter a container size above 0 and up to %(most)s.")
            % {"most": quantity(most, "L", tree.orchard.units)},
            code="does_not_fit",
            field="container_litres",
        )


def poor_match(cultivar: str, rootstock: str) -> str:
    """Say what trouble a cultivar is known to have on a root, else ""."""
    root = rootstock_named(rootstock)
    if root is None or root.suits(cultivar):
        return ""
    return _(
        "%(kind)s doesn't suit %(root)s: the graft union fails in the long run."
    ) % {
        "kind": cultivar,
        "root": root.name,
    }


def refuse_poor_match(tree: Tree, *, despite: str) -> None:
    """Refuse a root that does not suit the cultivar, unless somebody says why."""
    trouble = poor_match(tree.kind.guide_key, tree.rootstock)
    if trouble and not despite.strip():
        raise Refused(
            _(
                "%(trouble)s Choose another rootstock, or say why you plant it all the "
                "same. Your name is recorded with it."
            )
            % {"trouble": trouble},
            code="poor_match",
            field="despite",
        )


def late_planting(tree: Tree, *, today: date) -> str:
    """Warn of a tree planted lately in the ground too late in the season, else ""."""
    planted = tree.planted_on
    if tree.planted_precision != Tree.Precision.DAY:
        return ""
    if planted is None or tree.setting != Tree.Setting.GROUND:
        return ""
    if today - planted > days("planted_lately_days"):
        return ""
    month = season_month(planted, float(tree.orchard.latitude))
    if month <= figure("last_planting_month").value:
        return ""
    return _(
        "It was planted late in the season and grows few roots before the cold. Watch "
        "its water, and cover it first."
    )


def _with_precision(
    tree: Tree, before: dict[str, Any], after: dict[str, Any]
) -> tuple[dict[str, Any], dict[str, Any]]:
    """Let the ledger tell a day and how exactly it is known together."""
    for what in ("born", "planted"):
        pair = f"{what}_on", f"{what}_precision"
        if set(pair) & set(after):
            now = audit.snapshot(tree, *pair)
            before, after = now | before, now | after
    return before, after


def first_possible(tree: Tree) -> date | None:
    """Return the first day on which a tree can have been planted.

    Of a year alone that is its first day, or the day of grafting within it.
    """
    planted, born = tree.planted_on, tree.born_on
    if planted is None or tree.planted_precision == Tree.Precision.DAY:
        return planted
    first = date(planted.year, 1, 1)
    return max(first, born) if born and born.year == planted.year else first


def refuse_days(tree: Tree, *, today: date) -> None:
    """Refuse planting or grafting in the future, or in the wrong order."""
    for field in ("planted_on", "born_on"):
        day = getattr(tree, field)
        if day is not None:
            past_day(day, today=today, field=field)
    if tree.born_on and tree.planted_on and tree.planted_on < tree.born_on:
        raise Refused(
            _("A tree is grafted or sown before it is planted. Check both dates."),
            code="bad_date",
            field="planted_on",
        )


def refuse_planting_after_life(tree: Tree) -> None:
    """Refuse a planting day after the tree was looked at, moved, died or removed."""
    planted = tree.planted_on
    if planted is None:
        return
    seen = Inspection.objects.filter(tree=tree, withdrawn_at=None)
    first_seen = seen.aggregate(first=Min("seen_on"))["first"]
    moved = tree.stays.filter(ended=True).aggregate(first=Min("until_on"))["first"]
    events = [
        (first_seen, _("it was first looked at")),
        (moved, _("it was moved")),
        (tree.scion_died_on, _("its top died")),
        (tree.died_on, _("it died")),
        (tree.removed_on, _("it was removed")),
    ]
    for day, what in events:
        if day is not None and planted > day:
            raise Refused(
                _(
                    "The tree can't be planted %(planted)s: %(what)s %(when)s. "
                    "Check the date."
                )
                % {
                    "planted": when_planted(tree),
                    "what": what,
                    "when": write_when(day),
                },
                code="bad_date",
                field="planted_on",
            )


def _set_first_stay(tree: Tree) -> None:
    """Let the first stay begin on the corrected day of planting."""
    first = tree.stays.order_by("id").first()
    if first is not None:
        first.since_on = tree.planted_on
        audit.save_row(first)
