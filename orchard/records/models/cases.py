"""Cases: a suspected regulated pest, from first sighting to the answer."""

from __future__ import annotations

from typing import Any, Self

from django.db import models
from django.db.models import Q


class CaseQuerySet(models.QuerySet["Case"]):
    def in_orchard(self, orchard: Any) -> Self:
        return self.filter(orchard=orchard)

    def open(self) -> Self:
        return self.filter(closed_at=None)


class Case(models.Model):
    """A suspicion that is kept private; while it is open nothing leaves the tree."""

    orchard = models.ForeignKey(
        "Orchard", on_delete=models.PROTECT, related_name="cases"
    )
    tree = models.ForeignKey("Tree", on_delete=models.PROTECT, related_name="cases")
    sign = models.CharField(max_length=40)
    finding = models.ForeignKey(
        "Finding", on_delete=models.PROTECT, related_name="cases"
    )
    opened_at = models.DateTimeField()
    opened_by = models.ForeignKey("User", on_delete=models.PROTECT, related_name="+")
    closed_at = models.DateTimeField(null=True, blank=True)
    closed_by = models.ForeignKey(
        "User", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    outcome = models.CharField(max_length=500, blank=True)

    objects = CaseQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["tree", "sign"],
                condition=Q(closed_at=None),
                name="case_one_open_per_tree_and_sign",
            ),
            models.CheckConstraint(
                condition=Q(closed_at=None, closed_by=None, outcome="")
                | Q(closed_at__isnull=False, closed_by__isnull=False) & ~Q(outcome=""),
                name="case_close_whole",
            ),
        ]

    def __str__(self) -> str:
        return f"case {self.pk} on tree {self.tree_id}"


class CaseCall(models.Model):
    """A call about a case: who called whom when, and what was said; never altered."""

    case = models.ForeignKey(Case, on_delete=models.PROTECT, related_name="calls")
    caller = models.CharField(max_length=120)
    called = models.CharField(max_length=160)
    called_at = models.DateTimeField()
    summary = models.CharField(max_length=1000)
    by = models.ForeignKey("User", on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField()

    class Meta:
        indexes = [models.Index(fields=["case", "called_at", "id"])]

    def __str__(self) -> str:
        return f"call {self.pk} about case {self.case_id}"
