"""Weather: stations, their days, own readings, and what was forecast."""

from __future__ import annotations

from typing import Any, Self

from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Lower
from django.utils.translation import gettext_lazy as _

from orchard.records.columns import (
    Correctable,
    CorrectableQuerySet,
    correction_is_explained,
    only,
    withdrawal_is_whole,
)


def in_range(field: str, low: float, high: float) -> models.CheckConstraint:
    """Return the check that a measured value, where there is one, can be true."""
    return models.CheckConstraint(
        condition=Q(**{field: None})
        | Q(**{f"{field}__gte": low, f"{field}__lte": high}),
        name=f"%(class)s_{field}_possible",
    )


def in_order(low: str, high: str) -> models.CheckConstraint:
    """Return the check that a minimum is not above its maximum."""
    return models.CheckConstraint(
        condition=Q(**{low: None}) | Q(**{high: None}) | Q(**{f"{low}__lte": F(high)}),
        name=f"%(class)s_{low}_below_{high}",
    )


# What was ever measured near the ground lies within. Source: WMO, World Weather and
# Climate Extremes Archive: -89.2 to 56.7 °C, 1825 mm of rain in a day (from memory).
TEMPERATURE = (-90.0, 60.0)
RAIN_MM = (0.0, 2000.0)
WIND = (0.0, 100.0)
HUMIDITY = (0.0, 100.0)


class Station(models.Model):
    """Where days of weather come from: the orchard's own, or somebody's record."""

    class Sort(models.TextChoices):
        OWN = "own", _("the orchard's own station")
        RECORD = "record", _("a record kept elsewhere")

    orchard = models.ForeignKey(
        "Orchard", on_delete=models.PROTECT, related_name="stations"
    )
    name = models.CharField(_("name"), max_length=80)
    sort = models.CharField(
        _("what it is"), max_length=8, choices=Sort.choices, default=Sort.RECORD
    )
    source = models.CharField(_("where its figures come from"), max_length=200)
    elevation_m = models.IntegerField(
        _("height above the sea, m"), null=True, blank=True
    )
    made_by = models.ForeignKey("User", on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                "orchard", Lower("name"), name="station_name_once_per_orchard"
            ),
            only("sort", ("own", "record")),
            in_range("elevation_m", -450, 9000),
        ]

    def __str__(self) -> str:
        return self.name


class Intake(models.Model):
    """A weather file as it was taken in: whose, from where, each column read how."""

    class Sort(models.TextChoices):
        DAYS = "days", _("days measured")
        FORECAST = "forecast", _("a forecast")

    orchard = models.ForeignKey("Orchard", on_delete=models.PROTECT, related_name="+")
    station = models.ForeignKey(
        Station,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="intakes",
    )
    sort = models.CharField(max_length=8, choices=Sort.choices)
    file_name = models.CharField(max_length=120)
    # By field: {"tmin": {"column": "Lowest", "unit": "°F"}}.
    columns = models.JSONField(default=dict)
    days = models.PositiveIntegerField(default=0)
    by = models.ForeignKey("User", on_delete=models.PROTECT, related_name="+")
    taken_at = models.DateTimeField()

    class Meta:
        constraints = [
            # Knows the sorts as well.
            models.CheckConstraint(
                condition=Q(sort="days", station__isnull=False)
                | Q(sort="forecast", station=None),
                name="intake_days_have_a_station",
            ),
        ]
        indexes = [models.Index(fields=["orchard", "-taken_at", "-id"])]

    def __str__(self) -> str:
        return f"{self.file_name} ({self.days} days)"


class WeatherDayQuerySet(CorrectableQuerySet["WeatherDay"]):
    def in_orchard(self, orchard: Any) -> Self:
        return self.filter(station__orchard=orchard)


class WeatherDay(Correctable):
    """One day at one station; every value with where it comes from, gaps left open."""

    MEASURED = (
        "tmin",
        "tmax",
        "tmean",
        "rain_mm",
        "rh_mean",
        "rh_min",
        "rh_max",
        "dew_point",
        "wind_2m",
        "sunshine_hours",
        "solar",
    )

    station = models.ForeignKey(
        Station, on_delete=models.PROTECT, related_name="days", db_index=False
    )
    on = models.DateField(_("day"))
    tmin = models.FloatField(_("lowest, °C"), null=True, blank=True)
    tmax = models.FloatField(_("highest, °C"), null=True, blank=True)
    tmean = models.FloatField(_("mean, °C"), null=True, blank=True)
    rain_mm = models.FloatField(_("rain, mm"), null=True, blank=True)
    rh_mean = models.FloatField(_("mean humidity, %"), null=True, blank=True)
    rh_min = models.FloatField(_("lowest humidity, %"), null=True, blank=True)
    rh_max = models.FloatField(_("highest humidity, %"), null=True, blank=True)
    dew_point = models.FloatField(_("dew point, °C"), null=True, blank=True)
    wind_2m = models.FloatField(_("wind at 2 m, m/s"), null=True, blank=True)
    sunshine_hours = models.FloatField(_("sunshine, h"), null=True, blank=True)
    solar = models.FloatField(_("sunlight, MJ/m²"), null=True, blank=True)
    intake = models.ForeignKey(
        Intake, on_delete=models.PROTECT, related_name="rows", null=True, blank=True
    )
    # Where the file had it, and what stood there: {"tmin": "41"}.
    row_number = models.PositiveIntegerField(null=True, blank=True)
    written = models.JSONField(default=dict, blank=True)
    # By field, why a value is missing or doubtful: {"rain_mm": "impossible"}.
    flags = models.JSONField(default=dict, blank=True)
    by = models.ForeignKey("User", on_delete=models.PROTECT, related_name="+")
    received_at = models.DateTimeField()

    objects = WeatherDayQuerySet.as_manager()

    class Meta:
        constraints = [
            correction_is_explained(),
            withdrawal_is_whole(),
            models.UniqueConstraint(
                fields=["station", "on"],
                condition=Q(superseded_at=None, withdrawn_at=None),
                name="weatherday_once_per_station",
            ),
            *(in_range(field, *TEMPERATURE) for field in ("tmin", "tmax", "tmean")),
            in_range("dew_point", *TEMPERATURE),
            *(in_range(field, *HUMIDITY) for field in ("rh_mean", "rh_min", "rh_max")),
            in_range("rain_mm", *RAIN_MM),
            in_range("wind_2m", *WIND),
            in_range("sunshine_hours", 0.0, 24.0),
            in_range("solar", 0.0, 50.0),
            in_order("tmin", "tmax"),
            in_order("rh_min", "rh_max"),
        ]
        indexes = [models.Index(fields=["station", "on", "-id"])]

    def __str__(self) -> str:
        return f"weather of {self.on}"


class Reading(Correctable):
    """One reading of the orchard's own thermometer, by a person."""

    class What(models.TextChoices):
        NOW = "now", _("as it stands now")
        LOWEST = "lowest", _("lowest of the night")
        HIGHEST = "highest", _("highest of the day")

    orchard = models.ForeignKey(
        "Orchard", on_delete=models.PROTECT, related_name="readings", db_index=False
    )
    spot = models.ForeignKey(
        "Spot",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="readings",
    )
    what = models.CharField(_("what was read"), max_length=8, choices=What.choices)
    at = models.DateTimeField(_("when"))
    # The orchard's day; the lowest of a night belongs to the day it ends on.
    on = models.DateField()
    celsius = models.FloatField(_("temperature"))
    dew_point = models.FloatField(_("dew point"), null=True, blank=True)
    # The orchard's own offset is learnt from such nights alone; None: nobody said.
    calm_clear = models.BooleanField(_("still and clear night"), null=True, blank=True)
    note = models.CharField(_("note"), max_length=500, blank=True)
    by = models.ForeignKey("User", on_delete=models.PROTECT, related_name="+")
    received_at = models.DateTimeField()

    objects = CorrectableQuerySet.as_manager()

    class Meta:
        constraints = [
            correction_is_explained(),
            withdrawal_is_whole(),
            only("what", ("now", "lowest", "highest")),
            in_range("celsius", *TEMPERATURE),
            in_range("dew_point", *TEMPERATURE),
        ]
        indexes = [models.Index(fields=["orchard", "-on", "-id"])]

    def __str__(self) -> str:
        return f"{self.celsius:g} °C on {self.on}"


class ForecastQuerySet(models.QuerySet["Forecast"]):
    def in_orchard(self, orchard: Any) -> Self:
        return self.filter(orchard=orchard)

    def newest_last(self) -> Self:
        """Order so that of each day the forecast that counts comes last."""
        return self.order_by("for_on", "made_at", "id")


class Forecast(models.Model):
    """What was forecast for a day, and when; the newest counts, older ones stay.

    The minimum of a day is mostly reached at its dawn: tonight's is tomorrow's.
    """

    EXPECTED = ("tmin", "tmax", "dew_point", "wind", "cloud", "rain_mm")

    orchard = models.ForeignKey(
        "Orchard", on_delete=models.PROTECT, related_name="forecasts", db_index=False
    )
    for_on = models.DateField(_("for the day"))
    made_at = models.DateTimeField(_("made"))
    source = models.CharField(_("whose forecast"), max_length=120)
    tmin = models.FloatField(_("lowest"), null=True, blank=True)
    tmax = models.FloatField(_("highest"), null=True, blank=True)
    dew_point = models.FloatField(_("dew point"), null=True, blank=True)
    wind = models.FloatField(_("wind"), null=True, blank=True)
    cloud = models.FloatField(_("cloud, % of the sky"), null=True, blank=True)
    rain_mm = models.FloatField(_("rain"), null=True, blank=True)
    intake = models.ForeignKey(
        Intake, on_delete=models.PROTECT, related_name="+", null=True, blank=True
    )
    row_number = models.PositiveIntegerField(null=True, blank=True)
    written = models.JSONField(default=dict, blank=True)
    by = models.ForeignKey("User", on_delete=models.PROTECT, related_name="+")
    received_at = models.DateTimeField()

    objects = ForecastQuerySet.as_manager()

    class Meta:
        constraints = [
            in_range("tmin", *TEMPERATURE),
            in_range("tmax", *TEMPERATURE),
            in_range("dew_point", *TEMPERATURE),
            in_range("wind", *WIND),
            in_range("cloud", 0.0, 100.0),
            in_range("rain_mm", *RAIN_MM),
            in_order("tmin", "tmax"),
        ]
        indexes = [models.Index(fields=["orchard", "for_on", "made_at", "id"])]

    def __str__(self) -> str:
        return f"forecast for {self.for_on}"
