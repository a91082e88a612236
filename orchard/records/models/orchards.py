"""Orchards, and what each pest is in their area."""

from __future__ import annotations

from datetime import date

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from orchard.records.columns import only, word
from orchard.records.days import day_in
from orchard.science.words import PublicUse, RecordProfile


class Orchard(models.Model):
    """One teaching garden: place, time zone, units, contacts, people."""

    class Units(models.TextChoices):
        METRIC = "metric", _("metric (°C, cm, kg)")
        US = "us", _("US (°F, inches, pounds)")

    class MaturityStandard(models.TextChoices):
        UNECE = "unece_ffv14", _("UNECE FFV-14, draft of 2019 (lemons 20 % juice)")
        UNECE_OLDER = (
            "unece_ffv14_older",
            _("UNECE FFV-14, text before 2019 (most lemons 25 % juice)"),
        )
        WESTERN_AUSTRALIA = (
            "western_australia",
            _("Western Australia, 2023 (lemons 25 % juice)"),
        )

    name = models.CharField(_("name"), max_length=120)
    slug = models.SlugField(max_length=60, unique=True)
    place = models.CharField(_("place"), max_length=160)
    time_zone = models.CharField(_("time zone"), max_length=64)
    latitude = models.DecimalField(_("latitude"), max_digits=8, decimal_places=5)
    longitude = models.DecimalField(_("longitude"), max_digits=8, decimal_places=5)
    elevation_m = models.IntegerField(_("height above the sea, m"), default=0)
    units = models.CharField(
        _("units"), max_length=8, choices=Units.choices, default=Units.METRIC
    )
    # Season-month days ("SM9-01"), so that no month name is wired in.
    frost_from = models.CharField(_("frost season from"), max_length=8, blank=True)
    frost_to = models.CharField(_("frost season to"), max_length=8, blank=True)
    fruit_fly_area = models.BooleanField(_("in a fruit-fly area"), default=False)
    maturity_standard = models.CharField(
        _("fruit is held against"),
        max_length=20,
        choices=MaturityStandard.choices,
        default=MaturityStandard.UNECE,
    )
    authority_name = models.CharField(
        _("plant-health authority"), max_length=160, blank=True
    )
    authority_contact = models.CharField(
        _("how to reach it"), max_length=200, blank=True
    )
    authority_phone = models.CharField(
        _("phone of the authority"), max_length=40, blank=True
    )
    # Whom people ring from the tree at a suspicion, before anybody else.
    report_name = models.CharField(
        _("whom to ring from the tree"), max_length=120, blank=True
    )
    report_phone = models.CharField(_("number to ring"), max_length=40, blank=True)
    emergency_note = models.TextField(_("in an emergency"), blank=True)
    # A region of the guide: where the suggested standing of pests comes from.
    region = models.CharField(_("region"), max_length=24, blank=True)
    # Hours a week that the crew gives; unset is not nothing.
    crew_hours = models.PositiveSmallIntegerField(
        _("hours of work a week"), null=True, blank=True
    )
    # Since when nothing picked leaves the place, and what the authority wrote about it.
    quarantine_from = models.DateField(
        _("under quarantine since"), null=True, blank=True
    )
    quarantine_words = models.CharField(
        _("what the authority wrote"), max_length=1000, blank=True
    )
    # Whose law the record of a plant protection product follows.
    record_profile = word(RecordProfile, default=RecordProfile.OTHER.value)
    # Not set is as good as banned.
    public_use = word(PublicUse, blank=True)
    # Whom to call when somebody is hurt, and where help comes to.
    ambulance_phone = models.CharField(_("ambulance"), max_length=40, blank=True)
    poison_phone = models.CharField(_("poison line"), max_length=40, blank=True)
    hospital = models.CharField(_("nearest hospital"), max_length=200, blank=True)
    access_point = models.CharField(
        _("where an ambulance comes in"), max_length=200, blank=True
    )
    responsible_person = models.CharField(
        _("who answers for treatments"), max_length=160, blank=True
    )
    environment_phone = models.CharField(
        _("environment line"), max_length=40, blank=True
    )
    # The set of ranges that the orchard goes by in leaf analyses, and who chose it.
    leaf_set = models.CharField(_("our set of leaf ranges"), max_length=24, blank=True)
    leaf_set_by = models.ForeignKey(
        "User", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    leaf_set_at = models.DateTimeField(null=True, blank=True)
    # A page for visitors, outside the sign-in: none until the coordinator wants it.
    public_page = models.BooleanField(_("page for visitors"), default=False)
    visiting_words = models.CharField(
        _("when to come, and how"), max_length=1000, blank=True
    )
    founded_at = models.DateTimeField()

    class Meta:
        constraints = [
            only("units", ("metric", "us")),
            only("record_profile", RecordProfile),
            only("public_use", PublicUse, blank=True),
            only(
                "maturity_standard",
                ("unece_ffv14", "unece_ffv14_older", "western_australia"),
            ),
            models.CheckConstraint(
                condition=Q(latitude__gte=-90, latitude__lte=90),
                name="orchard_latitude_on_earth",
            ),
            models.CheckConstraint(
                condition=Q(longitude__gte=-180, longitude__lte=180),
                name="orchard_longitude_on_earth",
            ),
            models.CheckConstraint(
                condition=Q(quarantine_from=None, quarantine_words="")
                | (Q(quarantine_from__isnull=False) & ~Q(quarantine_words="")),
                name="orchard_quarantine_whole",
            ),
            models.CheckConstraint(
                condition=Q(leaf_set="", leaf_set_at=None, leaf_set_by=None)
                | Q(leaf_set_at__isnull=False, leaf_set_by__isnull=False),
                name="orchard_leaf_set_whole",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.name} ({self.slug})"

    @property
    def founded_on(self) -> date:
        """Give the day on which it was founded, by its own calendar."""
        return day_in(self.founded_at, self.time_zone)

    @property
    def report_calls(self) -> tuple[tuple[str, str], ...]:
        """Whom to ring at a suspicion, each with the number, the first first."""
        rows = (
            (self.report_name, self.report_phone),
            (self.authority_name, self.authority_phone),
        )
        return tuple((name, phone) for name, phone in rows if phone)


class PestStatus(models.Model):
    """What a pest is in this orchard's area: the site's own list."""

    orchard = models.ForeignKey(
        Orchard, on_delete=models.PROTECT, related_name="pest_statuses"
    )
    code = models.CharField(_("EPPO code"), max_length=32)
    status = models.CharField(_("status here"), max_length=12)
    source = models.CharField(_("who says so"), max_length=200, blank=True)
    set_by = models.ForeignKey(
        "User", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    set_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["orchard", "code"], name="pest_status_once_per_orchard"
            ),
            only("status", ("absent", "regulated", "common")),
        ]

    def __str__(self) -> str:
        return f"{self.code}: {self.status}"
