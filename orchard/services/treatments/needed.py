"""How much a use takes: paint for trunks, mix for a pot, mulch, product by its dose."""

from __future__ import annotations

import re
from collections.abc import Iterator

from django.utils.translation import gettext as _

from orchard.records.models import Treatment
from orchard.science import volumes
from orchard.science.words import TreatmentAsk, TreatmentKind
from orchard.services.explained import Input, Number
from orchard.services.treatments import amounts
from orchard.services.treatments.lists import use_of
from orchard.services.treatments.shapes import Amount, Use

Ask = TreatmentAsk
# "1:1", "2 to 1", "1/1": so many parts of paint to so many of water.
PARTS = re.compile(r"\s*(\d+(?:[.,]\d+)?)\s*(?::|/|to)\s*(\d+(?:[.,]\d+)?)\s*")
POT = (Ask.POT_TOP_CM, Ask.POT_BOTTOM_CM, Ask.POT_HEIGHT_CM, Ask.POT_GAP_CM)
A_THOUSAND = 1000.0


def amounts_needed(use: Use) -> list[Number]:
    """Work out how much a use takes, as far as it is typed; each says what it lacks."""
    found: list[Number] = []
    if use.kind is TreatmentKind.TRUNK_PAINT:
        found += _paint(use)
    if use.kind is TreatmentKind.MULCH:
        found += _layer(use)
    if use.kind is TreatmentKind.COMPOST:
        found += _pot(use)
    for amount in use.amounts:
        found += _by_dose(use, amount)
    return found


def needed_for(treatment: Treatment) -> list[Number]:
    """Work out how much a recorded or planned use takes, by what was recorded of it."""
    use = use_of(treatment)
    return [number for number in amounts_needed(use) if number.is_known]


def _paint(use: Use) -> Iterator[Number]:
    what = _("Paint, ready to brush on")
    girth, height = use.details.get(Ask.GIRTH_CM), use.details.get(Ask.HEIGHT_CM)
    covers = next(
        (
            each.product.m2_per_litre
            for each in use.amounts
            if each.product.m2_per_litre
        ),
        None,
    )
    if not girth and not height:
        return
    lacking = {
        _("the trees"): not use.trees,
        _("the girth of a trunk"): not girth,
        _("how high it is painted"): not height,
        _("a product with what a litre of it covers"): not covers,
    }
    missing = [name for name, is_missing in lacking.items() if is_missing]
    if missing:
        text = _("Enter %(what)s.") % {"what": ", ".join(missing)}
        yield Number(what, None, "L", missing=text)
        return
    assert girth and height and covers
    coats = int(use.details.get(Ask.COATS) or 1)
    trunks = len(use.trees)
    litres = volumes.trunk_paint_litres(
        trunks, girth / 100, height / 100, covers, coats
    )
    yield Number(
        what,
        litres,
        "L",
        law="volumes.trunk_paint_litres",
        method=_("Each trunk counts as a cylinder. Rough bark takes more."),
        inputs=(
            Input(_("Trunks"), float(trunks)),
            Input(_("Girth of a trunk"), girth, "cm"),
            Input(_("Painted up to"), height, "cm"),
            Input(_("Coats"), float(coats)),
            Input(_("A litre covers"), covers, "m²", _("from the container")),
        ),
        digits=2,
    )
    parts = PARTS.fullmatch(str(use.details.get(Ask.DILUTION, "")))
    if parts is None:
        return
    first, second = (float(part.replace(",", ".")) for part in parts.groups())
    if first + second <= 0:
        return
    shares = volumes.mix_parts(litres, first, second)
    for name, share in zip(
        (_("Of which paint"), _("Of which water")), shares, strict=True
    ):
        yield Number(name, share, "L", law="volumes.mix_parts", digits=2)


def _layer(use: Use) -> Iterator[Number]:
    depth, size = use.details.get(Ask.DEPTH_CM), use.get("size")
    if not depth:
        return
    what = _("Mulch")
    if not size or use.get("size_unit") != Treatment.SizeUnit.M2:
        text = _("Enter the size treated in m².")
        yield Number(what, None, "L", missing=text)
        return
    yield Number(
        what,
        volumes.layer_litres(size, depth / 100),
        "L",
        law="volumes.layer_litres",
        method=_("Area times depth, as it lies loose."),
        inputs=(Input(_("Area"), size, "m²"), Input(_("Depth"), depth, "cm")),
        digits=0,
    )


def _pot(use: Use) -> Iterator[Number]:
    lengths = [use.details.get(ask) for ask in POT]
    if not any(lengths):
        return
    what = _("Mix for the pot")
    top, bottom, height, gap = (
        None if length is None else float(length) / 100 for length in lengths
    )
    if not top or bottom is None or not height:
        text = _("Measure the pot inside: its width at the top and bottom, its height.")
        yield Number(what, None, "L", missing=text)
        return
    inputs = [
        Input(_("Width at the top"), top, "m"),
        Input(_("Width at the bottom"), bottom, "m"),
        Input(_("Height"), height, "m"),
    ]
    if gap is not None and gap > height:
        text = _("The mix can't stand deeper than the pot is high. Measure again.")
        yield Number(what, None, "L", missing=text)
        return
    if gap is None:
        litres = volumes.frustum_litres(top, bottom, height)
        law, method = "volumes.frustum_litres", _("An empty pot, filled to the rim.")
    else:
        litres = volumes.top_up_litres(top, bottom, height, gap)
        law = "volumes.top_up_litres"
        method = _("From the mix as it stands up to the rim.")
        inputs.append(Input(_("From the rim down to the mix"), gap, "m"))
    yield Number(
        what, litres, "L", law=law, method=method, inputs=tuple(inputs), digits=1
    )


def _by_dose(use: Use, amount: Amount) -> Iterator[Number]:
    if amount.dose is None or not amount.dose_unit:
        return
    unit = amounts.Unit(amount.dose_unit)
    measure, _per, _small = amounts.DOSE_OF[unit]
    size, size_unit = use.get("size"), use.get("size_unit", "")
    origin = ""
    if measure == "litres" and (size is None or size_unit != measure):
        # The pots of the trees themselves, where all of them are on record.
        pots = [float(tree.container_litres or 0) for tree in use.trees]
        if pots and all(pots):
            size, size_unit = sum(pots), measure
            origin = _("the pots on record")
    name = amount.product.name
    grams = amounts.expected_total(
        amount.dose,
        amount.dose_unit,
        size=size,
        size_unit=size_unit,
        mix_litres=use.get("mix_litres"),
        trees=len(use.trees),
    )
    if grams is None:
        texts = {
            "m2": _("Enter the size treated in m²."),
            "mix": _("Enter the mix made."),
            "trees": _("Name the trees."),
            "litres": _("Enter the size treated in litres of pot."),
        }
        yield Number(name, None, "g", missing=texts[measure])
        return
    small, large = ("mL", "L") if unit in amounts.LIQUID_DOSES else ("g", "kg")
    is_large = grams >= A_THOUSAND
    over: dict[str, Input] = {
        "m2": Input(_("Size treated"), size, "m²"),
        "mix": Input(_("Mix made"), use.get("mix_litres"), "L"),
        "trees": Input(_("Trees"), float(len(use.trees))),
        "litres": Input(_("Litres of pot"), size, "L", origin),
    }
    yield Number(
        name,
        grams / A_THOUSAND if is_large else grams,
        large if is_large else small,
        method=_("Dose times size."),
        inputs=(
            Input(_("Dose"), amount.dose, "", str(unit.label)),
            over[measure],
        ),
        digits=2 if is_large else 1,
    )
