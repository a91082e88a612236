"""What is asked of a treatment, by its kind; of a product's label; of drying."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import TYPE_CHECKING, Any

from django import forms
from django.forms import BaseFormSet, formset_factory
from django.forms.boundfield import BoundField
from django.utils import timezone
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from orchard.records.models import (
    Orchard,
    Product,
    ProductUse,
    Treatment,
    WetSpell,
)
from orchard.science import guide
from orchard.science.holds import LONGEST_ENTRY_H, LONGEST_HARVEST_DAYS
from orchard.science.units import US_UNITS, in_text, shown
from orchard.science.words import (
    Droplets,
    EntryRule,
    ProtectionRule,
    Reach,
    Spread,
    TreatmentAsk,
    TreatmentKind,
)
from orchard.services.errors import Refused
from orchard.services.photos import Picture
from orchard.services.tasks import name_places, trees_named
from orchard.services.treatments import Amount, Use, asked_for
from orchard.web.fields import (
    MeasuredForm,
    MomentField,
    PhotosField,
    codes_in,
    day_field,
    number_field,
    offer,
    photo_field,
    reason_field,
    with_figures,
)
from orchard.web.folds import JUST_NOW, Fold, ask_for, moment_text

Ask = TreatmentAsk
MOST_PRODUCTS = 3
WINDS = [(point, point) for point in ("N", "NE", "E", "SE", "S", "SW", "W", "NW")]
SPREADS = {
    Spread.BRUSH: _("with a brush"),
    Spread.BY_HAND: _("by hand"),
    Spread.DRENCH: _("poured on the ground"),
    Spread.HAND_SPRAYER: _("hand sprayer"),
    Spread.KNAPSACK: _("knapsack sprayer"),
    Spread.AIR_BLAST: _("air-blast sprayer"),
    Spread.MIST: _("mist or fog"),
    Spread.STATION: _("in a box or trap"),
}
DROPS = {
    Droplets.FINE: _("fine"),
    Droplets.MEDIUM: _("medium"),
    Droplets.COARSE: _("coarse or larger"),
}
ENTRY_RULES = {
    EntryRule.HOURS: _("After so many hours"),
    EntryRule.UNTIL_DRY: _("When it has dried"),
    EntryRule.NONE_NEEDED: _("The label says no wait is needed"),
    EntryRule.UNKNOWN: _("The label doesn't say, or can't be read"),
}
# Units in people's hands, each with the unit it is kept in and how much of that it is.
HAND_UNITS = {
    "L": ("L", 1.0),
    "mL": ("mL", 1.0),
    "kg": ("kg", 1.0),
    "g": ("g", 1.0),
    "gal": ("L", US_UNITS["L"].step),
    "fl oz": ("mL", US_UNITS["mL"].step),
    "lb": ("kg", US_UNITS["kg"].step),
    "oz": ("g", US_UNITS["g"].step),
}
# An acre is 4,840 square yards, by the international yard: exact.
SIZES_IN_HAND = {
    "sq_ft": ("m2", US_UNITS["m²"].step),
    "acre": ("m2", 4840 * 0.9144**2),
    "ha": ("m2", 10_000.0),
    "gal": ("litres", HAND_UNITS["gal"][1]),
}
SIZES = {
    **dict(Treatment.SizeUnit.choices),
    "ha": _("ha"),
    "sq_ft": _("sq ft"),
    "acre": _("acre"),
    "gal": _("gal of pot"),
}
NOTHING = [("", _("choose"))]
LENGTHS = tuple(ask.value for ask in TreatmentAsk if ask.value.endswith("_cm"))


def _yes_no(label: Any, **options: Any) -> forms.BooleanField:
    return forms.BooleanField(label=label, required=False, **options)


def _text(label: Any, most: int = 120, **options: Any) -> forms.CharField:
    return forms.CharField(label=label, max_length=most, required=False, **options)


def _choice(label: Any, choices: Iterable[tuple[Any, Any]]) -> forms.ChoiceField:
    return forms.ChoiceField(label=label, choices=[*NOTHING, *choices], required=False)


def _length(label: Any, **options: Any) -> forms.FloatField:
    return number_field(label, required=False, min_value=0, max_value=1000, **options)


def _details() -> dict[TreatmentAsk, forms.Field]:
    return {
        Ask.GIRTH_CM: _length(_("Girth"), help_text=_("The middle trunk.")),
        Ask.HEIGHT_CM: _length(_("Painted to")),
        Ask.COATS: forms.IntegerField(
            label=_("Coats"), required=False, min_value=1, max_value=9
        ),
        Ask.SIDE: _text(_("Which side"), 60),
        Ask.DILUTION: _text(
            _("Paint to water"), 40, widget=forms.TextInput({"placeholder": "1:1"})
        ),
        Ask.SOURCE: _text(_("Where it comes from")),
        Ask.HEAT_PROOF: _yes_no(
            with_figures(
                _(
                    "There is proof that it was heated (%(least)s to %(most)s °C, "
                    "%(fewest)s to %(longest)s days)"
                ),
                least="compost_heat_least_c",
                most="compost_heat_most_c",
                fewest="compost_heat_least_days",
                longest="compost_heat_most_days",
            ),
            help_text=_("Without proof, record it as manure."),
        ),
        Ask.ANIMAL: _text(_("Of which animal"), 40),
        Ask.DUG_IN: _yes_no(_("It was dug in")),
        Ask.FRUIT_HIGH: _yes_no(
            with_figures(
                _("All fruit hangs above %(cm)s cm, clear of soil and splashes"),
                cm="fruit_clear_of_soil_cm",
            ),
            help_text=with_figures(
                _("Then no fruit is picked for %(days)s days, else for %(longer)s."),
                days="manure_days",
                longer="manure_days_near_soil",
            ),
        ),
        Ask.DEPTH_CM: _length(_("Depth")),
        Ask.POT_TOP_CM: _length(_("Width at the top, inside")),
        Ask.POT_BOTTOM_CM: _length(_("Width at the bottom, inside")),
        Ask.POT_HEIGHT_CM: _length(_("Height, inside")),
        Ask.POT_GAP_CM: _length(
            _("From the rim down to the mix"), help_text=_("Empty for an empty pot.")
        ),
        Ask.SPECIES: _text(_("Species")),
        Ask.NUMBER: forms.IntegerField(
            label=_("How many"), required=False, min_value=1
        ),
        Ask.ON_LEAVES: _yes_no(
            _("It was sprayed on leaves"),
            help_text=_("Then nobody goes in until somebody finds it dry."),
        ),
        Ask.CHECKED_ON: day_field(_("Last checked"), required=False),
        Ask.REMOVED_ON: day_field(_("Taken away"), required=False),
    }


def detail_labels(units: str) -> dict[str, str]:
    """Return what the fields of single kinds are called on an orchard's form."""
    fields = _details().items()
    return {ask.value: in_text(str(field.label), units) for ask, field in fields}


class TreatmentForm(MeasuredForm):
    """A use of one kind: only what this kind needs is asked."""

    measured = {
        "mix_litres": "L",
        "temperature_c": "°C",
        **dict.fromkeys(LENGTHS, "cm"),
    }

    trees = forms.CharField(
        label=_("Trees: codes, or a block"),
        max_length=2000,
        widget=forms.TextInput(attrs={"autocapitalize": "characters"}),
        error_messages={"required": _("Name the trees, or a block.")},
    )
    started_at = MomentField(label=_("Started"), required=False)
    ended_at = MomentField(label=_("Ended"))
    target = _text(_("What it is against"))
    use_type = _choice(_("Type of use"), Treatment.UseType.choices)
    method = _choice(_("How"), SPREADS.items())
    droplets = _choice(_("Drops"), DROPS.items())
    size = number_field(_("Size treated"), required=False, min_value=0)
    size_unit = _choice(_("Unit of size"), SIZES.items())
    mix_litres = number_field(_("Mix made"), required=False, min_value=0)
    amount_reason = _text(_("Why not dose × size"), 300)
    applicator = _text(_("Who applied it"))
    applicator_contact = _text(_("Their contact"))
    licence = _text(_("Licence number"), 60)
    licence_until = day_field(_("Licence valid until"), required=False)
    supervisor = _text(_("Supervised by"))
    owner = _text(_("Owner or occupier"), 160)
    home_garden_reason = _text(_("Coordinator's reason for a home-garden product"), 300)
    wind_kmh = number_field(_("Wind, km/h"), required=False, min_value=0)
    wind_from = _choice(_("Wind from"), WINDS)
    wind_changes = _text(_("How the wind changed"), 200)
    temperature_c = number_field(_("Air temperature"), required=False)
    humidity_percent = number_field(
        _("Humidity, %"), required=False, min_value=0, max_value=100
    )
    bbch = forms.IntegerField(
        label=_("Growth stage (BBCH)"), required=False, min_value=0, max_value=99
    )
    rain_expected = _yes_no(
        with_figures(
            _("Rain is forecast within %(hours)s hours"), hours="rain_after_spray_h"
        )
    )
    soil_is_dry = _yes_no(_("The soil is dry"))
    weeds_flower = _yes_no(_("Weeds are in flower"))
    drift = _text(
        _("Trees that got wet by drift"),
        500,
        help_text=_("The same holds apply to them."),
    )
    beneath = _text(
        _("Herbs and trees beneath the treated crowns"),
        500,
        help_text=_("What the label doesn't name stays locked until an adviser says."),
    )
    note = forms.CharField(label=_("In your words"), max_length=500, required=False)
    photos = PhotosField(
        label=_("Photos"),
        required=False,
    )

    # Shown in folds of their own, in this order.
    RECORD = (
        "licence", "licence_until", "applicator_contact", "supervisor", "owner",
        "use_type", "home_garden_reason",
    )  # fmt: skip
    WEATHER = (
        "wind_kmh", "wind_from", "wind_changes", "temperature_c", "humidity_percent",
        "bbch", "rain_expected", "soil_is_dry", "weeds_flower",
    )  # fmt: skip
    NEIGHBOURS = ("drift", "beneath")
    # Of how it is put out, what only plant protection is asked.
    APPLYING = ("droplets", "amount_reason")

    def __init__(
        self,
        *args: Any,
        kind: TreatmentKind,
        orchard: Orchard,
        row: Treatment | None = None,
        planning: bool = False,
        **options: Any,
    ) -> None:
        self.kind, self.orchard = kind, orchard
        self.rule = guide.load().treatments[kind]
        initial = options.pop("initial", {}) or {}
        if row is not None:
            initial = {**_shown(row), **initial}
        super().__init__(*args, units=orchard.units, initial=initial, **options)
        for ask, field in _details().items():
            if ask in self.rule.asks:
                field.label = in_text(str(field.label), orchard.units)
                field.help_text = in_text(str(field.help_text), orchard.units)
                self.fields[ask.value] = field
                if row is not None:
                    self.initial.setdefault(ask.value, row.details.get(ask.value))
        self._measure_details()
        if planning:
            del self.fields["photos"]
        if row is None and not planning:
            # A page that was kept for the day without signal reckons what time it is.
            self.fields["ended_at"].widget.attrs["data-now"] = True
        if not self.is_protection:
            left = (*self.RECORD, *self.WEATHER, *self.NEIGHBOURS, *self.APPLYING)
            for name in (*left, "target"):
                self.fields.pop(name, None)
        self.asked = asked_for(kind, orchard)
        ask_for(self, self.asked)

    def _measure_details(self) -> None:
        for name in LENGTHS:
            if name in self.fields:
                unit = shown(0.0, "cm", self.orchard.units)[1]
                self.fields[name].label = f"{self.fields[name].label}, {unit}"
                if self.initial.get(name) is not None:
                    length, _unit = shown(self.initial[name], "cm", self.orchard.units)
                    self.initial[name] = round(length, 1)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        unit = cleaned.get("size_unit")
        if unit:
            cleaned["size_unit"], factor = SIZES_IN_HAND.get(unit, (unit, 1.0))
            if cleaned.get("size") is not None:
                cleaned["size"] *= factor
        return cleaned

    @property
    def pictures(self) -> tuple[Picture, ...]:
        return tuple(self.cleaned_data.get("photos", ()))

    @property
    def is_protection(self) -> bool:
        """Tell whether the whole record of a plant protection product is asked."""
        return self.rule.protection != ProtectionRule.NEVER

    @property
    def is_always_protection(self) -> bool:
        return self.rule.protection == ProtectionRule.ALWAYS

    def fields_of(self, names: Iterable[str]) -> list[BoundField]:
        """List the fields of some names that this kind has."""
        return [self[name] for name in names if name in self.fields]

    @property
    def details(self) -> list[BoundField]:
        return [self[ask] for ask in self.rule.asks if not ask.startswith("pot_")]

    @property
    def pot(self) -> Fold:
        return Fold([self[ask] for ask in self.rule.asks if ask.startswith("pot_")])

    @property
    def trees_line(self) -> str:
        """Name the places that are given: 12 trees of block B."""
        text = str(self["trees"].value() or "")
        # What is no text for the field is no question for the database either.
        codes = () if self["trees"].errors else codes_in(text)
        return name_places(self.orchard, codes) or text

    @property
    def when_line(self) -> str:
        """Say when it began and ended, or that it is just over."""
        ended, started = self["ended_at"], self["started_at"]
        if not self.is_bound and "data-now" in ended.field.widget.attrs:
            moment = ended.initial
            if moment and timezone.now() - moment < JUST_NOW:
                return _now("just now")
        texts = [moment_text(started), moment_text(ended)]
        return _now(" to ").join(filter(None, texts))

    def use(self, amounts: Sequence[Amount]) -> Use:
        """Return the use that was typed.

        Raises:
            Refused (unknown_codes): a code names nothing that grows here.
        """
        given = dict(self.cleaned_data)
        given.pop("photos", None)
        asks = {ask.value for ask in self.rule.asks}
        named = {
            name: tuple(self._trees(given.pop(name, ""), name))
            for name in ("trees", "drift", "beneath")
        }
        details = {
            key: value.isoformat() if isinstance(value, date) else value
            for key, value in given.items()
            if key in asks and value not in (None, "", False)
        }
        started, ended = given.pop("started_at"), given.pop("ended_at")
        return Use(
            kind=self.kind,
            started_at=started,
            ended_at=ended,
            amounts=tuple(amounts),
            fields={key: value for key, value in given.items() if key not in asks},
            details=details,
            **named,
        )

    def use_so_far(self, amounts: Sequence[Amount], *, now: datetime) -> Use:
        """Return what can be read of a form that is still being filled in.

        Raises:
            Refused (unknown_codes): a code names nothing that grows here.
        """
        given = self.cleaned_data
        named = given.get("trees", "")
        return Use(
            kind=self.kind,
            ended_at=given.get("ended_at") or now,
            trees=tuple(self._trees(named, "trees")),
            amounts=tuple(amounts),
            fields={n: given.get(n) for n in ("size", "size_unit", "mix_litres")},
            details={ask.value: given.get(ask.value) for ask in self.rule.asks},
        )

    def _trees(self, text: str, field: str) -> list[Any]:
        codes = codes_in(text or "")
        try:
            return trees_named(self.orchard, codes) if codes else []
        except Refused as refusal:
            raise Refused(str(refusal), code=refusal.code, field=field) from None


def _shown(row: Treatment) -> dict[str, Any]:
    """Return what stands on record, as the form shows it."""
    names = [
        name
        for name in TreatmentForm.base_fields
        if hasattr(row, name) and name not in ("trees", "drift", "beneath", "photos")
    ]
    codes: dict[str, list[str]] = {"trees": [], "drift": [], "beneath": []}
    places = {Reach.TREATED: "trees", Reach.DRIFT: "drift", Reach.BENEATH: "beneath"}
    for reached in row.reached.select_related("tree").order_by("id"):
        codes[places[Reach(reached.reach)]].append(reached.tree.code)
    return {name: getattr(row, name) for name in names} | {
        field: " ".join(found) for field, found in codes.items()
    }


class AmountForm(forms.Form):
    """One product of a use, with its dose and all of it that was used."""

    product = forms.ChoiceField(label=_("Product"), required=False)
    dose = number_field(_("Dose"), required=False, min_value=0)
    dose_unit = _choice(_("Unit of the dose"), Product.DoseUnit.choices)
    total = number_field(_("Used in all"), required=False, min_value=0)
    total_unit = _choice(_("Unit"), [(unit, unit) for unit in HAND_UNITS])
    batch = _text(_("Lot number"), 60)
    expires_on = day_field(_("Expires on"), required=False)

    def __init__(self, *args: Any, products: Sequence[Product], **options: Any) -> None:
        super().__init__(*args, **options)
        self.by_number = {str(product.pk): product for product in products}
        offer(self, "product", [
            ("", _now("choose")),
            *((number, product.name) for number, product in self.by_number.items()),
        ])  # fmt: skip

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if not cleaned.get("product") and any(
            cleaned.get(name) not in (None, "") for name in ("dose", "total", "batch")
        ):
            self.add_error("product", _now("Choose the product of these amounts."))
        for number, unit in (("dose", "dose_unit"), ("total", "total_unit")):
            if cleaned.get(number) is not None and not cleaned.get(unit):
                self.add_error(unit, _now("Choose the unit."))
        return cleaned

    def amount(self) -> Amount | None:
        """Return the amount in the units it is kept in; None where none is typed."""
        given = self.cleaned_data
        if not given.get("product"):
            return None
        total, unit = given["total"], given["total_unit"]
        if total is not None:
            unit, factor = HAND_UNITS[unit]
            total *= factor
        return Amount(
            product=self.by_number[given["product"]],
            dose=given["dose"],
            dose_unit=given["dose_unit"] if given["dose"] is not None else "",
            total=total,
            total_unit=unit if total is not None else "",
            batch=given["batch"],
            expires_on=given["expires_on"],
        )


@dataclass(frozen=True, slots=True)
class Parts:
    """The form of a use in parts, one open at a time while it is new."""

    form: TreatmentForm
    amounts: BaseFormSet[AmountForm]

    @property
    def has_products(self) -> bool:
        return self.amounts.is_bound or bool(self.first.by_number)

    @property
    def first(self) -> AmountForm:
        return self.amounts.forms[0]

    @property
    def others(self) -> list[AmountForm]:
        return self.amounts.forms[1:]

    @property
    def place(self) -> Fold:
        return Fold([self.form["trees"]], self.form.trees_line)

    @property
    def moments(self) -> Fold:
        fields = [self.form["started_at"], self.form["ended_at"]]
        return Fold(fields, self.form.when_line)

    @property
    def batch(self) -> Fold:
        rest = [self.first["batch"], self.first["expires_on"]]
        return Fold([*rest, *(field for each in self.others for field in each)])

    @property
    def product(self) -> Fold:
        names = ("product", "total", "total_unit")
        return Fold([*(self.first[name] for name in names), *self.batch.fields])

    @property
    def details(self) -> Fold:
        return Fold(self.form.details)

    @property
    def where(self) -> Fold:
        """What, where and when: what nobody leaves out."""
        folds = (self.place, self.moments, self.product, self.details)
        words = ", ".join(filter(None, (fold.filled for fold in folds)))
        return Fold([field for fold in folds for field in fold.fields], words)

    @property
    def use(self) -> Fold:
        """With what dose, on what size, how."""
        names = ("size", "size_unit", "mix_litres", "target", *self.manner)
        amount = ("dose", "dose_unit") if self.has_products else ()
        dose = [self.first[name] for name in amount]
        return Fold([*dose, *self.form.fields_of(names), *self.form.pot.fields])

    @property
    def manner(self) -> tuple[str, ...]:
        return ("method", *self.form.APPLYING)

    @property
    def pot(self) -> Fold:
        return self.form.pot

    @property
    def paperwork(self) -> list[tuple[Fold, Any]]:
        """List what only a plant protection product is asked, each with its name."""
        form = self.form
        return [
            (Fold(form.fields_of(form.WEATHER)), _("Weather")),
            (Fold(form.fields_of(form.RECORD)), _("Licence, supervisor, site")),
            (Fold(form.fields_of(form.NEIGHBOURS)), _("Neighbours, plants beneath")),
        ]

    @property
    def registered(self) -> Fold:
        """What is asked of these kinds only where the container has a number."""
        return Fold([field for fold, _name in self.paperwork for field in fold.fields])

    @property
    def words(self) -> Fold:
        return Fold(self.form.fields_of(("applicator", "note")))

    @property
    def is_wrong(self) -> bool:
        """Tell whether anything of the record is wrong, on whichever of the forms."""
        return bool(self.form.errors or any(each.errors for each in self.amounts.forms))

    @property
    def opens_first(self) -> bool:
        """Tell whether the first part is open: unless only another one is wrong."""
        rest = (self.use, self.registered, self.words)
        return self.where.is_wrong or not any(each.is_wrong for each in rest)

    @property
    def is_by_turns(self) -> bool:
        """Tell whether one part closes the other: not where faults stand in both."""
        return not self.form.is_bound

    @property
    def errors(self) -> bool:
        return self.is_wrong

    def non_field_errors(self) -> Any:
        return self.form.non_field_errors()


def parts_of(form: TreatmentForm, amounts: BaseFormSet[AmountForm]) -> Parts:
    """Return the form of a use in its parts, with what the record needs marked."""
    ask_for(amounts.forms[0], form.asked)
    return Parts(form, amounts)


if TYPE_CHECKING:
    # Generic for the type checker alone.
    AmountFormSet = BaseFormSet[AmountForm]
else:
    AmountFormSet = BaseFormSet


class ThreeAmounts(AmountFormSet):
    """The forms of the products: always three, also where nothing says how many."""

    def total_form_count(self) -> int:
        return MOST_PRODUCTS


AmountForms = formset_factory(
    AmountForm,
    formset=ThreeAmounts,
    extra=MOST_PRODUCTS,
    max_num=MOST_PRODUCTS,
    absolute_max=MOST_PRODUCTS,
)


def amount_forms(
    products: Sequence[Product],
    data: Any = None,
    uses: Iterable[ProductUse] = (),
) -> BaseFormSet[AmountForm]:
    """Return the forms of the products in the tank, filled with those on record."""
    newest = {each.pk: each for each in products}
    initial = [
        {
            "product": str(each.product_id if each.product_id in newest else ""),
            "dose": each.dose,
            "dose_unit": each.dose_unit,
            "total": each.total,
            "total_unit": each.total_unit,
            "batch": each.batch,
            "expires_on": each.expires_on,
        }
        for each in uses
    ]
    return AmountForms(
        data,
        prefix="product",
        initial=initial or None,
        form_kwargs={"products": products},
    )


def amounts_in(forms_of_amounts: BaseFormSet[AmountForm]) -> list[Amount]:
    """Return the amounts typed, each product once.

    Raises:
        Refused (not_whole): a product stands twice.
    """
    found = [form.amount() for form in forms_of_amounts.forms]
    amounts = [amount for amount in found if amount is not None]
    names = [amount.product.pk for amount in amounts]
    if len(set(names)) < len(names):
        raise Refused(
            _now("A product stands twice. Add its amounts up in one line."),
            code="not_whole",
        )
    return amounts


class ReasonToCorrectForm(forms.Form):
    """Why a use is corrected, and who is fit to let a hold end earlier."""

    reason = reason_field(_("Why you correct it"))
    qualified = _text(
        _("Licence, or who supervises"),
        help_text=_("Needed where a hold would end earlier than it does now."),
    )


class WithdrawForm(ReasonToCorrectForm):
    """Why a use is withdrawn, and who is fit to let its holds end."""

    reason = reason_field(_("Why it is withdrawn"))


class IngredientsField(forms.CharField):
    """Active ingredients as a label has them: one a line, a name and its content."""

    widget = forms.Textarea

    def prepare_value(self, value: Any) -> Any:
        if not isinstance(value, list):
            return value
        return "\n".join(f"{name} {content:g} {unit}" for name, content, unit in value)

    def clean(self, value: Any) -> list[list[Any]]:
        rows: list[list[Any]] = []
        for line in super().clean(value).splitlines():
            if not line.strip():
                continue
            words = line.replace(",", ".").split()
            try:
                unit, content = words[-1], float(words[-2])
                name = " ".join(words[:-2])
                if not name or unit not in ("g/L", "g/kg", "%") or not content > 0:
                    raise ValueError
                if content > (100 if unit == "%" else 2000):
                    raise ValueError
            except (IndexError, ValueError):
                raise forms.ValidationError(
                    _now(
                        "“%(line)s” can't be read. Write a name, a number and g/L, "
                        "g/kg or %%: copper hydroxide 500 g/kg."
                    )
                    % {"line": line.strip()[:80]}
                ) from None
            rows.append([name, content, unit])
        return rows


class ProductForm(forms.Form):
    """What the label of a product says, typed from the container."""

    name = forms.CharField(label=_("Name on the container"), max_length=120)
    registration = _text(
        _("Registration number"),
        60,
    )
    ingredients = IngredientsField(
        label=_("Active ingredients"),
        required=False,
        help_text=_("One a line, as copper 500 g/kg."),
    )
    crops = forms.CharField(
        label=_("Crops on the label"),
        required=False,
        max_length=2000,
        widget=forms.Textarea,
        help_text=_("One a line: citrus, fruit trees."),
    )
    entry_rule = forms.ChoiceField(
        label=_("When may people enter?"),
        choices=ENTRY_RULES.items(),
        initial=EntryRule.UNKNOWN.value,
    )
    entry_hours = number_field(
        _("Hours (24 a day)"), required=False, min_value=0, max_value=LONGEST_ENTRY_H
    )
    fruit_days = forms.IntegerField(
        label=_("Days to fruit"),
        required=False,
        min_value=0,
        max_value=LONGEST_HARVEST_DAYS,
    )
    leaf_days = forms.IntegerField(
        label=_("Days to leaves"),
        required=False,
        min_value=0,
        max_value=LONGEST_HARVEST_DAYS,
    )
    flower_days = forms.IntegerField(
        label=_("Days to flowers"),
        required=False,
        min_value=0,
        max_value=LONGEST_HARVEST_DAYS,
    )
    most_dose = number_field(_("Highest dose"), required=False, min_value=0)
    dose_unit = _choice(_("Unit of the dose"), Product.DoseUnit.choices)
    most_uses = forms.IntegerField(
        label=_("Uses at most"), required=False, min_value=1, max_value=1000
    )
    uses_days = forms.IntegerField(
        label=_("In so many days"),
        required=False,
        min_value=1,
        max_value=3650,
        help_text=_("Empty counts a year."),
    )
    between_days = forms.IntegerField(
        label=_("Days between uses"),
        required=False,
        min_value=1,
        max_value=LONGEST_HARVEST_DAYS,
    )
    oil_sulfur_days = forms.IntegerField(
        label=_("Days between oil and sulfur"),
        required=False,
        min_value=1,
        max_value=365,
    )
    action_group = _text(_("Action group"), 20)
    signal_word = _text(_("Signal word"), 40)
    protection = _text(_("What to wear"), 300)
    buffers = _text(_("Distances to keep"), 300)
    is_restricted = _yes_no(_("Only for licensed people"))
    is_home_garden = _yes_no(_("Sold for home gardens"))
    is_low_risk = _yes_no(_("Registered as low risk"))
    needs_hours = _yes_no(_("The label limits the hours of use"))
    needs_stage = _yes_no(_("The label limits the growth stages"))
    needs_weather = _yes_no(_("The label asks for the weather"))
    nitrogen_percent = number_field(
        _("Nitrogen, %"),
        required=False,
        min_value=0,
        max_value=100,
        help_text=_("The first of the three numbers on the bag."),
    )
    m2_per_litre = number_field(
        _("m² that a litre covers"), required=False, min_value=0
    )
    checked_on = day_field(_("You read the container on"))
    photo = photo_field(_("Label photo"))

    PROTECTION = (
        "registration", "ingredients", "crops", "entry_rule", "entry_hours",
        "fruit_days", "leaf_days", "flower_days", "most_dose", "dose_unit", "most_uses",
        "uses_days", "between_days", "oil_sulfur_days", "action_group", "signal_word",
        "protection", "buffers", "is_restricted", "is_home_garden", "is_low_risk",
        "needs_hours", "needs_stage", "needs_weather",
    )  # fmt: skip
    WAITS = ("fruit_days", "leaf_days", "flower_days")
    MORE = (
        "most_dose", "dose_unit", "most_uses", "uses_days", "between_days",
        "oil_sulfur_days", "action_group", "signal_word", "protection", "buffers",
        "is_restricted", "is_home_garden", "is_low_risk", "needs_hours", "needs_stage",
        "needs_weather",
    )  # fmt: skip

    def __init__(
        self,
        *args: Any,
        kind: TreatmentKind,
        row: Product | None = None,
        **options: Any,
    ) -> None:
        if row is not None:
            names = [name for name in self.base_fields if hasattr(row, name)]
            shown = {name: getattr(row, name) for name in names}
            options["initial"] = {**shown, **(options.get("initial") or {})}
        super().__init__(*args, **options)
        protection = guide.load().treatments[kind].protection.value
        if protection == "never":
            for name in self.PROTECTION:
                del self.fields[name]
        if kind is not TreatmentKind.FERTILISER:
            del self.fields["nitrogen_percent"]
        if kind is not TreatmentKind.TRUNK_PAINT:
            del self.fields["m2_per_litre"]
        if kind not in (TreatmentKind.OIL, TreatmentKind.SULFUR):
            self.fields.pop("oil_sulfur_days", None)

    def fold_of(self, names: Iterable[str]) -> Fold:
        return Fold([self[name] for name in names if name in self.fields])

    @property
    def waits(self) -> list[BoundField]:
        """List the days that fruit, leaves and flowers wait."""
        return [self[name] for name in self.WAITS if name in self.fields]

    @property
    def own_fields(self) -> list[BoundField]:
        """List what a product that protects nothing is asked, and this kind alone."""
        names = ("nitrogen_percent", "m2_per_litre")
        return [self[name] for name in names if name in self.fields]

    @property
    def more(self) -> Fold:
        return self.fold_of(self.MORE)

    @property
    def read_on(self) -> Fold:
        return self.fold_of(["checked_on"])


class DryForm(forms.Form):
    """When it was found dry, and by whose right."""

    # A page that was kept for the day without signal reckons what time it is.
    dry_at = MomentField(label=_("Found dry at"), is_now=True)
    qualified = forms.CharField(
        label=_("Licence, or who supervises you"),
        max_length=120,
        error_messages={"required": _("Enter the licence, or who supervises you.")},
    )


class WetSpellForm(forms.Form):
    """When leaves were wet, and from what."""

    cause = forms.ChoiceField(
        label=_("What wetted the leaves"),
        choices=WetSpell.Cause.choices,
        widget=forms.RadioSelect,
    )
    began_at = MomentField(label=_("From"))
    ended_at = MomentField(label=_("To"), is_now=True)


class AdviserForm(forms.Form):
    """From when an adviser lets fruit be picked that no label names."""

    opens_on = day_field(_("Picking allowed from"))
    adviser = forms.CharField(
        label=_("Adviser, and how to reach them"),
        max_length=160,
        error_messages={"required": _("Name the adviser.")},
    )


def first_moment(now: datetime) -> datetime:
    """Return a moment to start from on a form: this minute."""
    return now.replace(second=0, microsecond=0)
