"""Treatments in words: until when what is closed, and the columns of the register."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo

from django.http import StreamingHttpResponse
from django.urls import reverse
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from orchard.records.days import day_in
from orchard.records.models import (
    Orchard,
    Product,
    ProductUse,
    TreatedTree,
    Treatment,
)
from orchard.science import guide
from orchard.science import holds as laws
from orchard.science.figures import figure
from orchard.science.words import (
    Droplets,
    EntryRule,
    Picked,
    Reach,
    RecordProfile,
    Spread,
    TreatmentKind,
)
from orchard.services import holds, treatments
from orchard.services.holds import SketchBlock
from orchard.services.quantities import number_text, quantity
from orchard.services.treatments import ClosedGroup, RegisterRow
from orchard.web.codes import codes_text
from orchard.web.pages.treatments.forms import (
    DROPS,
    ENTRY_RULES,
    LENGTHS,
    SPREADS,
    detail_labels,
)
from orchard.web.spreadsheets import csv_file

# A posting is read by people of either language, whatever that of the page.
SPANISH = {
    "keep_out": "NO ENTRAR",
    "treatment": "Tratamiento de las plantas",
    "place": "Lugar",
    "product": "Producto",
    "start": "Inicio",
    "end": "Fin",
    "entry": "Entrada desde",
    "not_before": "no antes de que se retire este cartel",
    "picking": "No recoger ni probar hasta",
    "removed": "que se retire este cartel",
    "contact": "Contacto",
    "emergency": "Emergencia",
    "poison": "Toxicología",
    "posted": "Colocado por, a las",
    "closed": "cerrado",
    "open": "abierto",
}


@dataclass(frozen=True, slots=True)
class TreatmentLine:
    """A treatment as one line of a list."""

    row: Treatment
    url: str
    name: str
    products: str
    trees: str


@dataclass(frozen=True, slots=True)
class ClosedLine:
    """Trees that are closed alike, in words."""

    trees: str
    entry: str
    fruit: str
    names: str


def rule_name(kind: str) -> str:
    """Return what the guide calls a kind of treatment."""
    return guide.load().treatments[TreatmentKind(kind)].name


def row_of(row: Treatment) -> TreatmentLine:
    """Write a treatment as one line."""
    reached = [each for each in row.reached.all() if each.reach == Reach.TREATED]
    return TreatmentLine(
        row=row,
        url=reverse("treatment-show", args=[row.orchard.slug, row.pk]),
        name=rule_name(row.kind),
        products=", ".join(use.product.name for use in row.products.all()),
        trees=codes_text([each.tree.code for each in reached]),
    )


def closed_row(row: ClosedGroup, zone: ZoneInfo) -> ClosedLine:
    """Say until when some trees are closed."""
    return ClosedLine(
        trees=codes_text(row.codes),
        entry=_until(row.entry, zone) if row.entry_is_closed else _("open"),
        fruit=_until(row.fruit, zone) if row.fruit_is_closed else _("open"),
        names=", ".join(rule_name(kind) for kind in row.kinds),
    )


def _until(moment: datetime | None, zone: ZoneInfo) -> str:
    if moment is None:
        return _("closed, end not known")
    words = {"moment": holds.moment_words(moment, zone)}
    return _("closed until %(moment)s") % words


@dataclass(frozen=True, slots=True)
class HoldLine:
    """What one hold of a treatment says, and whether it stands now."""

    text: str
    stands: bool


def holds_of(
    row: Treatment, first: TreatedTree | None, *, now: datetime
) -> list[HoldLine]:
    """Say until when a treatment keeps people and pickers out of the treated trees."""
    if first is None or row.is_plan or not row.is_current:
        return []
    zone = ZoneInfo(row.orchard.time_zone)
    opens = holds.openings_of(first)
    ends = [(holds.entry_words(opens.entry, zone), opens.entry)]
    for part in Picked:
        moment = opens.part_opens(part)
        ends.append((holds.harvest_words(part, moment, zone), moment))
    return [
        HoldLine(text, moment is None or moment > now)
        for text, moment in ends
        if moment is None or moment > row.ended_at
    ]


@dataclass(frozen=True, slots=True)
class UseLine:
    """A product of a use, and how much of it, in words."""

    product: Product
    amounts: str


def use_rows(uses: Iterable[ProductUse], orchard: Orchard) -> list[UseLine]:
    """Write the products of a use with their doses, totals and lots."""
    rows = []
    for use in uses:
        dose = total = batch = ""
        if use.dose is not None:
            dose = f"{number_text(use.dose)} {use.get_dose_unit_display()}"
        if use.total is not None:
            total = quantity(use.total, use.total_unit, orchard.units)
        if use.batch:
            batch = _("lot %(batch)s") % {"batch": use.batch}
        rows.append(UseLine(use.product, _joined(dose, total, batch)))
    return rows


@dataclass(frozen=True, slots=True)
class ReachedLine:
    """A tree that a treatment reached, how, and what it waits for."""

    code: str
    cultivar: str
    reach: str
    is_off_label: bool
    adviser: str


def reached_words(reached: Sequence[TreatedTree]) -> list[ReachedLine]:
    """Say of each tree how it was reached, and whether an adviser is asked."""
    names = {
        Reach.TREATED: _("treated"),
        Reach.DRIFT: _("wetted by drift"),
        Reach.BENEATH: _("stands beneath"),
    }
    return [
        ReachedLine(
            code=each.tree.code,
            cultivar=each.tree.kind.name,
            reach=names[Reach(each.reach)],
            is_off_label=not each.is_on_label,
            adviser=each.adviser,
        )
        for each in reached
    ]


def blocks_of(
    reached: Iterable[TreatedTree], sketch: Iterable[SketchBlock]
) -> list[tuple[str, str]]:
    """List the blocks of treated trees with their codes, or that it is all of them."""
    whole = {
        block.name: len(block.places)
        for block in sketch
        if len(block.places) > 1 and all(place.is_closed for place in block.places)
    }
    found: dict[str, list[str]] = {}
    for each in reached:
        found.setdefault(each.tree.spot.block.name, []).append(each.tree.code)
    rows = []
    for name, codes in found.items():
        text = ", ".join(codes)
        if name in whole:
            text = _("all %(count)d trees") % {"count": whole[name]}
        rows.append((name, text))
    return rows


def facts_of(row: Treatment) -> list[tuple[str, str]]:
    """List what was recorded of a use, as a heading and a text each."""
    units = row.orchard.units
    facts: list[tuple[Any, str]] = [
        (_("Against"), row.target),
        (_("How"), str(SPREADS[Spread(row.method)]) if row.method else ""),
        (_("Drops"), str(DROPS[Droplets(row.droplets)]) if row.droplets else ""),
        (_("Size treated"), _size(row)),
        (
            _("Mix made"),
            quantity(row.mix_litres, "L", units) if row.mix_litres else "",
        ),
        (_("Why the amount differs"), row.amount_reason),
        (_("Type of use"), row.get_use_type_display() if row.use_type else ""),
        (_("Growth stage (BBCH)"), "" if row.bbch is None else f"{row.bbch:02d}"),
        (_("Applied by"), _joined(row.applicator, row.applicator_contact)),
        (_("Licence"), _joined(row.licence, _day(row.licence_until))),
        (_("Supervised by"), row.supervisor),
        (_("Owner or occupier"), row.owner),
        (_("Why a home-garden product"), row.home_garden_reason),
        (_("Wind"), _wind(row)),
        (
            _("Temperature"),
            ""
            if row.temperature_c is None
            else quantity(row.temperature_c, "°C", units),
        ),
        (
            _("Humidity"),
            ""
            if row.humidity_percent is None
            else f"{number_text(row.humidity_percent)} %",
        ),
        (_("Note"), row.note),
    ]
    distance = exclusion_m(row)
    if distance:
        facts.append((_("Kept clear while spraying"), quantity(distance, "m", units)))
    return [(str(name), text) for name, text in facts if text]


def exclusion_m(row: Treatment) -> float:
    """Return how far people kept away while it was sprayed, m; 0 where no rule says."""
    fine = {Spread.AIR_BLAST, Spread.MIST}
    if row.method in fine or row.droplets == Droplets.FINE:
        return figure("exclusion_fine_m").value
    if row.method in (Spread.KNAPSACK, Spread.HAND_SPRAYER):
        return figure("exclusion_medium_m").value
    return 0.0


def _size(row: Treatment) -> str:
    if row.size is None:
        return ""
    units = row.orchard.units
    match row.size_unit:
        case Treatment.SizeUnit.M2:
            return quantity(row.size, "m²", units)
        case Treatment.SizeUnit.LITRES:
            text = _("%(volume)s of pot")
            return text % {"volume": quantity(row.size, "L", units)}
    return f"{number_text(row.size)} {row.get_size_unit_display()}"


def _wind(row: Treatment) -> str:
    if row.wind_kmh is None:
        return ""
    speed = f"{number_text(row.wind_kmh)} km/h"
    return _joined(speed, row.wind_from, row.wind_changes)


def _joined(*parts: str) -> str:
    return ", ".join(part for part in parts if part)


def _day(day: date | None) -> str:
    return date_format(day, "j M Y") if day else ""


def details_of(row: Treatment) -> list[tuple[str, str]]:
    """List what only this kind of treatment asks."""
    labels = detail_labels(row.orchard.units)
    found = []
    for key, value in row.details.items():
        text = _("yes") if value is True else str(value)
        if key in LENGTHS:
            text = quantity(float(value), "cm", row.orchard.units)
        found.append((labels.get(key, key), text))
    return found


def label_facts(row: Product) -> list[tuple[str, str]]:
    """List what a label says, as a heading and a text each."""
    unknown = _("not known: locked")
    protection = treatments.is_protection(TreatmentKind(row.kind), [row])
    entry = str(ENTRY_RULES[EntryRule(row.entry_rule)])
    if row.entry_hours is not None:
        entry = f"{entry}: {number_text(row.entry_hours)} h"

    def days(number: int | None) -> str:
        if number is None:
            return unknown
        text = ngettext("%(count)d day", "%(count)d days", number)
        return text % {"count": number}

    most = ""
    if row.most_dose is not None:
        most = f"{number_text(row.most_dose)} {row.get_dose_unit_display()}"
    facts: list[tuple[Any, str]] = [
        (_("Registration number"), row.registration),
        (
            _("Active ingredients"),
            ", ".join(f"{name} {content:g} {unit}" for name, content, unit in
                      row.ingredients),
        ),
        (_("Crops"), ", ".join(row.crops.split("\n"))),
        (_("Entry"), entry if protection else ""),
        (_("Before fruit is picked"), days(row.fruit_days) if protection else ""),
        (_("Before leaves are picked"), days(row.leaf_days) if protection else ""),
        (_("Before flowers are picked"), days(row.flower_days) if protection else ""),
        (_("Highest dose"), most),
        (
            _("Uses at most"),
            ""
            if row.most_uses is None
            else _("%(count)d in %(days)d days")
            % {
                "count": row.most_uses,
                "days": row.uses_days or round(figure("uses_period_days").value),
            },
        ),
        (
            _("Between uses"),
            "" if row.between_days is None else days(row.between_days),
        ),
        (_("Action group"), row.action_group),
        (_("Signal word"), row.signal_word),
        (_("Wear"), row.protection),
        (_("Distances"), row.buffers),
        (
            _("Nitrogen"),
            ""
            if row.nitrogen_percent is None
            else f"{number_text(row.nitrogen_percent)} %",
        ),
        (
            _("A litre covers"),
            "" if row.m2_per_litre is None else f"{number_text(row.m2_per_litre)} m²",
        ),
        (_("Held against the container"), _day(row.checked_on)),
    ]  # fmt: skip
    return [(str(name), text) for name, text in facts if text]


@dataclass(frozen=True, slots=True)
class ProductLine:
    """A product as one line of the list."""

    row: Product
    url: str
    waits: str
    unknown: str
    has_photo: bool


def product_row(row: Product) -> ProductLine:
    """Write a product as one line: how long to wait, and what is not known."""
    facts = dict(label_facts(row))
    waits = _joined(
        facts.get(str(_("Entry")), ""), facts.get(str(_("Before fruit is picked")), "")
    )
    return ProductLine(
        row=row,
        url=reverse("product-show", args=[row.orchard.slug, row.pk]),
        waits=waits,
        unknown=", ".join(treatments.unknown_of(row)),
        has_photo=any(photo.is_current for photo in row.photos.all()),
    )


def posting_of(row: Treatment, reached: Sequence[TreatedTree]) -> dict[str, Any]:
    """Return the moments of a posting: when it was, when it opens, when it comes down.

    Of a plan, what would follow from it as it is planned.
    """
    zone = ZoneInfo(row.orchard.time_zone)
    entries = [each.entry_at for each in reached]
    fruits = [moment for each in reached for moment in (each.fruit_at, each.leaf_at)]

    def last(moments: Sequence[datetime | None]) -> str:
        ends = [moment for moment in moments if moment is not None]
        if not ends or len(ends) < len(moments):
            return ""
        return holds.moment_words(max(ends), zone)

    return {
        "spanish": SPANISH,
        "started": holds.moment_words(row.started_at, zone),
        "ended": holds.moment_words(row.ended_at, zone),
        "entry": last(entries),
        "picking": last(fruits),
    }


def register_columns(orchard: Orchard) -> list[str]:
    """Return the headings of the register, by the orchard's profile."""
    return [heading for heading, _key in _columns(orchard)]


def _columns(orchard: Orchard) -> list[tuple[str, str]]:
    profile = RecordProfile(orchard.record_profile)
    us, au = profile is RecordProfile.US, profile is RecordProfile.AU
    number = _("EPA registration number") if us else _("Registration number")
    columns = [
        (_("Date"), "date"),
        (_("Start"), "start"),
        (_("End"), "end"),
        (_("Product"), "product"),
        (number, "registration"),
        (_("Active ingredients"), "ingredients"),
        (_("Dose"), "dose"),
        (_("Total used"), "total"),
        (_("Size treated"), "size"),
        (_("Place"), "place"),
        (_("Crop"), "crop"),
        (_("Against"), "target"),
        (_("Type of use"), "use_type"),
        (_("Growth stage"), "bbch"),
        (_("Applied by"), "applicator"),
        (_("Certification number") if us else _("Licence"), "licence"),
        (_("Method"), "method"),
        (_("Wind"), "wind"),
        (_("Temperature"), "temperature"),
        (_("Entry from"), "entry"),
        (_("Days to harvest"), "harvest"),
        (_("Lot number"), "batch"),
        (_("Label photo"), "label_photo"),
        (_("Photos of the use"), "photos"),
        (_("Written up"), "written"),
        (_("Keep until"), "kept"),
        (_("Remarks"), "remarks"),
    ]
    if au or profile is RecordProfile.OTHER:
        columns.insert(16, (_("Owner or occupier"), "owner"))
    return columns


def register_cells(row: RegisterRow, orchard: Orchard) -> list[str]:
    """Return one line of the register, cell by cell."""
    values = _register_values(row, orchard)
    return [values[key] for _heading, key in _columns(orchard)]


def _register_values(row: RegisterRow, orchard: Orchard) -> dict[str, str]:
    zone = ZoneInfo(orchard.time_zone)
    treated, use = row.treatment, row.use
    product = use.product if use is not None else None
    started, ended = (
        moment.astimezone(zone) for moment in (treated.started_at, treated.ended_at)
    )
    entry = next((each.entry_at for each in treated.reached.all()), None)
    return {
        "date": ended.date().isoformat(),
        "start": f"{started:%H:%M}",
        "end": f"{ended:%H:%M}",
        "product": product.name if product else rule_name(treated.kind),
        "registration": product.registration if product else "",
        "ingredients": ", ".join(
            f"{name} {content:g} {unit}"
            for name, content, unit in (product.ingredients if product else ())
        ),
        "dose": f"{number_text(use.dose)} {use.get_dose_unit_display()}"
        if use is not None and use.dose is not None
        else "",
        "total": quantity(use.total, use.total_unit, orchard.units)
        if use is not None and use.total is not None
        else "",
        "size": _size(treated),
        "place": ", ".join(row.codes),
        "crop": ", ".join(row.crops),
        "target": treated.target,
        "use_type": treated.get_use_type_display() if treated.use_type else "",
        "bbch": "" if treated.bbch is None else f"{treated.bbch:02d}",
        "applicator": treated.applicator,
        "licence": treated.licence,
        "owner": treated.owner,
        "method": str(SPREADS[Spread(treated.method)]) if treated.method else "",
        "wind": _wind(treated),
        "temperature": ""
        if treated.temperature_c is None
        else quantity(treated.temperature_c, "°C", orchard.units),
        "entry": holds.moment_words(entry, zone) if entry else _("not known"),
        "harvest": _days_to_harvest(product),
        "batch": use.batch if use is not None else "",
        "label_photo": ""
        if product is None
        else (_("yes") if row.has_label_photo else _("no")),
        "photos": str(row.photos or ""),
        "written": row.written_on.isoformat(),
        "kept": row.kept_until.isoformat(),
        "remarks": " ".join((*row.lacks, *row.broke)),
    }


def _days_to_harvest(product: Product | None) -> str:
    if product is None:
        return ""
    return _("not known") if product.fruit_days is None else str(product.fruit_days)


def register_file(
    orchard: Orchard, year: int, rows: Sequence[RegisterRow]
) -> StreamingHttpResponse:
    """Send the register of a year as a file for a spreadsheet."""

    def cells() -> Iterator[Iterable[str]]:
        yield register_columns(orchard)
        for row in rows:
            yield register_cells(row, orchard)

    name = f"treatments-{orchard.slug}-{year}.csv"
    return csv_file(name, cells(), ZoneInfo(orchard.time_zone))


def due_text(row: Treatment) -> tuple[date, date]:
    """Return when a use had to be written up, and how long its record is kept."""
    on = day_in(row.ended_at, row.orchard.time_zone)
    profile = RecordProfile(row.orchard.record_profile)
    return laws.record_due_on(on, profile), laws.record_kept_until(on, profile)
