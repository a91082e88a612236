"""What was noted outside a look at a tree: growth stages and events."""

from __future__ import annotations

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from orchard.records.columns import (
    Correctable,
    CorrectableQuerySet,
    correction_is_explained,
    only,
    withdrawal_is_whole,
)
from orchard.science.events import EventKind


class StageNote(Correctable):
    """A growth stage (BBCH) seen on a tree, or on all trees of a cultivar group."""

    orchard = models.ForeignKey("Orchard", on_delete=models.PROTECT, related_name="+")
    tree = models.ForeignKey(
        "Tree",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="stage_notes",
    )
    group = models.CharField(max_length=60, blank=True)
    bbch = models.PositiveSmallIntegerField(_("growth stage (BBCH)"))
    seen_on = models.DateField(_("seen on"))
    by = models.ForeignKey("User", on_delete=models.PROTECT, related_name="+")
    received_at = models.DateTimeField()

    objects = CorrectableQuerySet.as_manager()

    class Meta:
        constraints = [
            correction_is_explained(),
            withdrawal_is_whole(),
            models.CheckConstraint(
                condition=Q(bbch__lte=99), name="stagenote_bbch_two_digits"
            ),
            models.CheckConstraint(
                condition=Q(tree__isnull=False, group="") | Q(tree=None) & ~Q(group=""),
                name="stagenote_tree_or_group",
            ),
        ]
        indexes = [models.Index(fields=["orchard", "-seen_on", "-id"])]

    def __str__(self) -> str:
        return f"BBCH {self.bbch} on {self.seen_on}"


class Happening(Correctable):
    """An event of a tree or of the whole orchard that work may follow from."""

    orchard = models.ForeignKey("Orchard", on_delete=models.PROTECT, related_name="+")
    tree = models.ForeignKey(
        "Tree",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="happenings",
    )
    what = models.CharField(
        # Without the guide's figures: a new one is no change of a table.
        max_length=16,
        choices=[(kind.value, kind.traits.label) for kind in EventKind],
    )
    happened_on = models.DateField(_("on"))
    note = models.CharField(_("note"), max_length=500, blank=True)
    by = models.ForeignKey("User", on_delete=models.PROTECT, related_name="+")
    received_at = models.DateTimeField()

    objects = CorrectableQuerySet.as_manager()

    class Meta:
        constraints = [
            correction_is_explained(),
            withdrawal_is_whole(),
            only("what", EventKind),
        ]
        indexes = [
            models.Index(fields=["tree", "-happened_on", "-id"]),
            models.Index(fields=["orchard", "what", "-happened_on"]),
        ]

    def __str__(self) -> str:
        return f"{self.what} on {self.happened_on}"

    @property
    def event(self) -> EventKind:
        return EventKind(self.what)
