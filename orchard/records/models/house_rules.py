"""House rules: what an orchard does otherwise than the guide says."""

from __future__ import annotations

from datetime import date
from typing import Any

from django.db import models
from django.db.models import Q


class HouseRuleQuerySet(models.QuerySet["HouseRule"]):
    def holding(self, orchard: Any, on: date) -> HouseRuleQuerySet:
        """Only the rules in force in an orchard on a day."""
        return self.filter(orchard=orchard, starts_on__lte=on).filter(
            Q(lifted_on=None) | Q(lifted_on__gt=on)
        )


class HouseRule(models.Model):
    """An orchard's own change to the rules of one sign, signed and dated."""

    orchard = models.ForeignKey(
        "Orchard", on_delete=models.PROTECT, related_name="house_rules"
    )
    sign = models.CharField(max_length=40)
    # The whole rule list that takes the place of the guide's, in the guide's form.
    rules = models.JSONField()
    reason = models.CharField(max_length=500)
    starts_on = models.DateField()
    author = models.ForeignKey("User", on_delete=models.PROTECT, related_name="+")
    written_at = models.DateTimeField()
    lifted_on = models.DateField(null=True, blank=True)
    lifted_by = models.ForeignKey(
        "User", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    lifted_reason = models.CharField(max_length=500, blank=True)

    objects = HouseRuleQuerySet.as_manager()

    class Meta:
        constraints = [
            models.CheckConstraint(condition=~Q(reason=""), name="houserule_says_why"),
            models.CheckConstraint(
                condition=Q(lifted_on=None, lifted_by=None, lifted_reason="")
                | Q(lifted_on__gte=models.F("starts_on"), lifted_by__isnull=False)
                & ~Q(lifted_reason=""),
                name="houserule_lift_whole",
            ),
            models.UniqueConstraint(
                fields=["orchard", "sign"],
                condition=Q(lifted_on=None),
                name="houserule_one_per_sign",
            ),
        ]

    def __str__(self) -> str:
        return f"house rule {self.pk} for {self.sign}"
