"""What is asked about water: the soil, a watering, a crown."""

from __future__ import annotations

from datetime import date
from typing import Any

from django import forms
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from orchard.records.models import Block, Crown, Orchard, Soil, Watering
from orchard.services import water
from orchard.web.fields import MeasuredForm, day_field, number_field, with_figures


def _depth_of(key: str) -> Any:
    """Say what depth is taken where none is given."""
    return with_figures(_("Where empty, %(depth)s m."), decimals=1, depth=key)


class SoilForm(MeasuredForm):
    measured = {"depth_new_m": "m", "depth_young_m": "m", "depth_mature_m": "m"}

    sort = forms.ChoiceField(
        label=_("The soil the roots stand in"),
        choices=Soil.Sort.choices,
        widget=forms.RadioSelect,
    )
    cover = forms.ChoiceField(
        label=_("Under the trees"),
        choices=Soil.Cover.choices,
        widget=forms.RadioSelect,
    )
    is_strip = forms.BooleanField(
        label=_("Drippers wet only a strip of the ground"),
        required=False,
        help_text=_(
            "The roots then reach less water, so the tree is watered more often."
        ),
    )
    depth_new_m = number_field(
        with_figures(
            _("Root depth, planted less than %(years)s years ago"),
            words=True,
            years="root_new_years",
        ),
        required=False,
        help_text=_depth_of("root_depth_new_m"),
    )
    depth_young_m = number_field(
        with_figures(
            _("Root depth, planted %(first)s to %(last)s years ago"),
            words=True,
            first="root_new_years",
            last="root_young_years",
        ),
        required=False,
        help_text=_depth_of("root_depth_young_m"),
    )
    depth_mature_m = number_field(
        _("Root depth of grown trees"),
        required=False,
        help_text=_depth_of("root_depth_mature_m"),
    )

    @classmethod
    def setting(cls, soil: Soil | None, *, units: str, data: Any = None) -> SoilForm:
        """Return the form filled with what the ground is taken for now."""
        names = ("sort", "cover", "is_strip", *cls.measured)
        initial = {name: getattr(soil, name) for name in names} if soil else {}
        return cls(data, units=units, initial=initial)


class WateringForm(MeasuredForm):
    measured = {"litres": "L"}

    tree = forms.CharField(
        label=_("Tree"),
        max_length=24,
        required=False,
        help_text=_("The code on its tag, or choose a whole block."),
    )
    block: forms.ModelChoiceField[Block] = forms.ModelChoiceField(
        label=_("Or all growing trees of a block"),
        queryset=None,
        required=False,
        empty_label=_("no block, the tree above"),
    )
    litres = number_field(_("Water for each tree"))
    given_on = day_field(_("When"))
    note = forms.CharField(label=_("In your words"), max_length=300, required=False)

    def __init__(self, *args: Any, orchard: Orchard, **options: Any) -> None:
        super().__init__(*args, units=orchard.units, **options)
        block = self.fields["block"]
        assert isinstance(block, forms.ModelChoiceField)
        block.queryset = water.blocks_to_water(orchard)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        if bool(cleaned.get("tree")) == bool(cleaned.get("block")):
            self.add_error(
                "tree", _now("Give the code of one tree, or choose a block.")
            )
        return cleaned


class WateringCorrectionForm(MeasuredForm):
    measured = {"litres": "L"}

    litres = number_field(_("Water given"))
    given_on = day_field(_("When"))
    reason = forms.CharField(label=_("Why you correct it"), max_length=500)

    @classmethod
    def correcting(
        cls, row: Watering, *, units: str, data: Any = None
    ) -> WateringCorrectionForm:
        """Return the form filled with what is noted."""
        initial = {"litres": row.litres, "given_on": row.given_on}
        return cls(data, units=units, initial=initial)


class CrownForm(MeasuredForm):
    measured = {"width_m": "m", "height_m": "m"}

    width_m = number_field(
        _("Crown width"),
        help_text=_("The mean of two measures across, at right angles."),
    )
    height_m = number_field(_("Height"), required=False)
    measured_on = day_field(_("When"))

    @classmethod
    def new(
        cls, last: Crown | None, *, today: date, units: str, data: Any = None
    ) -> CrownForm:
        """Return the form for a new measurement, the last one shown to start from."""
        initial: dict[str, Any] = {"measured_on": today}
        if last is not None:
            initial |= {"width_m": last.width_m, "height_m": last.height_m}
        return cls(data, units=units, initial=initial)
