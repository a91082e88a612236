"""Forms for trees: found in the list, entered, corrected, moved, ended."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from django import forms
from django.db.models import Model
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from orchard.records.models import Orchard, Spot, Tree
from orchard.services import trees
from orchard.services.imports.register import LITRES_PER_US_GALLON
from orchard.services.trees import UNSEEN_DAYS, TreeFilters
from orchard.web.fields import (
    ColumnOfChoices,
    NumberWithUnit,
    offer,
    reason_field,
    set_unit,
)

if TYPE_CHECKING:
    # Generic for the type checker alone.
    ModelChoiceField = forms.ModelChoiceField[Model]
else:
    ModelChoiceField = forms.ModelChoiceField

TENTH = Decimal("0.1")
THIS_MONTH = "month"
# Of more free spots than these the code is typed.
SPOTS_OFFERED = 50


class DayInput(forms.DateInput):
    """A day, chosen with the phone's own calendar."""

    input_type = "date"

    def __init__(self, **attrs: Any) -> None:
        super().__init__(attrs=attrs, format="%Y-%m-%d")


def day_field(label: Any, **options: Any) -> forms.DateField:
    return forms.DateField(
        label=label,
        widget=DayInput(),
        error_messages={
            "required": _("Give the day."),
            "invalid": _("Write the day as 2021-04-30."),
        },
        **options,
    )


def year_field(label: Any) -> forms.IntegerField:
    """Return a field for a year, given where nobody knows the day."""
    fault = _("Write a year of four digits.")
    return forms.IntegerField(
        label=label,
        required=False,
        min_value=1000,
        max_value=9999,
        widget=forms.NumberInput(
            attrs={"inputmode": "numeric", "class": "input short"}
        ),
        error_messages={"invalid": fault, "min_value": fault, "max_value": fault},
    )


class TreeSearchForm(forms.Form):
    """What the list of trees is narrowed to."""

    q = forms.CharField(label=_("Code, cultivar or block"), required=False)
    block = forms.ChoiceField(label=_("Block"), required=False)
    kind = forms.TypedChoiceField(
        label=_("Cultivar"), required=False, coerce=int, empty_value=None
    )
    state = forms.ChoiceField(
        label=_("State"),
        required=False,
        choices=[
            ("", _("standing")),
            ("growing", _("growing")),
            ("rootstock_only", _("rootstock only")),
            ("dead", _("dead")),
            ("removed", _("removed")),
            ("all", _("all, with removed ones")),
        ],
    )
    condition = forms.ChoiceField(
        label=_("Condition"),
        required=False,
        choices=[
            ("", _("any")),
            ("poor", _("1 or 2")),
            ("fair", _("3")),
            ("good", _("4 or 5")),
            ("unscored", _("not scored yet")),
            ("falling", _("lower than before")),
        ],
    )
    unseen = forms.ChoiceField(label=_("Last looked at"), required=False)
    tag = forms.ChoiceField(
        label=_("Tag"),
        required=False,
        choices=[("", _("any")), ("none", _("no tag yet"))],
    )
    order = forms.ChoiceField(
        label=_("Order"),
        required=False,
        choices=[("", _("as walked")), ("unseen", _("longest not seen first"))],
    )

    def __init__(self, *args: Any, orchard: Orchard, **options: Any) -> None:
        super().__init__(*args, **options)
        blocks = [
            (block.code, f"{block.code} {block.name}")
            for block in trees.blocks_of(orchard)
        ]
        offer(self, "block", [("", _("all")), *blocks])
        kinds = [(line.kind.pk, line.kind.name) for line in trees.kinds_of(orchard)]
        offer(self, "kind", [("", _("all")), *kinds])
        spans = [
            (str(days), _now("not for %(days)d days") % {"days": days})
            for days in UNSEEN_DAYS
        ]
        this_month = (THIS_MONTH, _("this month"))
        offer(self, "unseen", [("", _("any time")), this_month, *spans])

    def filters(self) -> TreeFilters:
        """Return what was asked for; a choice that is none asks for nothing."""
        self.is_valid()
        asked = self.cleaned_data
        unseen = asked.get("unseen", "")
        return TreeFilters(
            text=asked.get("q", "")[:80],
            block=asked.get("block", ""),
            kind=asked.get("kind"),
            state=asked.get("state") or "standing",
            condition=asked.get("condition", ""),
            unseen_days=int(unseen) if unseen.isdecimal() else 0,
            seen_this_month=unseen == THIS_MONTH,
            without_tag=asked.get("tag") == "none",
            longest_unseen_first=asked.get("order") == "unseen",
        )


class KindChoiceField(ModelChoiceField):
    def __init__(self, **options: Any) -> None:
        super().__init__(
            None,
            label=_("Cultivar"),
            empty_label=_("Choose the cultivar"),
            error_messages={"required": _("Choose the cultivar.")},
            **options,
        )


class SpotField(forms.CharField):
    """A spot by its code: chosen where few are free, typed where they are many."""

    def __init__(self, **options: Any) -> None:
        super().__init__(
            label=_("Spot"),
            max_length=40,
            error_messages={"required": _("Choose a spot.")},
            **options,
        )


class SpotForm(forms.Form):
    """A form that asks for a free spot of its orchard."""

    spot = SpotField()
    orchard: Orchard

    def offer_spots(self) -> None:
        """Offer the free spots; of many the first, and any other can be typed."""
        free = trees.free_spots(self.orchard, at_most=SPOTS_OFFERED + 1)
        self.free = [str(spot) for spot in free[:SPOTS_OFFERED]]
        field = self.fields["spot"]
        if len(free) > SPOTS_OFFERED:
            field.widget.attrs |= {
                "list": "free-spots",
                "autocapitalize": "characters",
                "spellcheck": "false",
            }
            field.help_text = _now(
                "Block and number, such as A-12. The page of a block shows its free"
                " spots."
            )
            return
        offered = [(code, code) for code in self.free]
        choices = [("", _now("Choose a free spot")), *offered]
        field.widget = forms.Select(choices=choices)
        field.widget.is_required = field.required

    @property
    def is_spot_typed(self) -> bool:
        return "list" in self.fields["spot"].widget.attrs

    def clean_spot(self) -> Spot:
        code: str = self.cleaned_data["spot"]
        spot = trees.spot_named(self.orchard, code)
        if spot is None:
            fault = _now("There is no spot %(code)s here. Choose a free spot.")
            raise forms.ValidationError(fault % {"code": code})
        return spot


class TreeForm(forms.Form):
    """What is written about a tree."""

    code = forms.CharField(
        label=_("Code"),
        max_length=40,
        help_text=_("As on the tag, such as A-12. A code is never used twice."),
        widget=forms.TextInput(
            attrs={"autocapitalize": "characters", "spellcheck": "false"}
        ),
        error_messages={"required": _("Give the tree a code.")},
    )
    kind = KindChoiceField()
    believed = forms.BooleanField(
        label=_("Only believed to be this cultivar"), required=False
    )
    label_name = forms.CharField(
        label=_("Name on the nursery's label"),
        max_length=120,
        required=False,
        help_text=_("If it differs, or if the cultivar is in doubt."),
    )
    rootstock = forms.CharField(
        label=_("Rootstock"),
        max_length=60,
        required=False,
        help_text=_("Choose a name from the guide, or enter your own."),
        widget=forms.TextInput(attrs={"list": "rootstocks", "spellcheck": "false"}),
    )
    despite = forms.CharField(
        label=_("Why you plant it on this rootstock all the same"),
        max_length=200,
        required=False,
    )
    own_roots = forms.BooleanField(
        label=_("On its own roots: not grafted"), required=False
    )
    setting = forms.ChoiceField(
        label=_("Stands"),
        choices=Tree.Setting.choices,
        widget=forms.RadioSelect,
        initial=Tree.Setting.GROUND,
    )
    container_litres = forms.DecimalField(
        label=_("Size of the container"),
        required=False,
        max_digits=7,
        widget=NumberWithUnit,
        help_text=_("Leave it empty in the ground, or when nobody knows."),
    )
    planted_on = day_field(_("Planted on"), required=False)
    planted_year = year_field(_("Or only the year it was planted"))
    born_on = day_field(
        _("Grafted or sown on"),
        required=False,
        help_text=_("Gives its true age, if the nursery knows."),
    )
    born_year = year_field(_("Or only the year it was grafted or sown"))
    irrigated = forms.BooleanField(label=_("On drip irrigation"), required=False)
    staked = forms.BooleanField(label=_("Staked"), required=False)
    on_display = forms.BooleanField(
        label=_("A display tree, shown to visitors"), required=False, initial=True
    )
    note = forms.CharField(
        label=_("Note"), required=False, max_length=2000, widget=forms.Textarea
    )

    MORE = (
        "label_name",
        "born_on",
        "born_year",
        "irrigated",
        "staked",
        "on_display",
        "note",
    )

    def __init__(self, *args: Any, orchard: Orchard, **options: Any) -> None:
        super().__init__(*args, **options)
        self.orchard = orchard
        litres = _now("US gal") if orchard.units == "us" else "L"
        set_unit(self, "container_litres", litres)
        kind: Any = self.fields["kind"]
        kind.queryset = trees.all_kinds(orchard)

    @property
    def more_is_wrong(self) -> bool:
        return any(name in self.errors for name in self.MORE)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        for what in ("planted", "born"):
            self._take_year(cleaned, what)
        return cleaned

    def _take_year(self, cleaned: dict[str, Any], what: str) -> None:
        """Let a year stand for a day that nobody knows; of the two the newer counts."""
        day, year = f"{what}_on", f"{what}_year"
        given: int | None = cleaned.pop(year, None)
        cleaned[f"{what}_precision"] = Tree.Precision.DAY
        if given is None:
            return
        if cleaned.get(day) is not None and day in self.changed_data:
            if year in self.changed_data:
                self.add_error(year, _now("Give the day, or only the year, not both."))
            return
        cleaned[day] = date(given, 1, 1)
        cleaned[f"{what}_precision"] = Tree.Precision.YEAR

    def clean_container_litres(self) -> Decimal | None:
        """Return litres; a figure left as it was shown stays exactly what it was."""
        typed: Decimal | None = self.cleaned_data["container_litres"]
        if typed is None or self.orchard.units != "us":
            return typed if typed is None else _tenths(typed)
        kept: Decimal | None = self.initial.get("litres_kept")
        if kept is not None and typed == _tenths(kept / LITRES_PER_US_GALLON):
            return kept
        return _tenths(typed * LITRES_PER_US_GALLON)


def _tenths(number: Decimal) -> Decimal:
    return number.quantize(TENTH)


def initial_of(tree: Tree) -> dict[str, Any]:
    """Return what a form shows of a tree, the container in the orchard's own unit."""
    shown = {name: getattr(tree, name) for name in trees.DETAILS}
    for what in ("planted", "born"):
        day = shown[f"{what}_on"]
        if shown[f"{what}_precision"] == Tree.Precision.YEAR and day is not None:
            shown |= {f"{what}_on": None, f"{what}_year": day.year}
    litres = tree.container_litres
    if litres is not None and tree.orchard.units == "us":
        shown["container_litres"] = _tenths(litres / LITRES_PER_US_GALLON)
        shown["litres_kept"] = litres
    return shown


class NewTreeForm(SpotForm, TreeForm):
    """A tree to be entered in a free spot."""

    field_order = ("code", "spot", "kind")

    def __init__(self, *args: Any, orchard: Orchard, **options: Any) -> None:
        super().__init__(*args, orchard=orchard, **options)
        self.offer_spots()


class TreeCorrectionForm(TreeForm):
    """A correction of what is written about a tree, with its reason."""

    reason = reason_field(_("Why is it corrected?"), max_length=300)


class ReplacementForm(TreeForm):
    """A new tree in the spot of an old one."""

    planted_on = day_field(_("Planted on"))
    reason = forms.CharField(
        label=_("Why was the old tree taken out?"), max_length=300, required=False
    )

    def __init__(self, *args: Any, orchard: Orchard, **options: Any) -> None:
        super().__init__(*args, orchard=orchard, **options)
        # The day is known: it is the last of the old tree as well.
        del self.fields["planted_year"]


class TreeMoveForm(SpotForm):
    on = day_field(_("Moved on"))
    reason = reason_field(max_length=300)

    def __init__(self, *args: Any, orchard: Orchard, **options: Any) -> None:
        super().__init__(*args, **options)
        self.orchard = orchard
        self.offer_spots()


class RemovalForm(forms.Form):
    on = day_field(_("Removed on"))
    reason = reason_field(_("Why was it removed?"), max_length=300)


class TreeEndForm(forms.Form):
    """The tree died, or only its top."""

    what = forms.ChoiceField(
        label=_("What happened?"),
        widget=ColumnOfChoices,
        error_messages={"required": _("Say what happened.")},
    )
    on = day_field(_("Seen on"))
    reason = reason_field(
        _("What did it die of, as far as anybody knows?"), max_length=300
    )

    def __init__(self, *args: Any, tree: Tree, **options: Any) -> None:
        super().__init__(*args, **options)
        choices = [("dead", _("The whole tree is dead"))]
        if tree.state == Tree.State.GROWING and not tree.own_roots:
            top = _("The top is dead, the rootstock lives: rootstock only")
            choices.insert(0, ("rootstock_only", top))
        offer(self, "what", choices)
