"""Feeding: the nitrogen of a year for one tree, what it was given, what comes next."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, datetime, time
from zoneinfo import ZoneInfo

from django.utils.formats import date_format
from django.utils.translation import gettext as _

from orchard.records.models import Product, ProductUse, Tree
from orchard.science import feeding as law
from orchard.science import windows
from orchard.science.feeding import YearOfFeed
from orchard.science.figures import days
from orchard.science.words import TreatmentKind, WorkKind
from orchard.services import holds, treatments

# Feeding starts before growth does, and ends early enough for it to harden.
SEASON = "SM12-15..SM6-15"


@dataclass(frozen=True, slots=True)
class ProductDose:
    """How much of a product brings one dose of nitrogen, g."""

    product: Product
    grams: float


@dataclass(frozen=True, slots=True)
class FeedingAdvice:
    """What a tree is fed this year, as far as it is known.

    `why_not` says in a sentence why nothing is fed now; nothing when it may be.
    """

    year: YearOfFeed | None
    crown_m: float | None
    litres: float | None
    given_grams: float
    # Uses of this season whose product has no nitrogen on record.
    uncounted: int
    season: tuple[date, date]
    why_not: str
    products: tuple[ProductDose, ...]

    @property
    def left_grams(self) -> float:
        """Return the nitrogen that is still to be given this year, g."""
        return max(self.year.grams - self.given_grams, 0.0) if self.year else 0.0

    @property
    def dose_grams(self) -> float:
        """Return the nitrogen of the next dose, g: never more than is left."""
        return min(self.year.dose_grams, self.left_grams) if self.year else 0.0


def advice_for(tree: Tree, *, now: datetime, today: date) -> FeedingAdvice:
    """Return how much a tree is fed, what it was given, and why nothing now."""
    crown = tree.crowns.newest_sizes(today).get(tree.pk)
    width = crown.width_m if crown else None
    litres = float(tree.container_litres) if tree.container_litres else None
    season = _season(tree, today)
    given, uncounted = _given(tree, season[0], now)
    year = _year(tree, width, litres, today)
    advice = FeedingAdvice(
        year=year,
        crown_m=width,
        litres=litres,
        given_grams=given,
        uncounted=uncounted,
        season=season,
        why_not=_why_not(tree, year, width, litres, given, season, now, today),
        products=(),
    )
    if not advice.dose_grams:
        return advice
    doses = tuple(
        ProductDose(row, advice.dose_grams / (row.nitrogen_percent / 100))
        for row in treatments.products_of(tree.orchard, TreatmentKind.FERTILISER)
        if row.nitrogen_percent
    )
    return replace(advice, products=doses)


def _year(
    tree: Tree, width: float | None, litres: float | None, today: date
) -> YearOfFeed | None:
    planted = tree.dates.planted_days_on(today)
    if tree.setting == Tree.Setting.CONTAINER:
        return law.nitrogen_by_pot(litres, planted) if litres else None
    age = tree.dates.age_on(today)
    if width is None or age is None:
        return None
    return law.nitrogen_by_crown(tree.kind.group, width, age, planted)


def _season(tree: Tree, today: date) -> tuple[date, date]:
    """Return the feeding season that runs today, or else the next one."""
    orchard = tree.orchard
    latitude = float(orchard.latitude)
    [span] = windows.read_spans(SEASON)
    year = windows.season_year(today, latitude)
    for begins in (year - 1, year, year + 1):
        first, last = span.dates(begins, latitude)
        if orchard.frost_from and orchard.frost_to:
            [frost] = windows.read_spans(f"{orchard.frost_from}..{orchard.frost_to}")
            # The frost season that follows this growth.
            starts = frost.dates(begins + 1, latitude)[0]
            last = min(last, starts - days("feed_before_frost_days"))
        if today <= last:
            return first, last
    return first, last


def _given(tree: Tree, since: date, now: datetime) -> tuple[float, int]:
    """Return the nitrogen that a tree was given since a day, g, and uses left out."""
    zone = ZoneInfo(tree.orchard.time_zone)
    rows = ProductUse.objects.filter(
        treatment__reached__tree=tree,
        treatment__reached__counts=True,
        treatment__kind=TreatmentKind.FERTILISER,
        treatment__ended_at__gte=datetime.combine(since, time(), tzinfo=zone),
        treatment__ended_at__lte=now,
    ).select_related("product", "treatment")
    grams, uncounted = 0.0, 0
    for row in rows:
        amount = _grams_a_tree(row)
        if amount is None or row.product.nitrogen_percent is None:
            uncounted += 1
        else:
            grams += amount * row.product.nitrogen_percent / 100
    return grams, uncounted


def _grams_a_tree(row: ProductUse) -> float | None:
    if row.dose is not None and row.dose_unit == Product.DoseUnit.G_PER_TREE:
        return row.dose
    if row.total is None or row.total_unit not in ("g", "kg"):
        return None
    total = row.total * (1000 if row.total_unit == "kg" else 1)
    return total / max(row.treatment.reached.count(), 1)


def _why_not(
    tree: Tree,
    year: YearOfFeed | None,
    width: float | None,
    litres: float | None,
    given: float,
    season: tuple[date, date],
    now: datetime,
    today: date,
) -> str:
    if tree.state != Tree.State.GROWING:
        return _("It no longer grows here.")
    found = holds.holds_of(
        tree.orchard, [tree.pk], today=today, now=now, forbidding=WorkKind.FEEDING
    )
    if reasons := [hold.reason for hold in found.get(tree.pk, ())]:
        return " ".join(reasons)
    if tree.setting == Tree.Setting.CONTAINER and litres is None:
        return _("No figure: enter the litres of its pot first.")
    if tree.setting == Tree.Setting.GROUND and width is None:
        return _("No figure: measure its crown first.")
    if tree.setting == Tree.Setting.GROUND and tree.dates.age_on(today) is None:
        return _("No figure: enter when it was planted first.")
    if year is None:
        planted = tree.dates.last_planted_on
        day = planted + days("planting_settles_days") if planted else today
        return _("Its roots have not grown in yet. No feed before %(day)s.") % {
            "day": date_format(day, "j M Y")
        }
    first, last = season
    if not first <= today <= last:
        text = _("Out of season. Feed from %(first)s to %(last)s.")
        return text % {
            "first": date_format(first, "j M Y"), "last": date_format(last, "j M Y")
        }  # fmt: skip
    if given >= year.grams:
        return _("It has had its nitrogen for this season.")
    return ""
