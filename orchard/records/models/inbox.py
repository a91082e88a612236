"""What phones sent, and that it was taken in."""

from __future__ import annotations

from django.db import models

from orchard.records.columns import only


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
    # What the phone is told, also when it asks again because the answer was lost.
    notices = models.JSONField(default=list)

    class Meta:
        constraints = [
            only(
                "kind",
                (
                    "inspection",
                    "photo",
                    "closure",
                    "taking",
                    "event",
                    "stage",
                    "ripeness_test",
                    "watering",
                    "withdrawal",
                    "second_look",
                    "treatment",
                    "wet_spell",
                    "harvest",
                    "harvest_share",
                    "dry_check",
                    "product",
                    "practice",
                ),
            )
        ]
        indexes = [models.Index(fields=["by", "received_at"])]

    def __str__(self) -> str:
        return f"receipt {self.key}"
