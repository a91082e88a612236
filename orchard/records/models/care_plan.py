"""The care plan: which of the guide's jobs apply in an orchard, and how often."""

from __future__ import annotations

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _


class CarePlan(models.Model):
    """Whether and how one recurring job of the guide applies in this orchard."""

    orchard = models.ForeignKey(
        "Orchard", on_delete=models.PROTECT, related_name="care_plan"
    )
    job = models.CharField(max_length=40)
    active = models.BooleanField(default=True)
    every_days = models.PositiveIntegerField(
        _("own interval, days"), null=True, blank=True
    )
    window = models.CharField(_("own window"), max_length=40, blank=True)
    reason = models.CharField(_("why"), max_length=300, blank=True)
    set_by = models.ForeignKey(
        "User", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    set_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["orchard", "job"], name="careplan_job_once_per_orchard"
            ),
            models.CheckConstraint(
                condition=Q(every_days=None) | Q(every_days__gte=1),
                name="careplan_interval_positive",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.job} in orchard {self.orchard_id}"
