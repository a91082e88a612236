"""Days of air: what each took by what was measured, and why one is not known."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import NamedTuple

from django.utils.formats import date_format
from django.utils.translation import gettext as _

from orchard.records.models import Orchard
from orchard.science import water, weather
from orchard.science.figures import figure
from orchard.services.weather import Day, Missing


class AirDay(NamedTuple):
    """One day: what the air took (mm), by which method, and what fell.

    Where it was estimated, `et0_low` and `et0_high` say between what it may lie.
    """

    on: date
    et0: float | None
    method: str
    estimated: tuple[str, ...]
    rain_mm: float | None
    counted_mm: float | None
    kc: float
    why_not: str
    is_estimated: bool = False
    et0_low: float | None = None
    et0_high: float | None = None

    @property
    def is_whole(self) -> bool:
        return self.et0 is not None and self.rain_mm is not None

    @property
    def need_mm(self) -> float | None:
        return None if self.et0 is None else self.et0 * self.kc


def air_day(orchard: Orchard, day: Day | Missing, cover: str) -> AirDay:
    """Return what the air took on a day by what was measured, or why it is not known.

    Penman-Monteith with FAO-56's rules for what is missing, which are named; by
    temperatures alone, Hargreaves: that is FAO-56's own way for such stations.
    """
    latitude, elevation = float(orchard.latitude), float(orchard.elevation_m)
    # Litres are counted over the crown circle, all of which lies under the crown.
    share = figure("crown_canopy_share").value
    kc = water.crop_coefficient_on(day.on, latitude, share, cover)

    def without(sentence: str, rain: float | None = None) -> AirDay:
        return AirDay(day.on, None, "", (), rain, None, kc, sentence)

    if isinstance(day, Missing):
        return without(_("no data for this day"))
    rain = day.rain_mm
    if day.range is None:
        return without(_("lowest or highest temperature missing"), rain)
    _on, low, high = day.range
    try:
        if _only_temperatures(day):
            et0 = weather.hargreaves_et(day.on, latitude, low, high)
            method = _("Hargreaves, from temperatures alone")
            estimated: tuple[str, ...] = (_("all but temperature"),)
        else:
            reference = weather.reference_et(
                day.on,
                latitude,
                elevation,
                low,
                high,
                ea=(
                    weather.saturation_vapour_pressure(day.dew_point)
                    if day.dew_point is not None
                    else None
                ),
                rh_mean=day.rh_mean,
                rh_min=day.rh_min if day.rh_max is not None else None,
                rh_max=day.rh_max,
                wind_2m=day.wind_2m,
                solar=day.solar,
                sunshine_hours=day.sunshine_hours,
            )
            et0, method = reference.mm, _("Penman-Monteith")
            estimated = tuple(_estimated(name) for name in reference.estimated)
    except ValueError:
        return without(_("the values of this day contradict each other"), rain)
    why_not = "" if rain is not None else _("rain missing")
    counted = None if rain is None else water.counted_rain(rain, et0)
    return AirDay(day.on, et0, method, estimated, rain, counted, kc, why_not)


def _only_temperatures(day: Day) -> bool:
    names = ("dew_point", "rh_mean", "rh_max", "wind_2m", "solar", "sunshine_hours")
    return all(day.value(name) is None for name in names)


def _estimated(name: str) -> str:
    return {
        "vapour pressure": _("humidity"),
        "wind": _("wind"),
        "solar radiation": _("sunlight"),
    }.get(name, name)


def named(missing: Sequence[AirDay]) -> str:
    """Name days without data, each with what is missing."""
    return ", ".join(
        f"{date_format(day.on, 'D j M')} ({day.why_not})" for day in missing
    )
