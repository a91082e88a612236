"""What a use breaks: rules of the label, the law, the weather and the place.

A planned use that breaks one is refused with all of them; one that was done is kept
with them, as breaches.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from orchard.records.days import day_in
from orchard.records.models import Orchard, Product, ProductUse, Treatment, Tree
from orchard.science import guide, holds
from orchard.science.figures import days, figure, hours, stages
from orchard.science.words import (
    PublicUse,
    RecordProfile,
    Spread,
    TreatmentKind,
    WorkKind,
)
from orchard.services import weather
from orchard.services.errors import Refused
from orchard.services.holds import TreeHold, holds_of, moment_words
from orchard.services.quantities import in_words, number_text, quantity
from orchard.services.treatments import amounts
from orchard.services.treatments.crops import crops_of, is_on_label
from orchard.services.treatments.shapes import Amount, Breach, Use

SPRAYED = frozenset(
    {Spread.HAND_SPRAYER, Spread.KNAPSACK, Spread.AIR_BLAST, Spread.MIST}
)
# Whom to call, and where help comes to: needed before the first use.
CONTACTS = (
    "ambulance_phone",
    "poison_phone",
    "hospital",
    "access_point",
    "responsible_person",
    "environment_phone",
    "authority_phone",
)


def check_possible(use: Use, *, now: datetime, is_plan: bool) -> None:
    """Refuse what cannot be, whether planned or done.

    Raises:
        Refused (wrong_time): it ends before it starts, lies in the future, or in the
            past where it is planned. no_tree: no tree is named. tree_gone: a tree was
            not here then. wrong_product: of another kind. not_whole: an amount without
            its unit or with one of another sort. amount_differs: a total is off dose
            times size, without a reason. start_missing: the label limits the hours.
        Refused (no_reason): a home-garden product without a coordinator's reason.
    """
    started = use.started_at or use.ended_at
    if use.ended_at < started:
        raise Refused(
            _("It ends before it starts. Check both times."),
            code="wrong_time",
            field="ended_at",
        )
    if not is_plan and use.ended_at > now:
        raise Refused(
            _("That is in the future. Enter when it ended, or plan it instead."),
            code="wrong_time",
            field="ended_at",
        )
    if is_plan and use.ended_at < now:
        raise Refused(
            _("That is in the past. Enter a time to come, or record it as done."),
            code="wrong_time",
            field="ended_at",
        )
    if not use.trees:
        raise Refused(
            _("Name the trees: their codes, or the code of a block."),
            code="no_tree",
            field="trees",
        )
    _check_trees(use.reached, use.ended_at)
    for amount in use.amounts:
        _check_amount(use, amount)
    if use.started_at is None and any(
        amount.product.needs_hours for amount in use.amounts
    ):
        raise Refused(
            _("The label limits the hours of use. Enter the start time."),
            code="start_missing",
            field="started_at",
        )
    home_garden = any(amount.product.is_home_garden for amount in use.amounts)
    if use.is_protection and home_garden and not use.get("home_garden_reason"):
        raise Refused(
            _(
                "It is sold for home gardens. A coordinator's reason is needed to use "
                "it in a public orchard."
            ),
            code="no_reason",
            field="home_garden_reason",
        )


def _check_trees(trees: Iterable[Tree], at: datetime) -> None:
    for tree in trees:
        on = day_in(at, tree.orchard.time_zone)
        words = {"code": tree.code}
        if tree.removed_on and on > tree.removed_on:
            words["day"] = date_format(tree.removed_on, "j M Y")
            text = _(
                "%(code)s was removed on %(day)s. Leave it out, or correct the time."
            )
        elif tree.planted_on and on < tree.planted_on:
            words["day"] = date_format(tree.planted_on, "j M Y")
            text = _(
                "%(code)s was planted on %(day)s. Leave it out, or correct the time."
            )
        else:
            continue
        raise Refused(text % words, code="tree_gone", field="trees")


def _check_amount(use: Use, amount: Amount) -> None:
    name = {"name": amount.product.name}
    if amount.product.kind != use.kind:
        text = _("%(name)s is a product of another kind. Choose its own kind.")
        raise Refused(text % name, code="wrong_product", field="product")
    for number, unit in (
        (amount.dose, amount.dose_unit),
        (amount.total, amount.total_unit),
    ):
        if number is not None and not unit:
            text = _("%(name)s: give the unit of each amount.")
            raise Refused(text % name, code="not_whole", field="dose")
    if amount.dose is None or amount.total is None:
        return
    if not amounts.measures_alike(amount.dose_unit, amount.total_unit):
        text = _(
            "%(name)s: one amount is of a liquid, the other of a solid. Check the "
            "units."
        )
        raise Refused(text % name, code="not_whole", field="total_unit")
    expected = _expected(use, amount)
    if (
        expected is not None
        and amounts.off_by_too_much(
            amounts.used(amount.total, amount.total_unit), expected
        )
        and not use.get("amount_reason")
    ):
        small = "mL" if amount.total_unit in amounts.LIQUID else "g"
        units = use.trees[0].orchard.units
        words = name | {
            "expected": quantity(expected, small, units),
            "total": quantity(amount.total, amount.total_unit, units),
        }
        text = _(
            "%(name)s: dose times size is %(expected)s, and %(total)s was entered. "
            "Check the figures, or say why they differ."
        )
        raise Refused(text % words, code="amount_differs", field="amount_reason")


def _expected(use: Use, amount: Amount) -> float | None:
    assert amount.dose is not None
    return amounts.expected_total(
        amount.dose,
        amount.dose_unit,
        size=use.get("size"),
        size_unit=use.get("size_unit", ""),
        mix_litres=use.get("mix_litres"),
        trees=len(use.trees),
    )


def missing_from(use: Use, profile: RecordProfile) -> list[Breach]:
    """List what the record of a plant protection product must hold and does not.

    By the orchard's profile; what only the book asks for is asked of everybody.
    """
    if not use.is_protection:
        return []
    eu, au = profile is RecordProfile.EU, profile is RecordProfile.AU
    us, strictest = profile is RecordProfile.US, profile is RecordProfile.OTHER
    products = [amount.product for amount in use.amounts]
    restricted = any(product.is_restricted for product in products)
    sprays = use.get("method") in SPRAYED
    by_hand = use.get("method") == Spread.HAND_SPRAYER
    asked: list[tuple[bool, str, str]] = [
        (not products, "product", _("the product")),
        (
            any(not product.registration for product in products) and not au,
            "product",
            _("the registration number on the label"),
        ),
        (
            any(not product.ingredients for product in products) and not au,
            "product",
            _("the active ingredients on the label"),
        ),
        (use.started_at is None and not eu, "started_at", _("the start time")),
        (not use.get("use_type") and (eu or strictest), "use_type",
         _("the type of use")),
        (
            any(amount.dose is None for amount in use.amounts) and not us,
            "dose",
            _("the dose"),
        ),
        (
            any(amount.total is None for amount in use.amounts),
            "total",
            _("how much product was used"),
        ),
        (use.get("size") is None, "size", _("the size treated")),
        (
            any(product.needs_stage for product in products)
            and use.get("bbch") is None
            and (eu or strictest),
            "bbch",
            _("the growth stage"),
        ),
        (not use.get("applicator"), "applicator", _("who applied it")),
        (
            (eu or us or restricted)
            and not use.get("licence")
            and not use.get("home_garden_reason"),
            "licence",
            _("the licence number"),
        ),
        (au and not use.get("owner"), "owner", _("the owner or occupier")),
        (not use.get("target"), "target", _("what it is against")),
        (not use.get("method"), "method", _("how it was put out")),
        (
            sprays and not (au and by_hand) and use.get("wind_kmh") is None,
            "wind_kmh",
            _("the wind speed"),
        ),
        (
            sprays and not (au and by_hand) and not use.get("wind_from"),
            "wind_from",
            _("where the wind came from"),
        ),
        (
            any(product.needs_weather for product in products)
            and use.get("temperature_c") is None,
            "temperature_c",
            _("the air temperature"),
        ),
    ]  # fmt: skip
    text = _("The record lacks %(what)s.")
    return [
        Breach("missing", text % {"what": what}, field)
        for is_missing, field, what in asked
        if is_missing
    ]


def asked_for(kind: TreatmentKind, orchard: Orchard) -> frozenset[str]:
    """Name the fields that the record of a kind needs, whatever its label says.

    By the orchard's profile, for what is sprayed: where it is put out otherwise, less.
    """
    nothing = Use(kind, ended_at=orchard.founded_at, fields={"method": Spread.KNAPSACK})
    profile = RecordProfile(orchard.record_profile)
    fields = {breach.field for breach in missing_from(nothing, profile)}
    if not fields:
        return frozenset()
    fields |= {"method", "total"}
    return frozenset(fields if profile is RecordProfile.US else fields | {"dose"})


def broken_rules(
    use: Use,
    orchard: Orchard,
    *,
    today: date,
    is_plan: bool,
    besides: Treatment | None = None,
) -> list[Breach]:
    """List the rules that a use breaks, apart from what its record lacks.

    `besides` is the treatment that it corrects or carries out, which counts no more.
    """
    return [
        *_broken_by_place(use, orchard, today=today, is_plan=is_plan),
        *_broken_by_label(use, orchard, besides),
        *_broken_by_weather(use, orchard),
    ]


def _broken_by_place(
    use: Use, orchard: Orchard, *, today: date, is_plan: bool
) -> Iterator[Breach]:
    at = use.started_at or use.ended_at
    found = holds_of(orchard, [tree.pk for tree in use.trees], today=today, now=at)
    on = day_in(at, orchard.time_zone)
    for tree in use.trees:
        for hold in found.get(tree.pk, ()):
            # What began only later forbade nothing then.
            if _forbids(hold, use) and (hold.since is None or on >= hold.since):
                yield Breach(
                    "hold", f"{tree.code}: {hold.reason}", "trees"
                )  # fmt: skip
    if not use.is_protection:
        return
    if is_plan and any(not getattr(orchard, name) for name in CONTACTS):
        yield Breach(
            "contacts",
            _(
                "Enter the emergency contacts in the orchard's details first: "
                "ambulance, "
                "poison line, hospital, access point, who answers, environment line, "
                "plant-health authority."
            ),
        )
    products = [amount.product for amount in use.amounts]
    if orchard.public_use in ("", PublicUse.BANNED):
        yield Breach(
            "public_use",
            _(
                "The orchard's details don't allow plant protection products in this "
                "public garden."
            ),
        )
    elif orchard.public_use == PublicUse.LOW_RISK and not all(
        product.is_low_risk for product in products
    ):
        yield Breach(
            "public_use",
            _("Only products registered as low risk may be used in this garden."),
            "product",
        )


def _forbids(hold: TreeHold, use: Use) -> bool:
    if use.kind in (TreatmentKind.FERTILISER, TreatmentKind.MANURE):
        return hold.forbids([WorkKind.FEEDING])
    step = guide.load().holds[hold.kind]
    return step.all_work or (use.is_protection and "spray" in step.steps)


def _broken_by_label(
    use: Use, orchard: Orchard, besides: Treatment | None
) -> Iterator[Breach]:
    zone = ZoneInfo(orchard.time_zone)
    on = use.ended_at.astimezone(zone).date()
    licence_until = use.get("licence_until")
    if use.is_protection and licence_until is not None and licence_until < on:
        text = _("The licence ran out on %(day)s.")
        day = date_format(licence_until, "j M Y")
        yield Breach("licence", text % {"day": day}, "licence_until")
    for amount in use.amounts:
        product = amount.product
        if amount.expires_on is not None and amount.expires_on < on:
            text = _("%(name)s expired on %(day)s.")
            words = {
                "name": product.name, "day": date_format(amount.expires_on, "j M Y")
            }  # fmt: skip
            yield Breach("expired", text % words, "expires_on")
        yield from _above_the_label(amount)
        if use.is_protection:
            yield from _crops(product, use.trees)
    if not use.is_protection:
        return
    history = history_of(orchard, use, besides)
    for amount in use.amounts:
        yield from _too_often(amount.product, use, history, zone)
    yield from _oil_and_sulfur(use, history, zone)
    yield from _copper(use, history)


def _above_the_label(amount: Amount) -> Iterator[Breach]:
    product = amount.product
    if amount.dose is None or product.most_dose is None:
        return
    words = {"name": product.name, "most": number_text(product.most_dose)}
    words["unit"] = product.get_dose_unit_display()
    if amount.dose_unit != product.dose_unit:
        text = _("%(name)s: its label gives the dose in %(unit)s. Enter it so.")
        yield Breach("dose_unit", text % words, "dose_unit")
    elif amount.dose > product.most_dose:
        words["dose"] = number_text(amount.dose)
        text = _("%(name)s: %(dose)s is above the label's %(most)s %(unit)s.")
        yield Breach("dose", text % words, "dose")


def _crops(product: Product, trees: Iterable[Tree]) -> Iterator[Breach]:
    off = [tree for tree in trees if not is_on_label(product, tree)]
    if not off:
        return
    words = {
        "name": product.name,
        "codes": ", ".join(f"{tree.code} ({tree.kind.name})" for tree in off),
        "crops": "; ".join(crops_of(product)),
    }
    if not crops_of(product):
        text = _(
            "%(name)s: no crop of its label is on record. Enter them from the "
            "container."
        )
    else:
        text = _(
            "%(name)s: its label doesn't name what grows at %(codes)s; on record is: "
            "%(crops)s. If the container names it, correct the product: one crop a "
            "line, such as Citrus or Oranges."
        )
    yield Breach("crop", text % words, "trees")


def history_of(
    orchard: Orchard, use: Use, besides: Treatment | None
) -> list[ProductUse]:
    """List earlier uses on any of the trees, with their products, the newest first."""
    since = amounts.years_before(use.ended_at, round(figure("copper_years").value))
    rows = ProductUse.objects.filter(
        treatment__orchard=orchard,
        treatment__is_plan=False,
        treatment__superseded_at=None,
        treatment__withdrawn_at=None,
        treatment__ended_at__gt=since,
        treatment__ended_at__lte=use.ended_at,
        treatment__reached__tree__in=[tree.pk for tree in use.trees],
    )
    if besides is not None:
        rows = rows.exclude(treatment=besides)
    return list(
        rows.select_related("treatment", "product")
        .order_by("-treatment__ended_at", "-id")
        .distinct()
    )


def _too_often(
    product: Product, use: Use, history: list[ProductUse], zone: ZoneInfo
) -> Iterator[Breach]:
    actives = {row[0].casefold() for row in product.ingredients}
    alike = [
        row
        for row in history
        if row.product.name.casefold() == product.name.casefold()
        or actives & {each[0].casefold() for each in row.product.ingredients}
    ]
    if product.most_uses is not None:
        period = (
            timedelta(days=product.uses_days)
            if product.uses_days
            else days("uses_period_days")
        )
        since = use.ended_at - period
        count = len({r.treatment_id for r in alike if r.treatment.ended_at > since})
        if count >= product.most_uses:
            text = ngettext(
                "%(name)s: its label allows %(most)d use in %(days)d days, and there "
                "was %(count)d already.",
                "%(name)s: its label allows %(most)d uses in %(days)d days, and there "
                "were %(count)d already.",
                product.most_uses,
            )
            words = {
                "name": product.name, "most": product.most_uses, "days": period.days,
                "count": count,
            }  # fmt: skip
            yield Breach("most_uses", text % words, "product")
    same = [r for r in alike if r.product.name.casefold() == product.name.casefold()]
    if product.between_days and same:
        opens = holds.harvest_opens(
            same[0].treatment.ended_at, product.between_days, zone
        )
        if (use.started_at or use.ended_at) < opens:
            text = _("%(name)s: its label allows the next use from %(moment)s.")
            words = {"name": product.name, "moment": moment_words(opens, zone)}
            yield Breach("between", text % words, "product")


def _oil_and_sulfur(
    use: Use, history: list[ProductUse], zone: ZoneInfo
) -> Iterator[Breach]:
    other = {
        TreatmentKind.OIL: TreatmentKind.SULFUR,
        TreatmentKind.SULFUR: TreatmentKind.OIL,
    }.get(use.kind)
    last = next((row for row in history if row.treatment.kind == other), None)
    if last is None:
        return
    typed = [
        amount.product.oil_sulfur_days
        for amount in use.amounts
        if amount.product.oil_sulfur_days is not None
    ]
    gap = max(typed) if typed else days("oil_sulfur_gap_days").days
    opens = holds.harvest_opens(last.treatment.ended_at, gap, zone)
    if (use.started_at or use.ended_at) < opens:
        text = _(
            "Oil and sulfur burn leaves when used close together. Wait until "
            "%(moment)s, or enter the label's own interval."
        )
        words = {"moment": moment_words(opens, zone)}
        yield Breach("oil_sulfur", text % words, "product")


def _copper(use: Use, history: list[ProductUse]) -> Iterator[Breach]:
    given, size = copper_given(use, history)
    if given is None or size is None:
        return
    most = figure("copper_most_g_m2").value
    if given > most + 1e-9:
        text = _(
            "With this use %(given)s g of copper per m² were given in %(years)s years, "
            "and %(most)s is the most."
        )
        words = {
            "given": number_text(given),
            "most": number_text(most),
            "years": in_words(figure("copper_years").value),
        }
        yield Breach("copper", text % words, "total")


def copper_given(
    use: Use, history: list[ProductUse]
) -> tuple[float | None, float | None]:
    """Return the copper of its years with this use, g/m², and its own size, m²."""
    size = use.get("size") if use.get("size_unit") == Treatment.SizeUnit.M2 else None
    own = [
        ProductUse(product=a.product, total=a.total, total_unit=a.total_unit)
        for a in use.amounts
        if a.total is not None
    ]
    grams = amounts.copper_grams(own)
    if not grams or not size:
        return None, size
    given = grams / size
    for row in history:
        if row.treatment.size and row.treatment.size_unit == Treatment.SizeUnit.M2:
            given += amounts.copper_grams([row]) / row.treatment.size
    return given, size


def _broken_by_weather(use: Use, orchard: Orchard) -> Iterator[Breach]:
    if not use.is_protection:
        return
    units = orchard.units
    temperature, most = use.get("temperature_c"), figure("spray_most_c").value
    sprays = use.get("method") in SPRAYED
    if (
        temperature is not None
        and temperature > most
        and (sprays or use.kind in (TreatmentKind.OIL, TreatmentKind.SULFUR))
    ):
        text = _("%(now)s is too hot: nothing is sprayed above %(most)s.")
        words = {
            "now": quantity(temperature, "°C", units),
            "most": quantity(most, "°C", units),
        }
        yield Breach("heat", text % words, "temperature_c")
    wind = use.get("wind_kmh")
    least, highest = (
        figure("spray_wind_least_kmh").value,
        figure("spray_wind_most_kmh").value,
    )
    if sprays and wind is not None and not least <= wind <= highest:
        text = _(
            "Wind of %(wind)s: spray only in a steady %(least)s to %(most)s, away from "
            "people, water and hives."
        )
        words = {
            "wind": quantity(wind, "km/h", units),
            "least": quantity(least, "km/h", units),
            "most": quantity(highest, "km/h", units),
        }
        yield Breach("wind", text % words, "wind_kmh")
    if sprays and use.get("rain_expected"):
        text = _("Rain within %(hours)s hours: wait.")
        words = {"hours": number_text(figure("rain_after_spray_h").value)}
        yield Breach("rain", text % words, "rain_expected")
    bbch = use.get("bbch")
    in_bloom = bbch is not None and bbch in stages("bloom")
    if sprays and (in_bloom or use.get("weeds_flower")):
        yield Breach("bees", _("Bees: do not spray."), "bbch")
    if use.kind is TreatmentKind.OIL:
        if use.get("soil_is_dry"):
            text = _("No oil on thirsty trees. Water first, and wait a day.")
            yield Breach("thirst", text, "soil_is_dry")
        if _frost_within(orchard, use):
            text = _("Frost is forecast within %(hours)s hours: no oil.")
            words = {"hours": number_text(figure("frost_before_oil_h").value)}
            yield Breach("frost", text % words, "ended_at")


def _frost_within(orchard: Orchard, use: Use) -> bool:
    zone = ZoneInfo(orchard.time_zone)
    first = use.ended_at.astimezone(zone).date()
    last = (use.ended_at + hours("frost_before_oil_h")).astimezone(zone).date()
    limit = figure("frost_air_c").value
    nights = weather.expected(orchard, first, last).values()
    lows = [night.tmin for night in nights]
    return any(low is not None and low <= limit for low in lows)
