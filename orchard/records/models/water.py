"""Water: the soil that holds it, the crowns that use it, what was given."""

from __future__ import annotations

from datetime import date
from typing import NamedTuple, Self

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


class Soil(models.Model):
    """What the ground of an orchard is like; the newest row counts, older ones stay."""

    class Sort(models.TextChoices):
        LOAM = "loam", _("loam")
        SAND = "sand", _("sand")

    class Cover(models.TextChoices):
        BARE = "bare", _("bare or mulched")
        COVERED = "covered", _("grass or other plants")

    orchard = models.ForeignKey("Orchard", on_delete=models.PROTECT, related_name="+")
    sort = models.CharField(_("soil"), max_length=8, choices=Sort.choices)
    cover = models.CharField(_("under the trees"), max_length=8, choices=Cover.choices)
    is_strip = models.BooleanField(
        _("drippers wet a strip of the ground only"), default=False
    )
    # Empty is the usual depth of the roots of such trees.
    depth_new_m = models.FloatField(_("roots of new trees"), null=True, blank=True)
    depth_young_m = models.FloatField(_("roots of young trees"), null=True, blank=True)
    depth_mature_m = models.FloatField(_("roots of grown trees"), null=True, blank=True)
    by = models.ForeignKey("User", on_delete=models.PROTECT, related_name="+")
    set_at = models.DateTimeField()

    class Meta:
        constraints = [
            only("sort", ("loam", "sand")),
            only("cover", ("bare", "covered")),
            *(
                models.CheckConstraint(
                    condition=Q(**{depth: None})
                    | Q(**{f"{depth}__gt": 0, f"{depth}__lte": 3}),
                    name=f"soil_{depth}_possible",
                )
                for depth in ("depth_new_m", "depth_young_m", "depth_mature_m")
            ),
        ]
        indexes = [models.Index(fields=["orchard", "-id"])]

    def __str__(self) -> str:
        return f"{self.sort}, {self.cover}"


class CrownSize(NamedTuple):
    """How wide and high a tree was when it was last measured, and when that was."""

    width_m: float
    height_m: float | None
    measured_on: date


class CrownQuerySet(CorrectableQuerySet["Crown"]):
    def newest_sizes(self, today: date) -> dict[int, CrownSize]:
        """Read the newest size of each tree that was measured by a day; one query."""
        rows = (
            self.current()
            .filter(measured_on__lte=today)
            .order_by("measured_on", "id")
            .values_list("tree_id", "width_m", "height_m", "measured_on")
        )
        return {row[0]: CrownSize(*row[1:]) for row in rows}


class Crown(Correctable):
    """How wide and high a tree stood on a day."""

    orchard = models.ForeignKey(
        "Orchard", on_delete=models.PROTECT, related_name="+", db_index=False
    )
    tree = models.ForeignKey(
        "Tree", on_delete=models.PROTECT, related_name="crowns", db_index=False
    )
    measured_on = models.DateField(_("measured on"))
    width_m = models.FloatField(_("width of the crown"))
    height_m = models.FloatField(_("height"), null=True, blank=True)
    by = models.ForeignKey("User", on_delete=models.PROTECT, related_name="+")
    received_at = models.DateTimeField()

    objects = CrownQuerySet.as_manager()

    class Meta:
        constraints = [
            correction_is_explained(),
            withdrawal_is_whole(),
            models.CheckConstraint(
                condition=Q(width_m__gt=0, width_m__lte=20), name="crown_width_possible"
            ),
            models.CheckConstraint(
                condition=Q(height_m=None) | Q(height_m__gt=0, height_m__lte=30),
                name="crown_height_possible",
            ),
        ]
        indexes = [
            models.Index(fields=["tree", "-measured_on", "-id"]),
            models.Index(fields=["orchard", "-measured_on", "-id"]),
        ]

    def __str__(self) -> str:
        return f"{self.width_m:g} m wide on {self.measured_on}"


class WateringQuerySet(CorrectableQuerySet["Watering"]):
    def current(self) -> Self:
        """Only what still stands, and whose work was not opened again."""
        stands = models.Q(closure=None) | models.Q(closure__undone_at=None)
        return super().current().filter(stands)


class Watering(Correctable):
    """Water given to one tree on a day.

    `closure` is the closing that the litres were given with, if any.
    """

    orchard = models.ForeignKey(
        "Orchard", on_delete=models.PROTECT, related_name="+", db_index=False
    )
    tree = models.ForeignKey(
        "Tree", on_delete=models.PROTECT, related_name="waterings", db_index=False
    )
    given_on = models.DateField(_("watered on"))
    litres = models.FloatField(_("water given"))
    closure = models.ForeignKey(
        "Closure",
        on_delete=models.PROTECT,
        related_name="waterings",
        null=True,
        blank=True,
    )
    note = models.CharField(_("note"), max_length=300, blank=True)
    by = models.ForeignKey("User", on_delete=models.PROTECT, related_name="+")
    received_at = models.DateTimeField()

    objects = WateringQuerySet.as_manager()

    class Meta:
        constraints = [
            correction_is_explained(),
            withdrawal_is_whole(),
            models.CheckConstraint(
                condition=Q(litres__gt=0, litres__lte=5000),
                name="watering_litres_possible",
            ),
        ]
        indexes = [
            models.Index(fields=["tree", "-given_on", "-id"]),
            models.Index(fields=["orchard", "-given_on", "-id"]),
        ]

    def __str__(self) -> str:
        return f"{self.litres:g} L on {self.given_on}"

    @property
    def is_current(self) -> bool:
        closure = self.closure
        return super().is_current and (closure is None or closure.undone_at is None)
