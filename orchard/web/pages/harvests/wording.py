"""What a correction of a lot changed, in words."""

from __future__ import annotations

from collections.abc import Iterator

from django.utils.translation import gettext as _

from orchard.services import harvests
from orchard.services.harvests import FoodCheck, LotLine


def corrected_text(before: LotLine, after: LotLine) -> str:
    """Say what is different about a lot, and whether it may be given away now."""
    changes = " ".join(_changes(before, after))
    parts = [
        _("Lot %(lot)s corrected.") % {"lot": after.harvest.lot},
        changes or _("Nothing but the reason is new."),
    ]
    if after.is_kept_back:
        parts.append(_("Nothing of it is given away: see why below."))
    elif before.is_kept_back:
        parts.append(_("It may be given away now."))
    return " ".join(parts)


def _changes(before: LotLine, after: LotLine) -> Iterator[str]:
    old, new = before.harvest, after.harvest
    pairs = (
        (_("What"), old.get_part_display(), new.get_part_display()),
        (_("Trees"), before.codes, after.codes),
        (
            _("Amount"),
            harvests.amount_words(before.balance.picked, old),
            harvests.amount_words(after.balance.picked, new),
        ),
        (_("When"), harvests.picked_words(old), harvests.picked_words(new)),
        (_("How"), old.get_how_display(), new.get_how_display()),
        (_("Note"), old.note, new.note),
    )
    for name, was, now in pairs:
        if was != now:
            words = {"name": name, "was": was or "–", "now": now or "–"}
            yield _("%(name)s: %(was)s → %(now)s.") % words
    answers = (
        (_("Now yes: %(what)s."), set(new.checks) - set(old.checks)),
        (_("No longer yes: %(what)s."), set(old.checks) - set(new.checks)),
    )
    for text, codes in answers:
        if codes:
            labels = sorted(str(FoodCheck(code).label) for code in codes)
            yield text % {"what": "; ".join(labels)}
