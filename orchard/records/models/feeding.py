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
    """A sample of leaves of one cultivar, from a tree or a block, and its contents."""

    orchard = models.ForeignKey(
        "Orchard", on_delete=models.PROTECT, related_name="leaf_tests", db_index=False
    )
    tree = models.ForeignKey(
        "Tree",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="leaf_tests",
    )
    block = models.ForeignKey(
        "Block", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    kind = models.ForeignKey("Kind", on_delete=models.PROTECT, related_name="+")
    rootstock = models.CharField(_("rootstock"), max_length=80, blank=True)
    taken_on = models.DateField(_("taken on"))
    leaf_months = models.FloatField(_("age of the leaves, months"))
    laboratory = models.CharField(_("laboratory"), max_length=120, blank=True)
    sample = models.CharField(_("sample number"), max_length=60, blank=True)
    # By symbol: % of dry matter for N, P, K, Ca, Mg, Cl; mg/kg for the others.
    contents = models.JSONField(_("contents"))
    soil_ph = models.FloatField(_("pH of the soil"), null=True, blank=True)
    note = models.CharField(_("note"), max_length=500, blank=True)
    by = models.ForeignKey("User", on_delete=models.PROTECT, related_name="+")
    received_at = models.DateTimeField()

    objects = CorrectableQuerySet.as_manager()

    class Meta:
        constraints = [
            correction_is_explained(),
            withdrawal_is_whole(),
            models.CheckConstraint(
                condition=Q(tree__isnull=False, block=None)
                | Q(tree=None, block__isnull=False),
                name="leaftest_of_tree_or_block",
            ),
            models.CheckConstraint(
                condition=Q(leaf_months__gt=0, leaf_months__lte=36),
                name="leaftest_age_possible",
            ),
            models.CheckConstraint(
                condition=~Q(contents={}), name="leaftest_says_something"
            ),
            models.CheckConstraint(
                condition=Q(soil_ph=None) | Q(soil_ph__gte=0, soil_ph__lte=14),
                name="leaftest_ph_possible",
            ),
        ]
        indexes = [models.Index(fields=["orchard", "-taken_on", "-id"])]

    def __str__(self) -> str:
        return f"leaf test of {self.taken_on}"
