"""Photos: the picture, whose it is, and who may be seen in it."""

from __future__ import annotations

import uuid
from typing import TYPE_CHECKING, Any, Self, TypeAlias, TypeVar

from django.db import models
from django.db.models import Exists, OuterRef, Q
from django.utils.translation import gettext_lazy as _

from orchard.records.columns import (
    Correctable,
    CorrectableQuerySet,
    correction_is_explained,
    only,
    withdrawal_is_whole,
)

if TYPE_CHECKING:
    from orchard.records.models.harvests import Harvest
    from orchard.records.models.inspections import Finding, Inspection
    from orchard.records.models.rounds import Round
    from orchard.records.models.tasks import Closure
    from orchard.records.models.treatments import Product, Treatment
    from orchard.records.models.trees import Tree

Subject = TypeVar("Subject", bound=models.Model)
Many: TypeAlias = "models.ManyToManyField[Subject, PhotoLink]"


def _many(model: str) -> Any:
    return models.ManyToManyField(model, through="PhotoLink", related_name="photos")


class PhotoQuerySet(CorrectableQuerySet["Photo"]):
    def unassigned(self) -> Self:
        """Only photos that belong to nothing yet but the round they came from."""
        return self.exclude(Exists(PhotoLink.objects.of_photo().filter(round=None)))

    def assigned_to(self, *subjects: str) -> Self:
        """Only photos that belong to at least one subject of these sorts."""
        return self.filter(Exists(PhotoLink.objects.of_photo().about(*subjects)))

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
    trees: Many[Tree] = _many("Tree")
    inspections: Many[Inspection] = _many("Inspection")
    findings: Many[Finding] = _many("Finding")
    closures: Many[Closure] = _many("Closure")
    rounds: Many[Round] = _many("Round")
    treatments: Many[Treatment] = _many("Treatment")
    products: Many[Product] = _many("Product")
    harvests: Many[Harvest] = _many("Harvest")
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
            models.Index(
                fields=["orchard", "received_at", "id"],
                condition=Q(withdrawn_at=None, superseded_at=None),
                name="photo_current",
            ),
            models.Index(
                fields=["orchard", "confirmed_sign", "-id"],
                condition=~Q(confirmed_sign=""),
                name="photo_confirmed",
            ),
        ]

    def __str__(self) -> str:
        return f"photo {self.name}"

    @property
    def tree(self) -> Tree | None:
        """Return the tree it shows, as prefetched, or None."""
        return next(iter(self.trees.all()), None)


SUBJECTS = (
    "tree", "inspection", "finding", "closure", "round", "treatment", "product",
    "harvest",
)  # fmt: skip


class PhotoLinkQuerySet(models.QuerySet["PhotoLink"]):
    def of_photo(self) -> Self:
        """Only links of the photo of the query around this one."""
        return self.filter(photo=OuterRef("pk"))

    def about(self, *subjects: str) -> Self:
        """Only links to subjects of these sorts."""
        wanted = Q(pk__in=[])
        for subject in subjects:
            wanted |= Q(**{f"{subject}__isnull": False})
        return self.filter(wanted)


def _exactly_one_subject() -> Q:
    alone = Q()
    for subject in SUBJECTS:
        alone |= Q(**{f"{each}__isnull": each != subject for each in SUBJECTS})
    return alone


class PhotoLink(models.Model):
    """One thing that a photo belongs to; a photo has a row for each of them."""

    photo = models.ForeignKey(Photo, on_delete=models.PROTECT, related_name="links")
    tree = models.ForeignKey(
        "Tree",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        db_index=False,
    )
    inspection = models.ForeignKey(
        "Inspection",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        db_index=False,
    )
    finding = models.ForeignKey(
        "Finding",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        db_index=False,
    )
    closure = models.ForeignKey(
        "Closure",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        db_index=False,
    )
    round = models.ForeignKey(
        "Round",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        db_index=False,
    )
    treatment = models.ForeignKey(
        "Treatment",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        db_index=False,
    )
    product = models.ForeignKey(
        "Product",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        db_index=False,
    )
    harvest = models.ForeignKey(
        "Harvest",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        db_index=False,
    )

    objects = PhotoLinkQuerySet.as_manager()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=_exactly_one_subject(), name="photolink_exactly_one_subject"
            ),
            # Each is also the index by which the photos of its subject are found.
            *(
                models.UniqueConstraint(
                    fields=[subject, "photo"],
                    condition=Q(**{f"{subject}__isnull": False}),
                    name=f"photolink_once_per_{subject}",
                )
                for subject in SUBJECTS
            ),
        ]

    def __str__(self) -> str:
        return f"link {self.pk} of photo {self.photo_id}"
