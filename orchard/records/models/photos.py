"""Photos: the picture, whose it is, and who may be seen in it."""

from __future__ import annotations

import uuid
from typing import Any, Self

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


class PhotoQuerySet(CorrectableQuerySet["Photo"]):
    def of(self, orchard: Any) -> Self:
        return self.filter(orchard=orchard)

    def unassigned(self) -> Self:
        """Only photos that belong to nothing yet; work without a tree has its own."""
        return self.filter(tree=None, inspection=None, closure=None)

    def open_to_all(self) -> Self:
        """Only photos that no private finding hangs on."""
        return self.filter(private=False)


class Photo(Correctable):
    """One picture, stored under a random name in three sizes."""

    class People(models.TextChoices):
        UNKNOWN = "unknown", _("not said")
        NOBODY = "nobody", _("nobody in view")
        SOMEBODY = "somebody", _("people in view")

    orchard = models.ForeignKey("Orchard", on_delete=models.PROTECT, related_name="+")
    tree = models.ForeignKey(
        "Tree", on_delete=models.PROTECT, null=True, blank=True, related_name="photos"
    )
    inspection = models.ForeignKey(
        "Inspection",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="photos",
    )
    finding = models.ForeignKey(
        "Finding",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="photos",
    )
    closure = models.ForeignKey(
        "Closure",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="photos",
    )
    round = models.ForeignKey(
        "Round",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="photos",
    )
    by = models.ForeignKey("User", on_delete=models.PROTECT, related_name="+")
    name = models.UUIDField(default=uuid.uuid4, unique=True)
    sha256 = models.CharField(max_length=64)
    file_format = models.CharField(max_length=8)
    width = models.PositiveIntegerField()
    height = models.PositiveIntegerField()
    size_bytes = models.PositiveIntegerField()
    taken_at = models.DateTimeField(null=True, blank=True)
    received_at = models.DateTimeField()
    caption = models.CharField(_("caption"), max_length=300, blank=True)
    people = models.CharField(
        _("people"), max_length=10, choices=People.choices, default=People.UNKNOWN
    )
    # The orchard's own confirmed picture of a sign, shown beside its look-alikes.
    confirmed_sign = models.CharField(max_length=40, blank=True)
    private = models.BooleanField(default=False)

    objects = PhotoQuerySet.as_manager()

    class Meta:
        constraints = [
            correction_is_explained(),
            withdrawal_is_whole(),
            only("people", ("unknown", "nobody", "somebody")),
            only("file_format", ("JPEG", "PNG", "WEBP", "HEIC")),
            models.UniqueConstraint(
                fields=["orchard", "sha256"],
                condition=Q(withdrawn_at=None, superseded_at=None),
                name="photo_content_once_per_orchard",
            ),
        ]
        indexes = [
            models.Index(fields=["tree", "-received_at", "-id"]),
            models.Index(
                fields=["orchard", "received_at", "id"],
                condition=Q(tree=None, withdrawn_at=None, superseded_at=None),
                name="photo_unassigned",
            ),
            models.Index(
                fields=["orchard", "confirmed_sign", "-id"],
                condition=~Q(confirmed_sign=""),
                name="photo_confirmed",
            ),
        ]

    def __str__(self) -> str:
        return f"photo {self.name}"
