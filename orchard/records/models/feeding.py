"""What a laboratory found in leaves."""

from __future__ import annotations

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from orchard.records.columns import (
    Correctable,
    CorrectableQuerySet,
    correction_is_explained,
    withdrawal_is_whole,
)


class LeafTest(Correctable):
    """A sample of leaves of one cultivar on one rootstock, and its contents."""

    orchard = models.ForeignKey(
        "Orchard", on_delete=models.PROTECT, related_name="leaf_tests", db_index=False
    )
    block = models.ForeignKey(
        "Block", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    kind = models.ForeignKey("Kind", on_delete=models.PROTECT, related_name="+")
    rootstock = models.CharField(_("rootstock"), max_length=80, blank=True)
    taken_on = models.DateField(_("taken on"))
    leaf_months = models.FloatField(_("age of the leaves, months"))
    is_of_spring_flush = models.BooleanField(_("of the spring flush"), default=True)
    is_beside_fruit = models.BooleanField(_("beside fruit"), default=False)
    sample = models.CharField(_("sample number"), max_length=60, blank=True)
    # By symbol: % of dry matter for N, P, K, Ca, Mg; mg/kg for the others.
    contents = models.JSONField(_("contents"), default=dict)
    note = models.CharField(_("note"), max_length=500, blank=True)
    by = models.ForeignKey("User", on_delete=models.PROTECT, related_name="+")
    received_at = models.DateTimeField()

    objects = CorrectableQuerySet.as_manager()

    class Meta:
        constraints = [
            correction_is_explained(),
            withdrawal_is_whole(),
            models.CheckConstraint(
                condition=Q(leaf_months__gt=0, leaf_months__lte=36),
                name="leaftest_age_possible",
            ),
            models.CheckConstraint(
                condition=~Q(contents={}), name="leaftest_says_something"
            ),
        ]
        indexes = [models.Index(fields=["orchard", "-taken_on", "-id"])]

    def __str__(self) -> str:
        return f"leaf test of {self.taken_on}"
