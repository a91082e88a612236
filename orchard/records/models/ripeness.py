"""What was measured of fruit to tell whether it is ready."""

from __future__ import annotations

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from orchard.records.columns import (
    Correctable,
    CorrectableQuerySet,
    correction_is_explained,
    withdrawal_is_whole,
    writer,
    writer_is_another,
)


class RipenessTest(Correctable):
    """Some fruit of one tree, pressed and tasted on a day; figures as they were read.

    A figure is the middle one of the fruit, the taste that of the tasters.
    What follows from the readings (sugar at 20 °C, acid from a titration, share of
    juice) is reckoned when it is shown.
    """

    class Taste(models.IntegerChoices):
        SOUR = 1, _("sour or bitter")
        FLAT = 2, _("without taste")
        FAIR = 3, _("fair, not yet full")
        GOOD = 4, _("good")
        BEST = 5, _("as good as it gets")

    orchard = models.ForeignKey(
        "Orchard", on_delete=models.PROTECT, related_name="+", db_index=False
    )
    tree = models.ForeignKey(
        "Tree", on_delete=models.PROTECT, related_name="ripeness_tests", db_index=False
    )
    tested_on = models.DateField(_("tested on"))
    fruits = models.PositiveSmallIntegerField(_("fruit tested"))
    brix_read = models.FloatField(_("soluble solids as read"), null=True, blank=True)
    # Empty where the refractometer allows for the temperature itself.
    juice_c = models.FloatField(_("temperature of the juice"), null=True, blank=True)
    acid_percent = models.FloatField(_("acid"), null=True, blank=True)
    titrant_ml = models.FloatField(_("hydroxide used"), null=True, blank=True)
    normality = models.FloatField(_("strength of it"), null=True, blank=True)
    sample_ml = models.FloatField(_("juice titrated"), null=True, blank=True)
    juice_percent = models.FloatField(_("juice"), null=True, blank=True)
    fruit_g = models.FloatField(_("mass of the fruit"), null=True, blank=True)
    juice_g = models.FloatField(_("mass of the juice"), null=True, blank=True)
    taste = models.PositiveSmallIntegerField(
        _("taste"), choices=Taste.choices, null=True, blank=True
    )
    tasters = models.PositiveSmallIntegerField(_("tasters"), null=True, blank=True)
    # Of fruit that is judged by its rind: how much of it is yellow, and its scent.
    colour_percent = models.FloatField(_("yellow rind"), null=True, blank=True)
    scented = models.BooleanField(_("scent as it should be"), null=True, blank=True)
    note = models.CharField(_("note"), max_length=300, blank=True)
    by = models.ForeignKey("User", on_delete=models.PROTECT, related_name="+")
    written_by = writer()
    received_at = models.DateTimeField()

    objects = CorrectableQuerySet.as_manager()

    class Meta:
        constraints = [
            correction_is_explained(),
            withdrawal_is_whole(),
            writer_is_another(),
            models.CheckConstraint(
                condition=Q(fruits__gte=1, fruits__lte=200),
                name="ripeness_fruits_possible",
            ),
            models.CheckConstraint(
                condition=Q(taste=None) | Q(taste__gte=1, taste__lte=5),
                name="ripeness_taste_known",
            ),
            models.CheckConstraint(
                condition=Q(colour_percent=None)
                | Q(colour_percent__gte=0, colour_percent__lte=100),
                name="ripeness_colour_possible",
            ),
            models.CheckConstraint(
                condition=Q(brix_read__isnull=False)
                | Q(acid_percent__isnull=False)
                | Q(titrant_ml__isnull=False)
                | Q(juice_percent__isnull=False)
                | Q(juice_g__isnull=False)
                | Q(taste__isnull=False)
                | Q(colour_percent__isnull=False)
                | Q(scented__isnull=False),
                name="ripeness_says_something",
            ),
        ]
        indexes = [
            models.Index(fields=["tree", "-tested_on", "-id"]),
            models.Index(fields=["orchard", "-tested_on", "-id"]),
        ]

    def __str__(self) -> str:
        return f"{self.fruits} fruit tested on {self.tested_on}"
