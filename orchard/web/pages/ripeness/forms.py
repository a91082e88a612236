"""How a test of fruit is noted, corrected and withdrawn."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from orchard.records.models import RipenessTest
from orchard.web.fields import MeasuredForm, day_field


def _number(label: Any, **options: Any) -> forms.FloatField:
    return forms.FloatField(
        label=label,
        required=False,
        widget=forms.NumberInput(attrs={"inputmode": "decimal", "step": "any"}),
        error_messages={"invalid": _("Give a number.")},
        **options,
    )


OF_JUICE = (
    "taste",
    "tasters",
    "already_eaten",
    "brix_read",
    "juice_c",
    "acid_percent",
    "titrant_ml",
    "normality",
    "sample_ml",
    "juice_percent",
    "juice_g",
    "fruit_g",
)


class RipenessForm(MeasuredForm):
    """A test of some fruit: whichever figures were measured, the middle one of each."""

    measured = {"juice_c": "°C"}

    tree = forms.CharField(
        label=_("Fruit from tree"),
        max_length=24,
        help_text=_(
            "The code on its tag. The test counts for its cultivar in the block."
        ),
    )
    tested_on = day_field(_("When"))
    fruits = forms.IntegerField(
        label=_("How many fruit"),
        help_text=_("At least five, from all sides of the tree."),
        error_messages={
            "required": _("Say how many fruit."),
            "invalid": _("Give a whole number."),
        },
    )
    taste = forms.TypedChoiceField(
        label=_("Taste"),
        choices=[
            ("", _("nobody tasted")),
            *(
                (taste.value, f"{taste.value} {taste.label}")
                for taste in RipenessTest.Taste
            ),
        ],
        coerce=int,
        empty_value=None,
        required=False,
    )
    tasters = forms.IntegerField(
        label=_("How many tasted"),
        required=False,
        help_text=_("At least three. Enter the median."),
        error_messages={"invalid": _("Give a whole number.")},
    )
    already_eaten = forms.BooleanField(
        label=_("It was eaten already, during a harvest hold"),
        required=False,
        help_text=_("The coordinator is asked to look into it."),
    )
    colour_percent = _number(_("Yellow rind, %"))
    scented = forms.TypedChoiceField(
        label=_("Scent"),
        choices=[
            ("", _("nobody smelled it")),
            ("True", _("smells as it should")),
            ("False", _("little or no scent yet")),
        ],
        coerce=lambda text: text == "True",
        empty_value=None,
        required=False,
    )
    brix_read = _number(_("Soluble solids as read, °Brix"))
    juice_c = _number(
        _("Temperature of the juice"),
        help_text=_(
            "Leave empty if the refractometer corrects for temperature itself."
        ),
    )
    acid_percent = _number(_("Acid, %"), help_text=_("As anhydrous citric acid."))
    titrant_ml = _number(_("Hydroxide used, mL"))
    normality = _number(_("Its strength, mol/L"))
    sample_ml = _number(_("Juice titrated, mL"))
    juice_percent = _number(_("Juice, % of the fruit's mass"))
    juice_g = _number(_("Mass of the juice, g"))
    fruit_g = _number(_("Mass of the fruit it came from, g"))
    note = forms.CharField(label=_("In your words"), max_length=300, required=False)
    reason = forms.CharField(label=_("Why you correct it"), max_length=500)

    @classmethod
    def new(
        cls,
        *,
        tree: str,
        today: date,
        units: str,
        tested_on: date | None = None,
        by_colour: bool = False,
        data: Any = None,
    ) -> RipenessForm:
        """Return the form for a new test; fruit judged by colour is not pressed."""
        initial = {"tree": tree, "tested_on": tested_on or today, "fruits": 5}
        form = cls(data, units=units, initial=initial)
        del form.fields["reason"]
        for name in OF_JUICE if by_colour else ():
            del form.fields[name]
        form.fields["tested_on"].widget.attrs["max"] = today.isoformat()
        return form

    @classmethod
    def correcting(
        cls, row: RipenessTest, *, today: date, units: str, data: Any = None
    ) -> RipenessForm:
        """Return the form filled with what is noted, asking for the reason."""
        initial = {
            name: getattr(row, name)
            for name in cls.base_fields
            if name not in ("reason", "already_eaten")
        }
        initial["tree"] = row.tree.code
        form = cls(data, units=units, initial=initial)
        del form.fields["tree"], form.fields["already_eaten"]
        form.fields["tested_on"].widget.attrs["max"] = today.isoformat()
        return form

    def _fields(self, *names: str) -> Sequence[Any]:
        return [self[name] for name in names if name in self.fields]

    @property
    def tasting(self) -> Sequence[Any]:
        return self._fields("taste", "tasters", "already_eaten")

    @property
    def colour(self) -> Sequence[Any]:
        return self._fields("colour_percent", "scented")

    @property
    def acid(self) -> Sequence[Any]:
        return self._fields("acid_percent")

    @property
    def juice(self) -> Sequence[Any]:
        return self._fields("juice_percent")

    @property
    def sugar(self) -> Sequence[Any]:
        return self._fields("brix_read", "juice_c")

    @property
    def titration(self) -> Sequence[Any]:
        return self._fields("titrant_ml", "normality", "sample_ml")

    @property
    def masses(self) -> Sequence[Any]:
        return self._fields("juice_g", "fruit_g")

    @property
    def looked_at(self) -> bool:
        """Whether colour or scent is filled in, wrong, or all that is asked for."""
        filled = any(field.value() or field.errors for field in self.colour)
        return filled or not self.tasting

    @property
    def titrated(self) -> bool:
        """Whether the titration is filled in or wrong, so that it stands open."""
        return any(field.value() or field.errors for field in self.titration)

    @property
    def weighed(self) -> bool:
        """Whether the masses are filled in or wrong, so that they stand open."""
        return any(field.value() or field.errors for field in self.masses)
