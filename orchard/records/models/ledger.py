"""The ledger: who changed what, when, from what to what. And the house rules."""

from __future__ import annotations

from datetime import date
from typing import Any

from django.db import models
from django.db.models import Q

from orchard.records.columns import only


class ChangeQuerySet(models.QuerySet["Change"]):
    def in_orchard(self, orchard: Any) -> ChangeQuerySet:
        return self.filter(orchard=orchard)

    def not_private(self) -> ChangeQuerySet:
        return self.filter(private=False)

    def by_person(self, user_id: int) -> ChangeQuerySet:
        return self.filter(by_id=user_id)

    def about(self, *subject_types: str) -> ChangeQuerySet:
        return self.filter(subject_type__in=subject_types)

    def on_tree(self, tree: Any) -> ChangeQuerySet:
        return self.filter(tree=tree)


class Change(models.Model):
    """One line of the ledger. Added by `services.audit`, never altered."""

    orchard = models.ForeignKey(
        "Orchard",
        on_delete=models.PROTECT,
        null=True,
        related_name="+",
        db_index=False,
    )
    tree = models.ForeignKey(
        "Tree", on_delete=models.PROTECT, null=True, related_name="+", db_index=False
    )
    at = models.DateTimeField()
    by = models.ForeignKey(
        "User", on_delete=models.PROTECT, null=True, related_name="+"
    )
    by_name = models.CharField(max_length=120)
    verb = models.CharField(max_length=40)
    subject_type = models.CharField(max_length=40)
    subject_id = models.BigIntegerField()
    subject_label = models.CharField(max_length=200)
    before = models.JSONField(null=True)
    after = models.JSONField(null=True)
    reason = models.CharField(max_length=500, blank=True)
    private = models.BooleanField(default=False)

    objects = ChangeQuerySet.as_manager()

    class Meta:
        indexes = [
            models.Index(fields=["orchard", "-id"]),
            models.Index(fields=["subject_type", "subject_id", "-id"]),
            models.Index(fields=["tree", "-id"]),
            models.Index(fields=["orchard", "by", "-id"], name="change_by_person"),
        ]

    def __str__(self) -> str:
        return f"{self.at:%Y-%m-%d %H:%M} {self.verb} {self.subject_label}"


class Receipt(models.Model):
    """One entry of a phone's outbox that was taken in, and what became of it.

    Written in the transaction of its effect: either both are there or neither.
    """

    key = models.UUIDField(unique=True)
    body_hash = models.CharField(max_length=64)
    orchard = models.ForeignKey("Orchard", on_delete=models.PROTECT, related_name="+")
    by = models.ForeignKey("User", on_delete=models.PROTECT, related_name="+")
    kind = models.CharField(max_length=16)
    subject_id = models.BigIntegerField()
    made_at = models.DateTimeField()
    received_at = models.DateTimeField()
    offset_seconds = models.IntegerField(default=0)

    class Meta:
        constraints = [only("kind", ("inspection", "photo"))]
        indexes = [models.Index(fields=["by", "received_at"])]

    def __str__(self) -> str:
        return f"receipt {self.key}"


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
