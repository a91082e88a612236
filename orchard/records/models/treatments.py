"""What is put on trees and their ground: products with their labels, and uses."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Self

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
from orchard.science.holds import LONGEST_ENTRY_H, LONGEST_HARVEST_DAYS
from orchard.science.words import Droplets, EntryRule, Reach, Spread, TreatmentKind

if TYPE_CHECKING:
    from datetime import datetime

DOSE_UNITS = (
    "l_per_ha", "kg_per_ha", "g_per_m2", "ml_per_l", "g_per_l", "ml_per_tree",
    "g_per_tree", "g_per_l_of_pot",
)  # fmt: skip


def _days(name: str, most: int = LONGEST_HARVEST_DAYS) -> models.CheckConstraint:
    return models.CheckConstraint(
        condition=Q(**{name: None}) | Q(**{f"{name}__lte": most}),
        name=f"product_{name}_possible",
    )


def _above_nothing(table: str, name: str) -> models.CheckConstraint:
    return models.CheckConstraint(
        condition=Q(**{name: None}) | Q(**{f"{name}__gt": 0}),
        name=f"{table}_{name}_above_nothing",
    )


class Product(Correctable):
    """A product and what its label says, typed from the container in hand.

    An empty figure was not on the label or could not be read: it is unknown, never 0.
    A corrected label is a new row; a use keeps the row it was made with.
    """

    class DoseUnit(models.TextChoices):
        L_PER_HA = "l_per_ha", _("L per hectare")
        KG_PER_HA = "kg_per_ha", _("kg per hectare")
        G_PER_M2 = "g_per_m2", _("g per m²")
        ML_PER_L = "ml_per_l", _("mL per litre of mix")
        G_PER_L = "g_per_l", _("g per litre of mix")
        ML_PER_TREE = "ml_per_tree", _("mL per tree")
        G_PER_TREE = "g_per_tree", _("g per tree")
        G_PER_L_OF_POT = "g_per_l_of_pot", _("g per litre of pot")

    orchard = models.ForeignKey(
        "Orchard", on_delete=models.PROTECT, related_name="products"
    )
    kind = word(TreatmentKind)
    name = models.CharField(_("name on the container"), max_length=120)
    registration = models.CharField(_("registration number"), max_length=60, blank=True)
    # Rows of [name, content, unit]; the unit is g/L, g/kg or %.
    ingredients = models.JSONField(_("active ingredients"), default=list, blank=True)
    action_group = models.CharField(_("action group"), max_length=20, blank=True)
    signal_word = models.CharField(_("signal word"), max_length=40, blank=True)
    protection = models.CharField(_("what to wear"), max_length=300, blank=True)
    buffers = models.CharField(_("distances to keep"), max_length=300, blank=True)
    is_restricted = models.BooleanField(_("for licensed people only"), default=False)
    is_home_garden = models.BooleanField(_("sold for home gardens"), default=False)
    is_low_risk = models.BooleanField(_("registered as low risk"), default=False)
    needs_hours = models.BooleanField(_("its label limits the hours"), default=False)
    needs_stage = models.BooleanField(_("its label limits the stages"), default=False)
    needs_weather = models.BooleanField(
        _("its label asks for the weather"), default=False
    )
    # What it may be used on: crops and sites as the label names them, one a line.
    crops = models.TextField(_("crops on the label"), blank=True)
    entry_rule = word(EntryRule, default=EntryRule.UNKNOWN.value)
    entry_hours = models.FloatField(_("hours before entry"), null=True, blank=True)
    fruit_days = models.PositiveSmallIntegerField(
        _("days before fruit is picked"), null=True, blank=True
    )
    leaf_days = models.PositiveSmallIntegerField(
        _("days before leaves are picked"), null=True, blank=True
    )
    flower_days = models.PositiveSmallIntegerField(
        _("days before flowers are picked"), null=True, blank=True
    )
    most_dose = models.FloatField(_("highest dose"), null=True, blank=True)
    dose_unit = models.CharField(
        _("unit of the dose"), max_length=16, choices=DoseUnit.choices, blank=True
    )
    most_uses = models.PositiveSmallIntegerField(
        _("uses at most"), null=True, blank=True
    )
    uses_days = models.PositiveSmallIntegerField(
        _("in so many days"), null=True, blank=True
    )
    between_days = models.PositiveSmallIntegerField(
        _("days between uses"), null=True, blank=True
    )
    oil_sulfur_days = models.PositiveSmallIntegerField(
        _("days between oil and sulfur"), null=True, blank=True
    )
    nitrogen_percent = models.FloatField(_("nitrogen, %"), null=True, blank=True)
    # What a litre of paint covers.
    m2_per_litre = models.FloatField(_("m² a litre covers"), null=True, blank=True)
    checked_on = models.DateField(_("held against the container on"))
    by = models.ForeignKey("User", on_delete=models.PROTECT, related_name="+")
    received_at = models.DateTimeField()

    objects = CorrectableQuerySet.as_manager()

    class Meta:
        constraints = [
            correction_is_explained(),
            withdrawal_is_whole(),
            only("kind", TreatmentKind),
            only("entry_rule", EntryRule),
            only("dose_unit", DOSE_UNITS, blank=True),
            models.CheckConstraint(
                condition=~Q(entry_rule="hours") | Q(entry_hours__isnull=False),
                name="product_hours_of_entry_said",
            ),
            models.CheckConstraint(
                condition=Q(entry_hours=None)
                | Q(entry_hours__gte=0, entry_hours__lte=LONGEST_ENTRY_H),
                name="product_entry_hours_possible",
            ),
            _days("fruit_days"),
            _days("leaf_days"),
            _days("flower_days"),
            _above_nothing("product", "most_dose"),
            _above_nothing("product", "m2_per_litre"),
            models.CheckConstraint(
                condition=Q(most_dose=None) | ~Q(dose_unit=""),
                name="product_dose_has_unit",
            ),
            models.CheckConstraint(
                condition=Q(nitrogen_percent=None)
                | Q(nitrogen_percent__gte=0, nitrogen_percent__lte=100),
                name="product_nitrogen_possible",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.name} ({self.kind})"


class TreatmentQuerySet(CorrectableQuerySet["Treatment"]):
    def done(self) -> Self:
        """Only uses that took place and still stand."""
        return self.current().filter(is_plan=False)

    def planned(self) -> Self:
        """Only uses that are planned and have not taken place."""
        return self.current().filter(is_plan=True, carried_out=None)

    def asking_for_dry(self) -> Self:
        """Only those of which a label says "until dry", or that were fed on leaves."""
        until_dry = Q(products__product__entry_rule=EntryRule.UNTIL_DRY)
        return self.filter(until_dry | Q(details__on_leaves=True)).distinct()

    def with_products_and_trees(self) -> Self:
        """Bring along what a line of a list tells of each."""
        return self.prefetch_related("products__product", "reached__tree")


class Treatment(Correctable):
    """One use: what was put where, when, by whom and how; or the plan of one."""

    class SizeUnit(models.TextChoices):
        M2 = "m2", _("m²")
        TREES = "trees", _("trees")
        LITRES = "litres", _("litres of pot")

    class UseType(models.TextChoices):
        AREA = "area", _("an area outdoors")
        CLOSED_SPACE = "closed_space", _("a closed space")
        SEED_OR_PLANTS = "seed_or_plants", _("seed or single plants")

    orchard = models.ForeignKey(
        "Orchard", on_delete=models.PROTECT, related_name="treatments", db_index=False
    )
    kind = word(TreatmentKind)
    is_plan = models.BooleanField(default=False)
    # The plan that this use carried out.
    plan = models.OneToOneField(
        "self",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="carried_out",
    )
    started_at = models.DateTimeField(_("started"))
    # Of a plan, when it is expected to end.
    ended_at = models.DateTimeField(_("ended"))
    use_type = models.CharField(
        _("type of use"), max_length=16, choices=UseType.choices, blank=True
    )
    target = models.CharField(_("what it is against"), max_length=120, blank=True)
    method = word(Spread, blank=True)
    droplets = word(Droplets, blank=True)
    size = models.FloatField(_("size treated"), null=True, blank=True)
    size_unit = models.CharField(
        _("unit of size"), max_length=8, choices=SizeUnit.choices, blank=True
    )
    mix_litres = models.FloatField(_("mix made, L"), null=True, blank=True)
    amount_reason = models.CharField(max_length=300, blank=True)
    bbch = models.PositiveSmallIntegerField(_("growth stage"), null=True, blank=True)
    applicator = models.CharField(_("who applied it"), max_length=120, blank=True)
    applicator_contact = models.CharField(_("contact"), max_length=120, blank=True)
    licence = models.CharField(_("licence number"), max_length=60, blank=True)
    licence_until = models.DateField(_("licence valid until"), null=True, blank=True)
    supervisor = models.CharField(_("supervised by"), max_length=120, blank=True)
    owner = models.CharField(_("owner or occupier"), max_length=160, blank=True)
    home_garden_reason = models.CharField(max_length=300, blank=True)
    wind_kmh = models.FloatField(_("wind speed"), null=True, blank=True)
    wind_from = models.CharField(_("wind from"), max_length=2, blank=True)
    wind_changes = models.CharField(
        _("how the wind changed"), max_length=200, blank=True
    )
    temperature_c = models.FloatField(_("air temperature"), null=True, blank=True)
    humidity_percent = models.FloatField(_("humidity"), null=True, blank=True)
    rain_expected = models.BooleanField(_("rain within 24 h"), null=True, blank=True)
    soil_is_dry = models.BooleanField(_("the soil is dry"), null=True, blank=True)
    weeds_flower = models.BooleanField(_("weeds are in flower"), null=True, blank=True)
    # What only this kind of treatment asks, by field.
    details = models.JSONField(default=dict, blank=True)
    note = models.CharField(_("note"), max_length=500, blank=True)
    # Rules that it broke, as [code, sentence]: a plan has none.
    breaches = models.JSONField(default=list, blank=True)
    closure = models.ForeignKey(
        "Closure",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="treatments",
    )
    by = models.ForeignKey("User", on_delete=models.PROTECT, related_name="+")
    written_by = writer()
    received_at = models.DateTimeField()

    objects = TreatmentQuerySet.as_manager()

    class Meta:
        constraints = [
            correction_is_explained(),
            withdrawal_is_whole(),
            writer_is_another(),
            only("kind", TreatmentKind),
            only("method", Spread, blank=True),
            only("droplets", Droplets, blank=True),
            only("size_unit", ("m2", "trees", "litres"), blank=True),
            only("use_type", ("area", "closed_space", "seed_or_plants"), blank=True),
            models.CheckConstraint(
                condition=Q(ended_at__gte=models.F("started_at")),
                name="treatment_ends_after_start",
            ),
            models.CheckConstraint(
                condition=Q(size=None) | Q(size__gt=0) & ~Q(size_unit=""),
                name="treatment_size_possible",
            ),
            models.CheckConstraint(
                condition=Q(bbch=None) | Q(bbch__lte=99),
                name="treatment_bbch_two_digits",
            ),
            models.CheckConstraint(
                condition=Q(is_plan=False) | Q(plan=None),
                name="treatment_plan_carries_out_none",
            ),
        ]
        indexes = [
            models.Index(fields=["orchard", "-ended_at", "-id"]),
        ]

    def __str__(self) -> str:
        return f"{self.kind} on {self.ended_at:%Y-%m-%d}"


class ProductUse(models.Model):
    """A product in the tank or on the brush of one treatment, with its amount."""

    class Unit(models.TextChoices):
        L = "L", _("L")
        ML = "mL", _("mL")
        KG = "kg", _("kg")
        G = "g", _("g")

    treatment = models.ForeignKey(
        Treatment, on_delete=models.PROTECT, related_name="products"
    )
    product = models.ForeignKey(Product, on_delete=models.PROTECT, related_name="uses")
    dose = models.FloatField(_("dose"), null=True, blank=True)
    dose_unit = models.CharField(
        max_length=16, choices=Product.DoseUnit.choices, blank=True
    )
    total = models.FloatField(_("product used"), null=True, blank=True)
    total_unit = models.CharField(max_length=2, choices=Unit.choices, blank=True)
    batch = models.CharField(_("lot number"), max_length=60, blank=True)
    expires_on = models.DateField(_("expires on"), null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["treatment", "product"], name="productuse_once_a_treatment"
            ),
            only("total_unit", ("L", "mL", "kg", "g"), blank=True),
            only("dose_unit", DOSE_UNITS, blank=True),
            _above_nothing("productuse", "dose"),
            _above_nothing("productuse", "total"),
            models.CheckConstraint(
                condition=Q(total=None) | ~Q(total_unit=""),
                name="productuse_total_has_unit",
            ),
        ]

    def __str__(self) -> str:
        return f"product {self.product_id} in treatment {self.treatment_id}"


class TreatedTreeQuerySet(models.QuerySet["TreatedTree"]):
    def in_orchard(self, orchard: Any) -> Self:
        return self.filter(orchard=orchard)

    def holding(self, moment: datetime) -> Self:
        """Only those of which a hold stands at a moment, or has no known end."""
        return self.filter(Q(open_from=None) | Q(open_from__gt=moment), counts=True)

    def parts_holding(self, orchard: Any, moment: datetime) -> tuple[Self, Self]:
        """Return those of a whole orchard in two parts, each short to find by an index.

        Asked for together they would read all of it.
        """
        each = self.filter(orchard=orchard, counts=True)
        return each.filter(open_from=None), each.filter(open_from__gt=moment)

    def holding_in(self, orchard: Any, moment: datetime) -> Self:
        """Those of a whole orchard, by both searches."""
        without_end, later = self.order_by().parts_holding(orchard, moment)
        numbers = without_end.values("pk").union(later.values("pk"), all=True)
        return self.filter(pk__in=numbers)


class TreatedTree(models.Model):
    """A tree that a treatment reached, and when what it holds comes free.

    A moment that is empty is not known: it is locked until somebody says. `open_from`
    is the last of all of them; `counts` follows whether the treatment stands and took
    place, so that holds are found by one index.
    """

    orchard = models.ForeignKey(
        "Orchard", on_delete=models.PROTECT, related_name="+", db_index=False
    )
    treatment = models.ForeignKey(
        Treatment, on_delete=models.PROTECT, related_name="reached"
    )
    tree = models.ForeignKey(
        "Tree", on_delete=models.PROTECT, related_name="treatments", db_index=False
    )
    reach = word(Reach)
    # Whether the labels name what this tree is; of one that they do not, fruit waits
    # until an adviser has given a day.
    is_on_label = models.BooleanField(default=True)
    adviser = models.CharField(max_length=160, blank=True)
    adviser_opens_at = models.DateTimeField(null=True, blank=True)
    entry_at = models.DateTimeField(null=True, blank=True)
    fruit_at = models.DateTimeField(null=True, blank=True)
    leaf_at = models.DateTimeField(null=True, blank=True)
    flower_at = models.DateTimeField(null=True, blank=True)
    open_from = models.DateTimeField(null=True, blank=True)
    counts = models.BooleanField(default=False)

    objects = TreatedTreeQuerySet.as_manager()

    class Meta:
        constraints = [
            only("reach", Reach),
            models.UniqueConstraint(
                fields=["treatment", "tree"], name="treatedtree_once_a_treatment"
            ),
            models.CheckConstraint(
                condition=Q(adviser_opens_at=None) | ~Q(adviser=""),
                name="treatedtree_adviser_named",
            ),
        ]
        indexes = [
            models.Index(
                fields=["orchard", "open_from", "tree"],
                condition=Q(counts=True),
                name="treatedtree_holding",
            ),
            models.Index(fields=["tree", "-treatment"], name="treatedtree_by_tree"),
        ]

    def __str__(self) -> str:
        return f"tree {self.tree_id} in treatment {self.treatment_id}"


class DryCheck(Correctable):
    """Somebody who may say so found that what was sprayed had dried."""

    orchard = models.ForeignKey("Orchard", on_delete=models.PROTECT, related_name="+")
    treatment = models.ForeignKey(
        Treatment, on_delete=models.PROTECT, related_name="dry_checks"
    )
    dry_at = models.DateTimeField(_("dry at"))
    # What makes them fit to say so: a licence, or who supervises them.
    qualified = models.CharField(_("licence or supervisor"), max_length=120)
    by = models.ForeignKey("User", on_delete=models.PROTECT, related_name="+")
    received_at = models.DateTimeField()

    objects = CorrectableQuerySet.as_manager()

    class Meta:
        constraints = [
            correction_is_explained(),
            withdrawal_is_whole(),
            models.CheckConstraint(
                condition=~Q(qualified=""), name="drycheck_says_who_may"
            ),
        ]

    def __str__(self) -> str:
        return f"dry at {self.dry_at:%Y-%m-%d %H:%M}"


class WetSpell(Correctable):
    """Rain, dew or sprinklers that wetted leaves in an orchard."""

    class Cause(models.TextChoices):
        RAIN = "rain", _("rain")
        DEW = "dew", _("dew")
        WATERING = "watering", _("sprinklers")

    orchard = models.ForeignKey("Orchard", on_delete=models.PROTECT, related_name="+")
    cause = models.CharField(max_length=8, choices=Cause.choices)
    began_at = models.DateTimeField(_("from"))
    ended_at = models.DateTimeField(_("to"))
    by = models.ForeignKey("User", on_delete=models.PROTECT, related_name="+")
    received_at = models.DateTimeField()

    objects = CorrectableQuerySet.as_manager()

    class Meta:
        constraints = [
            correction_is_explained(),
            withdrawal_is_whole(),
            only("cause", ("rain", "dew", "watering")),
            models.CheckConstraint(
                condition=Q(ended_at__gt=models.F("began_at")),
                name="wetspell_ends_after_start",
            ),
        ]
        indexes = [models.Index(fields=["orchard", "-began_at"])]

    def __str__(self) -> str:
        return f"{self.cause} from {self.began_at:%Y-%m-%d %H:%M}"


class HoldBreach(models.Model):
    """Work or picking that was done although a hold stood: kept, never refused."""

    orchard = models.ForeignKey(
        "Orchard", on_delete=models.PROTECT, related_name="hold_breaches"
    )
    tree = models.ForeignKey("Tree", on_delete=models.PROTECT, related_name="+")
    closure = models.ForeignKey(
        "Closure", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    harvest = models.ForeignKey(
        "Harvest", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    # The hold that stood, in the words it was shown in.
    hold = models.CharField(max_length=300)
    happened_at = models.DateTimeField()
    words = models.CharField(_("what happened"), max_length=500, blank=True)
    by = models.ForeignKey("User", on_delete=models.PROTECT, related_name="+")
    received_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(closure__isnull=False, harvest=None)
                | Q(closure=None, harvest__isnull=False),
                name="holdbreach_of_one_deed",
            ),
            models.CheckConstraint(
                condition=~Q(hold=""), name="holdbreach_says_which_hold"
            ),
        ]
        indexes = [models.Index(fields=["orchard", "-happened_at", "-id"])]

    def __str__(self) -> str:
        return f"breach on tree {self.tree_id}"
