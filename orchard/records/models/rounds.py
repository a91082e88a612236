"""Rounds: the trees handed out for one walk, in walking order."""

from __future__ import annotations

from typing import Any, Self

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _


class RoundQuerySet(models.QuerySet["Round"]):
    def in_orchard(self, orchard: Any) -> Self:
        return self.filter(orchard=orchard)

    def open(self) -> Self:
        return self.filter(closed_at=None)


class Round(models.Model):
    """A list of trees to check on one visit, in walking order."""

    orchard = models.ForeignKey(
        "Orchard", on_delete=models.PROTECT, related_name="rounds"
    )
    name = models.CharField(_("name"), max_length=80)
    walk_on = models.DateField(_("day"))
    made_by = models.ForeignKey("User", on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField()
    taken_by = models.ForeignKey(
        "User", on_delete=models.PROTECT, null=True, blank=True, related_name="rounds"
    )
    taken_at = models.DateTimeField(null=True, blank=True)
    closed_at = models.DateTimeField(null=True, blank=True)
    closed_by = models.ForeignKey(
        "User", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )

    objects = RoundQuerySet.as_manager()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(taken_at=None, taken_by=None)
                | Q(taken_at__isnull=False, taken_by__isnull=False),
                name="round_taken_whole",
            ),
            models.CheckConstraint(
                condition=Q(closed_at=None, closed_by=None)
                | Q(closed_at__isnull=False, closed_by__isnull=False),
                name="round_closed_whole",
            ),
        ]
        indexes = [
            models.Index(
                fields=["orchard", "walk_on", "id"],
                condition=Q(closed_at=None),
                name="round_open",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.name} on {self.walk_on}"


class RoundStop(models.Model):
    """One tree of a round, at its place in the walk."""

    round = models.ForeignKey(Round, on_delete=models.PROTECT, related_name="stops")
    tree = models.ForeignKey("Tree", on_delete=models.PROTECT, related_name="+")
    position = models.PositiveIntegerField()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["round", "tree"], name="roundstop_tree_once_per_round"
            ),
            models.UniqueConstraint(
                fields=["round", "position"], name="roundstop_position_once_per_round"
            ),
        ]

    def __str__(self) -> str:
        return f"stop {self.position} of round {self.round_id}"
