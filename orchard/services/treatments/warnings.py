"""What speaks against a use and does not forbid it: said before it is planned."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from django.utils.formats import date_format
from django.utils.translation import gettext as _

from orchard.records.days import day_in
from orchard.records.models import Orchard, Treatment, Tree
from orchard.science import guide
from orchard.science.figures import days, figure
from orchard.science.holds import metres_apart
from orchard.science.words import ProtectionRule, Spread, TreatmentKind
from orchard.services import weather
from orchard.services.quantities import number_text, quantity
from orchard.services.treatments.checks import SPRAYED, copper_given, history_of
from orchard.services.treatments.lists import use_of
from orchard.services.treatments.shapes import Use


def warnings_of(
    use: Use, orchard: Orchard, *, besides: Treatment | None = None
) -> list[str]:
    """Say in sentences what speaks against a use, though no rule forbids it."""
    if use.kind is TreatmentKind.BENEFICIALS:
        return list(_sprayed_near(use, orchard))
    if not use.is_protection:
        return []
    return [
        *_warm(use, orchard),
        *_copper(use, orchard, besides),
        *_released_near(use, orchard),
        *_same_group(use, orchard, besides),
        *_drift(use, orchard),
    ]


def warnings_for(plan: Treatment) -> list[str]:
    """Say what speaks against a use that is planned."""
    return warnings_of(use_of(plan), plan.orchard, besides=plan)


def _warm(use: Use, orchard: Orchard) -> Iterator[str]:
    if use.get("method") not in SPRAYED and use.kind not in (
        TreatmentKind.OIL,
        TreatmentKind.SULFUR,
    ):
        return
    least, most = figure("spray_warn_c").value, figure("spray_most_c").value
    words = {
        "least": quantity(least, "°C", orchard.units),
        "most": quantity(most, "°C", orchard.units),
    }
    typed = use.get("temperature_c")
    if typed is not None:
        if least < typed <= most:
            text = _(
                "Above %(least)s a spray drifts and burns leaves: choose a cooler hour."
            )
            yield text % words
        return
    on = day_in(use.ended_at, orchard.time_zone)
    expected = weather.expected(orchard, on, on).get(on)
    if expected is not None and expected.tmax is not None and expected.tmax > least:
        words["expected"] = quantity(expected.tmax, "°C", orchard.units)
        text = _(
            "%(expected)s is forecast that day. Above %(least)s a spray drifts and "
            "burns leaves, above %(most)s nothing is sprayed: choose a cool hour."
        )
        yield text % words


def _copper(use: Use, orchard: Orchard, besides: Treatment | None) -> Iterator[str]:
    given, _size = copper_given(use, history_of(orchard, use, besides))
    most = figure("copper_most_g_m2").value
    share = figure("copper_warn_percent").value / 100
    if given is not None and share * most - 1e-9 <= given <= most + 1e-9:
        text = _(
            "With this use %(given)s of %(most)s g of copper per m² are given in seven "
            "years. Look for another way next time."
        )
        yield text % {"given": number_text(given), "most": number_text(most)}


def _near(use: Use, orchard: Orchard, kinds: Iterable[str]) -> Treatment | None:
    """Return the nearest treatment of some kinds on these trees, before or after."""
    around = days("beneficials_days")
    rows = (
        Treatment.objects.in_orchard(orchard)
        .current()
        .filter(
            kind__in=kinds,
            reached__tree__in=[tree.pk for tree in use.trees],
            ended_at__gt=use.ended_at - around,
            ended_at__lt=use.ended_at + around,
        )
        .distinct()
    )
    return min(
        rows,
        key=lambda row: (abs(row.ended_at - use.ended_at), row.pk),
        default=None,
    )


def _released_near(use: Use, orchard: Orchard) -> Iterator[str]:
    found = _near(use, orchard, [TreatmentKind.BENEFICIALS])
    if found is not None:
        text = _(
            "Beneficials were or will be released on these trees on %(day)s: a spray "
            "within %(days)d days may kill them."
        )
        yield text % _near_words(found, orchard)


def _sprayed_near(use: Use, orchard: Orchard) -> Iterator[str]:
    kinds = [
        key
        for key, rule in guide.load().treatments.items()
        if rule.protection is ProtectionRule.ALWAYS
    ]
    found = _near(use, orchard, kinds)
    if found is not None:
        text = _(
            "These trees were or will be treated on %(day)s: beneficials released "
            "within %(days)d days of it may die."
        )
        yield text % _near_words(found, orchard)


def _near_words(found: Treatment, orchard: Orchard) -> dict[str, object]:
    on = day_in(found.ended_at, orchard.time_zone)
    return {"day": date_format(on, "j M Y"), "days": days("beneficials_days").days}


def _same_group(use: Use, orchard: Orchard, besides: Treatment | None) -> Iterator[str]:
    """Warn where the last product used on these trees works the same way."""
    earlier = [
        row
        for row in history_of(orchard, use, besides)
        if row.product.action_group.strip()
    ]
    if not earlier:
        return
    last = earlier[0].treatment_id
    before = {
        row.product.action_group.strip().casefold()
        for row in earlier
        if row.treatment_id == last
    }
    for amount in use.amounts:
        group = amount.product.action_group.strip()
        if group and group.casefold() in before:
            text = _(
                "%(name)s is of action group %(group)s, as was the last one used here: "
                "twice in a row breeds resistance. Change the group."
            )
            yield text % {"name": amount.product.name, "group": group}


def _drift(use: Use, orchard: Orchard) -> Iterator[str]:
    """Propose neighbours that may get wet and are not named, where spots are mapped."""
    if use.get("method") not in SPRAYED:
        return
    blast = use.get("method") == Spread.AIR_BLAST
    reach = figure("drift_blast_m" if blast else "drift_m").value
    codes = neighbours_within(use, orchard, reach)
    if codes:
        text = _(
            "Within %(reach)s of these trees: %(codes)s. Name those that may get wet "
            "by drift; the same holds apply to them."
        )
        yield text % {
            "reach": quantity(reach, "m", orchard.units), "codes": ", ".join(codes)
        }  # fmt: skip


def neighbours_within(use: Use, orchard: Orchard, metres: float) -> list[str]:
    """List trees near the treated ones that a use does not name, by their codes."""
    named = {tree.pk for tree in use.reached}
    treated = {tree.pk for tree in use.trees}
    rows = Tree.objects.in_orchard(orchard).standing().order_by("code", "id")
    places = [
        (number, code, (float(latitude), float(longitude)))
        for number, code, latitude, longitude in rows.values_list(
            "pk", "code", "spot__latitude", "spot__longitude"
        )
        if latitude is not None and longitude is not None
    ]
    sources = [place for number, _code, place in places if number in treated]
    return [
        code
        for number, code, place in places
        if number not in named
        and any(metres_apart(source, place) <= metres for source in sources)
    ]
