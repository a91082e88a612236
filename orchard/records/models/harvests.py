"""What was picked, from which trees, and where it went."""

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
    word,
    writer,
    writer_is_another,
)
from orchard.science.words import Picked


def _something(table: str) -> models.CheckConstraint:
    return models.CheckConstraint(
        condition=Q(kg__isnull=False, kg__gt=0) | Q(count__isnull=False, count__gt=0),
        name=f"{table}_amount_given",
    )


class Harvest(Correctable):
    """Fruit, leaves or flowers picked in one go: a lot, with what was weighed."""

    class How(models.TextChoices):
        CLIPPED = "clipped", _("clipped")
        PULLED = "pulled", _("pulled")
        POLE = "pole", _("with a pole picker")

    orchard = models.ForeignKey(
        "Orchard", on_delete=models.PROTECT, related_name="harvests", db_index=False
    )
    # Place, day, block and a serial number: what a crate is marked with.
    lot = models.CharField(_("lot"), max_length=60)
    part = word(Picked)
    picked_at = models.DateTimeField(_("picked at"))
    how = models.CharField(_("how"), max_length=8, choices=How.choices, blank=True)
    # Codes of the food-safety questions that were answered with yes.
    checks = models.JSONField(default=list, blank=True)
    # Rules that it broke, as [code, sentence].
    breaches = models.JSONField(default=list, blank=True)
    # The holds on its trees when it was picked, as [tree code, sentence].
    holds = models.JSONField(default=list, blank=True)
    # Nothing of it is given away: picked under a hold, or not fit.
    is_blocked = models.BooleanField(default=False)
    note = models.CharField(_("note"), max_length=500, blank=True)
    by = models.ForeignKey("User", on_delete=models.PROTECT, related_name="+")
    written_by = writer()
    received_at = models.DateTimeField()

    objects = CorrectableQuerySet.as_manager()

    class Meta:
        constraints = [
            correction_is_explained(),
            withdrawal_is_whole(),
            writer_is_another(),
            only("part", Picked),
            only("how", ("clipped", "pulled", "pole"), blank=True),
            models.CheckConstraint(condition=~Q(lot=""), name="harvest_has_lot"),
            models.UniqueConstraint(
                fields=["orchard", "lot"],
                condition=Q(superseded_at=None),
                name="harvest_lot_once_per_orchard",
            ),
        ]
        indexes = [models.Index(fields=["orchard", "-picked_at", "-id"])]

    def __str__(self) -> str:
        return f"lot {self.lot}"


class HarvestedTree(models.Model):
    """What one tree gave to a lot; weighed, counted, or both."""

    harvest = models.ForeignKey(
        Harvest, on_delete=models.PROTECT, related_name="harvested"
    )
    tree = models.ForeignKey(
        "Tree", on_delete=models.PROTECT, related_name="harvests", db_index=False
    )
    kg = models.FloatField(_("kg"), null=True, blank=True)
    count = models.PositiveIntegerField(_("count"), null=True, blank=True)
    # Of several trees picked into one crate: the crate divided among them.
    is_shared = models.BooleanField(default=False)
    is_picked_clean = models.BooleanField(default=False)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["harvest", "tree"], name="harvestedtree_once_a_harvest"
            ),
            _something("harvestedtree"),
            models.CheckConstraint(
                condition=Q(kg=None) | Q(kg__gt=0, kg__lte=5000),
                name="harvestedtree_kg_possible",
            ),
        ]
        indexes = [models.Index(fields=["tree", "-harvest"])]

    def __str__(self) -> str:
        return f"tree {self.tree_id} in harvest {self.harvest_id}"


class HarvestShare(Correctable):
    """Where a part of a lot went, and to whom."""

    class Use(models.TextChoices):
        GIVEN_AWAY = "given_away", _("given away")
        TASTING = "tasting", _("tasting")
        SHOW = "show", _("shown")
        VOLUNTEERS = "volunteers", _("taken home by volunteers")
        COMPOST = "compost", _("compost")
        DESTROYED = "destroyed", _("destroyed")
        BIRDS = "birds", _("left for birds")

    orchard = models.ForeignKey("Orchard", on_delete=models.PROTECT, related_name="+")
    harvest = models.ForeignKey(
        Harvest, on_delete=models.PROTECT, related_name="shares"
    )
    use = models.CharField(_("where it went"), max_length=12, choices=Use.choices)
    receiver = models.CharField(_("receiver"), max_length=160, blank=True)
    contact = models.CharField(_("contact"), max_length=160, blank=True)
    given_on = models.DateField(_("on"))
    kg = models.FloatField(_("kg"), null=True, blank=True)
    count = models.PositiveIntegerField(_("count"), null=True, blank=True)
    by = models.ForeignKey("User", on_delete=models.PROTECT, related_name="+")
    received_at = models.DateTimeField()

    objects = CorrectableQuerySet.as_manager()

    class Meta:
        constraints = [
            correction_is_explained(),
            withdrawal_is_whole(),
            only(
                "use",
                (
                    "given_away",
                    "tasting",
                    "show",
                    "volunteers",
                    "compost",
                    "destroyed",
                    "birds",
                ),
            ),
            _something("harvestshare"),
            models.CheckConstraint(
                condition=~Q(use="given_away") | ~Q(receiver=""),
                name="harvestshare_given_to_somebody",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.use} of harvest {self.harvest_id}"


class Recall(models.Model):
    """A call to all who received something, and its end once all have answered."""

    orchard = models.ForeignKey(
        "Orchard", on_delete=models.PROTECT, related_name="recalls"
    )
    # What it starts from: a lot, or a treatment and all lots picked after it.
    harvest = models.ForeignKey(
        Harvest, on_delete=models.PROTECT, null=True, blank=True, related_name="recalls"
    )
    treatment = models.ForeignKey(
        "Treatment",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="recalls",
    )
    because = models.CharField(_("because"), max_length=500)
    opened_at = models.DateTimeField()
    opened_by = models.ForeignKey("User", on_delete=models.PROTECT, related_name="+")
    closed_at = models.DateTimeField(null=True, blank=True)
    closed_by = models.ForeignKey(
        "User", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(harvest__isnull=False, treatment=None)
                | Q(harvest=None, treatment__isnull=False),
                name="recall_starts_from_one",
            ),
            models.CheckConstraint(condition=~Q(because=""), name="recall_says_why"),
            models.CheckConstraint(
                condition=Q(closed_at=None, closed_by=None)
                | Q(closed_at__isnull=False, closed_by__isnull=False),
                name="recall_close_whole",
            ),
        ]
        indexes = [models.Index(fields=["orchard", "-opened_at", "-id"])]

    def __str__(self) -> str:
        return f"recall {self.pk}"


class RecallCall(models.Model):
    """One receiver called in a recall, and what was answered; never altered."""

    recall = models.ForeignKey(Recall, on_delete=models.PROTECT, related_name="calls")
    share = models.ForeignKey(
        HarvestShare, on_delete=models.PROTECT, related_name="calls"
    )
    called_at = models.DateTimeField(_("called at"))
    is_answered = models.BooleanField(_("they know"), default=False)
    words = models.CharField(_("what they said"), max_length=500, blank=True)
    by = models.ForeignKey("User", on_delete=models.PROTECT, related_name="+")

    class Meta:
        indexes = [models.Index(fields=["recall", "called_at", "id"])]

    def __str__(self) -> str:
        return f"call {self.pk} of recall {self.recall_id}"
