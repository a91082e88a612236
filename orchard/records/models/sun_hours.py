"""What hides the sun from a spot."""

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


class Horizon(Correctable):
    """What hides the sky all around a spot, as somebody measured it."""

    class How(models.TextChoices):
        TYPED = "typed", _("read off and typed")
        TILT = "tilt", _("taken with a phone's own tilt and heading")

    orchard = models.ForeignKey(
        "Orchard", on_delete=models.PROTECT, related_name="+", db_index=False
    )
    spot = models.ForeignKey(
        "Spot", on_delete=models.PROTECT, related_name="horizons", db_index=False
    )
    surveyed_on = models.DateField(_("surveyed on"))
    # [[azimuth, elevation], ...], degrees, azimuth clockwise from true north.
    points = models.JSONField(_("horizon"))
    # East positive; added to what the compass showed before the points are stored.
    declination = models.FloatField(_("compass points east of north by"), default=0.0)
    how = models.CharField(max_length=8, choices=How.choices, default=How.TYPED)
    note = models.CharField(_("note"), max_length=300, blank=True)
    by = models.ForeignKey("User", on_delete=models.PROTECT, related_name="+")
    received_at = models.DateTimeField()

    objects = CorrectableQuerySet.as_manager()

    class Meta:
        constraints = [
            correction_is_explained(),
            withdrawal_is_whole(),
            only("how", ("typed", "tilt")),
            models.CheckConstraint(
                condition=Q(declination__gte=-60, declination__lte=60),
                name="horizon_declination_possible",
            ),
        ]
        indexes = [
            models.Index(fields=["spot", "-surveyed_on", "-id"]),
            models.Index(fields=["orchard", "-surveyed_on", "-id"]),
        ]

    def __str__(self) -> str:
        return f"horizon of spot {self.spot_id} on {self.surveyed_on}"


class DirectSun(models.Model):
    """What a horizon leaves a spot of a year's sun, worked out once and kept.

    Of another year, or once the orchard's place is corrected, it says nothing.
    """

    horizon = models.OneToOneField(
        Horizon, on_delete=models.PROTECT, related_name="direct_sun"
    )
    year = models.PositiveSmallIntegerField()
    latitude = models.FloatField()
    longitude = models.FloatField()
    # The mean hours of a day in each month, January first.
    hours = models.JSONField()

    def __str__(self) -> str:
        return f"sun of {self.year} past horizon {self.horizon_id}"
