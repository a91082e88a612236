"""The ledger: who changed what, when, from what to what."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.db import models
from django.db.models import Exists, OuterRef, Q

from orchard.records.models.inspections import Finding, Inspection, SecondLook
from orchard.records.models.photos import Photo
from orchard.records.models.talks import SlidePhoto
from orchard.records.models.tasks import Task


class ChangeQuerySet(models.QuerySet["Change"]):
    def in_orchard(self, orchard: Any) -> ChangeQuerySet:
        return self.filter(orchard=orchard)

    def not_private(self) -> ChangeQuerySet:
        """Leave out what was written as private, and what tells of what became so."""
        subject = OuterRef("subject_id")
        since = {
            "inspection": Inspection.objects.filter(
                Q(pk=subject) | Q(corrects=subject), has_private=True
            ),
            "finding": Finding.objects.filter(pk=subject, private=True),
            "secondlook": SecondLook.objects.filter(pk=subject, finding__private=True),
            "photo": Photo.objects.filter(pk=subject, private=True),
            "slidephoto": SlidePhoto.objects.filter(pk=subject, photo__private=True),
            "task": Task.objects.filter(pk=subject, private=True),
        }
        open_ones = self.filter(private=False)
        for name, rows in since.items():
            open_ones = open_ones.exclude(Q(subject_type=name) & Exists(rows))
        return open_ones

    def by_person(self, user_id: int) -> ChangeQuerySet:
        return self.filter(by_id=user_id)

    def about(self, *subject_types: str) -> ChangeQuerySet:
        return self.filter(subject_type__in=subject_types)

    def written_from(self, moment: datetime) -> ChangeQuerySet:
        return self.filter(at__gte=moment)

    def written_before(self, moment: datetime) -> ChangeQuerySet:
        return self.filter(at__lt=moment)

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
            models.Index(fields=["orchard", "-at", "-id"]),
            models.Index(fields=["subject_type", "subject_id", "-id"]),
            models.Index(fields=["tree", "-id"]),
            models.Index(
                fields=["orchard", "by", "-at", "-id"], name="change_by_person"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.at:%Y-%m-%d %H:%M} {self.verb} {self.subject_label}"
