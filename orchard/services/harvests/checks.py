"""What keeps a pick from the book, a tree from being picked, a lot from being given."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from orchard.records.models import Harvest, Orchard, Tree
from orchard.science.figures import limits
from orchard.science.words import HoldKind, Picked, WorkKind
from orchard.services import corrections
from orchard.services.errors import Refused
from orchard.services.harvests.shapes import ASKED, FoodCheck, Pick
from orchard.services.harvests.since_picked import LaterHold, held_since
from orchard.services.holds import TreeHold, after_treatments, harvest_words, holds_of
from orchard.services.quantities import number_text, quantity

UNDER_HOLD, FROM_CASE, RECALLED = "picked_under_hold", "open_case", "recalled"
# Frost spoils fruit; leaves and flowers are looked at when they are picked.
OF_FRUIT_ALONE = frozenset(
    {
        HoldKind.SEVERE_FROST,
        HoldKind.CUT_TEST_OPEN,
        HoldKind.CUT_TEST_FAILED,
        HoldKind.CUT_TEST_UNDONE,
    }
)


@dataclass(frozen=True, slots=True)
class PickHold:
    """A hold that forbids picking a part of a tree, in the words it is shown in."""

    tree: Tree
    kind: HoldKind
    text: str

    @property
    def code(self) -> str:
        return FROM_CASE if self.kind is HoldKind.OPEN_CASE else UNDER_HOLD


def check_possible(pick: Pick, orchard: Orchard, *, now: datetime) -> None:
    """Refuse a pick that cannot have been.

    Raises:
        Refused (no_tree): no tree is named. wrong_day: in the future, or a tree was not
            here. nothing_picked: a tree gave neither weight nor number. out_of_range:
            nothing or less of it, more than a tree bears, or fruit of an absurd weight.
    """
    if not pick.trees:
        raise Refused(
            _("Name the trees: their codes, or the code of a block."),
            code="no_tree",
            field="trees",
        )
    zone = ZoneInfo(orchard.time_zone)
    if pick.picked_at > now:
        raise Refused(
            _("That is in the future. Enter when it was picked."),
            code="wrong_day",
            field="picked_at",
        )
    on = pick.picked_at.astimezone(zone).date()
    for each in pick.trees:
        corrections.check_day(
            each.tree, on, field="picked_at", today=now.astimezone(zone).date()
        )
        _check_amount(each.kg, each.count, each.tree)
    if pick.part is Picked.FRUIT:
        _check_weight_of_one(pick.kg, pick.count, orchard.units)


def _check_amount(kg: float | None, count: int | None, tree: Tree) -> None:
    if kg is None and count is None:
        raise Refused(
            _("Enter the weight, the number, or both."),
            code="nothing_picked",
            field="amount",
        )
    least, most = limits("harvest_kg")
    if kg is not None and not least <= kg <= most:
        units = tree.orchard.units
        words = {
            "code": tree.code,
            "kg": quantity(kg, "kg", units),
            "most": quantity(most, "kg", units),
        }
        text = (
            _("%(kg)s can't be right. Enter a weight above nothing.")
            if kg < least
            else _(
                "%(kg)s from %(code)s can't be right: a tree gives %(most)s at most. "
                "Check the unit and the decimal point."
            )
        )
        raise Refused(text % words, code="out_of_range", field="amount")
    fewest, greatest = (round(limit) for limit in limits("harvest_count"))
    if count is not None and not fewest <= count <= greatest:
        raise Refused(
            _("%(count)d can't be right. Enter a number from %(least)d to %(most)d.")
            % {"count": count, "least": fewest, "most": greatest},
            code="out_of_range",
            field="count",
        )


def _check_weight_of_one(kg: float | None, count: int | None, units: str) -> None:
    """Refuse weight and number that make fruit lighter or heavier than any is."""
    if not kg or not count:
        return
    least, most = limits("fruit_grams")
    grams = kg * 1000 / count
    if not least <= grams <= most:
        words = {
            "count": number_text(count),
            "kg": quantity(kg, "kg", units),
            "grams": quantity(grams, "g", units),
        }
        raise Refused(
            _(
                "%(count)s fruit in %(kg)s would be %(grams)s each. Check the weight, "
                "its unit and the number."
            )
            % words,
            code="out_of_range",
            field="count",
        )


def holds_on(
    trees: Iterable[Tree], part: Picked, orchard: Orchard, *, at: datetime
) -> list[PickHold]:
    """List what forbids to pick a part of some trees at a moment, tree by tree."""
    zone = ZoneInfo(orchard.time_zone)
    chosen = {tree.pk: tree for tree in trees}
    on = at.astimezone(zone).date()
    found = holds_of(orchard, chosen, today=on, now=at, forbidding=WorkKind.PICKING)
    treated = after_treatments(orchard, frozenset(chosen), at, begun_by=at)
    rows = []
    for number, tree in chosen.items():
        for hold in found.get(number, ()):
            if _is_of(hold, part) and (hold.since is None or hold.since <= on):
                rows.append(PickHold(tree, hold.kind, hold.reason))
        after = treated.get(number)
        if after is None:
            continue
        opens = after.openings.part_opens(part)
        if after.is_locked(opens, at):
            words = harvest_words(part, opens, zone)
            rows.append(PickHold(tree, HoldKind.HARVEST, words))
    return rows


def _is_of(hold: TreeHold, part: Picked) -> bool:
    # What a treatment holds is asked for the very part.
    if hold.kind is HoldKind.HARVEST:
        return False
    return part is Picked.FRUIT or hold.kind not in OF_FRUIT_ALONE


def refuse_under_hold(holds: Iterable[PickHold]) -> None:
    """Refuse a pick while something forbids it, with what and until when.

    Raises:
        Refused (picked_under_hold): as its name says.
    """
    reasons: dict[str, dict[str, None]] = {}
    for hold in holds:
        reasons.setdefault(hold.tree.code, {})[hold.text] = None
    if not reasons:
        return
    alike: dict[str, list[str]] = {}
    for code, texts in reasons.items():
        alike.setdefault(" ".join(texts), []).append(code)
    listed = " ".join(f"{', '.join(codes)}: {text}" for text, codes in alike.items())
    raise Refused(
        _(
            "%(holds)s Leave it on the tree. If it was picked all the same, say below "
            "how it came about."
        )
        % {"holds": listed},
        code=UNDER_HOLD,
        field="trees",
    )


def why_kept_back(
    harvest: Harvest, *, later: Iterable[LaterHold] | None = None
) -> list[str]:
    """Say why nothing of a lot may be given away; an empty list where it may.

    `later` is what `held_since` found of it, where it was asked for many at once.
    """
    if later is None:
        later = held_since([harvest]).get(harvest.pk, ())
    reasons = [text for _code, text in harvest.breaches]
    reasons += [hold.text for hold in later]
    given = set(harvest.checks)
    if FoodCheck.GROUND in given:
        reasons.append(_("It was picked up from the ground: it is never given away."))
    if harvest.is_blocked and not reasons:
        reasons.append(_("It is kept back."))
    lacking = [asked for asked in ASKED if given.isdisjoint(asked)]
    if lacking:
        answers = "; ".join(
            " / ".join(str(check.label) for check in asked) for asked in lacking
        )
        text = ngettext(
            "A question is not answered with yes: %(answers)s.",
            "Some questions are not answered with yes: %(answers)s.",
            len(lacking),
        )
        reasons.append(text % {"answers": answers})
    return reasons


def picked_words(harvest: Harvest) -> str:
    """Write when a lot was picked, by the orchard's clock."""
    zone = ZoneInfo(harvest.orchard.time_zone)
    return str(date_format(harvest.picked_at.astimezone(zone), "j M Y, H:i"))
