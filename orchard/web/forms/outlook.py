"""What the outlook asks for: the night as it was, the ground, water, crown, horizon."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any

from django import forms
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from orchard.records.models import Block, Crown, Horizon, Soil, Watering
from orchard.science.measures import in_text, shown, stored
from orchard.web.forms.work import day_field

COMPASS = 16


def compass_names() -> list[str]:
    """Name the sixteen directions of the compass, clockwise from north."""
    return [
        _now("north"), _now("north-north-east"), _now("north-east"),
        _now("east-north-east"), _now("east"), _now("east-south-east"),
        _now("south-east"), _now("south-south-east"), _now("south"),
        _now("south-south-west"), _now("south-west"), _now("west-south-west"),
        _now("west"), _now("west-north-west"), _now("north-west"),
        _now("north-north-west"),
    ]  # fmt: skip


class MeasuredForm(forms.Form):
    """A form whose measured fields are written in the orchard's units."""

    # By field: the unit it is stored in.
    measured: dict[str, str] = {}

    def __init__(self, *args: Any, units: str = "metric", **options: Any) -> None:
        super().__init__(*args, **options)
        self.units = units
        for field in self.fields.values():
            field.label = in_text(str(field.label or ""), units)
        for name, unit in self.measured.items():
            if name in self.fields:
                written = shown(0.0, unit, units)[1]
                self.fields[name].label = f"{self.fields[name].label}, {written}"
                self.fields[name].widget.attrs.setdefault("inputmode", "decimal")
                self.fields[name].widget.attrs.setdefault("step", "any")
                stands = self.initial.get(name)
                if stands is not None:
                    self.initial[name] = round(shown(stands, unit, units)[0], 2)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        for name, unit in self.measured.items():
            value = cleaned.get(name)
            if value is not None:
                cleaned[name] = stored(value, unit, self.units)
        return cleaned


def _number(label: Any, **options: Any) -> forms.FloatField:
    return forms.FloatField(
        label=label,
        error_messages={
            "required": _("Give a number."),
            "invalid": _("Give a number."),
        },
        **options,
    )


class EveningForm(MeasuredForm):
    measured = {"evening": "°C"}

    evening = _number(_("Air two hours after sunset"), required=False)


class NightForm(MeasuredForm):
    measured = {"lowest": "°C"}

    ended_on = day_field(_("The night that ended on"))
    lowest = _number(_("Lowest temperature"))
    hours_check = _number(
        _("Hours at -2 °C or below"),
        required=False,
        help_text=_("Leave it open if nobody counted: with an evening reading the "
                    "curve of the night tells it."),
    )  # fmt: skip
    hours_hold = _number(_("Hours at -4 °C or below"), required=False)
    calm_clear = forms.TypedChoiceField(
        label=_("Still and clear all night"),
        choices=[("", _("not known")), ("yes", _("yes")), ("no", _("no"))],
        coerce=lambda said: {"yes": True, "no": False}[said],
        empty_value=None,
        required=False,
        help_text=_("The orchard's own offset is learnt from such nights alone."),
    )
    note = forms.CharField(label=_("In your words"), max_length=500, required=False)


class SoilForm(forms.Form):
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


class WateringForm(MeasuredForm):
    measured = {"litres": "L"}

    tree = forms.CharField(
        label=_("Tree"),
        max_length=24,
        required=False,
        help_text=_("The code on its tag, or choose a whole block."),
    )
    block = forms.ModelChoiceField(
        label=_("Or all growing trees of a block"),
        queryset=Block.objects.none(),
        required=False,
        empty_label=_("no block, the tree above"),
    )
    litres = _number(_("Water for each tree"))
    given_on = day_field(_("When"))
    note = forms.CharField(label=_("In your words"), max_length=300, required=False)

    def __init__(self, *args: Any, orchard: Any, **options: Any) -> None:
        super().__init__(*args, units=orchard.units, **options)
        blocks = Block.objects.filter(orchard=orchard).order_by("position", "id")
        self.fields["block"].queryset = blocks

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        if bool(cleaned.get("tree")) == bool(cleaned.get("block")):
            self.add_error(
                "tree", _now("Give the code of one tree, or choose a block.")
            )
        return cleaned


class WateringCorrectionForm(MeasuredForm):
    measured = {"litres": "L"}

    litres = _number(_("Water given"))
    given_on = day_field(_("When"))
    reason = forms.CharField(label=_("Why you correct it"), max_length=500)

    @classmethod
    def of(cls, row: Watering, *, units: str, data=None) -> WateringCorrectionForm:
        """Return the form filled with what is noted."""
        said = {"litres": row.litres, "given_on": row.given_on}
        return cls(data, units=units, initial=said)


class CrownForm(MeasuredForm):
    measured = {"width_m": "m", "height_m": "m"}

    width_m = _number(
        _("Width of the crown"),
        help_text=_("The mean of two measures across, at right angles."),
    )
    height_m = _number(_("Height"), required=False)
    measured_on = day_field(_("When"))

    @classmethod
    def new(
        cls, last: Crown | None, *, today: date, units: str, data=None
    ) -> CrownForm:
        """Return the form for a new measurement, the last one shown to start from."""
        said: dict[str, Any] = {"measured_on": today}
        if last is not None:
            said |= {"width_m": last.width_m, "height_m": last.height_m}
        return cls(data, units=units, initial=said)


class HorizonForm(forms.Form):
    """An angle for each of sixteen directions, and how the compass was read."""

    declination = _number(
        _("Declination, degrees east"),
        required=False,
        help_text=_("How far the compass here points east of true north; west is "
                    "negative. Leave 0 if you read true directions."),
    )  # fmt: skip
    surveyed_on = day_field(_("When"))
    how = forms.ChoiceField(
        choices=Horizon.How.choices,
        widget=forms.HiddenInput,
        initial=Horizon.How.TYPED,
        required=False,
    )
    note = forms.CharField(label=_("In your words"), max_length=300, required=False)

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        for number, name in enumerate(compass_names()):
            attrs = {
                "inputmode": "numeric",
                "min": 0,
                "max": 90,
                "step": "any",
                "data-azimuth": f"{number * 360 / COMPASS:g}",
            }
            self.fields[f"at_{number}"] = forms.FloatField(
                label=name,
                required=False,
                min_value=0,
                max_value=90,
                widget=forms.NumberInput(attrs=attrs),
                error_messages={
                    "min_value": _("0 is level, 90 straight up."),
                    "max_value": _("0 is level, 90 straight up."),
                },
            )

    @property
    def directions(self) -> Sequence[Any]:
        return [self[f"at_{number}"] for number in range(COMPASS)]

    def points(self) -> list[tuple[float, float]]:
        """Return the directions for which an angle was given."""
        angles = [
            (number * 360 / COMPASS, self.cleaned_data.get(f"at_{number}"))
            for number in range(COMPASS)
        ]
        return [(around, angle) for around, angle in angles if angle is not None]


class ObstacleForm(MeasuredForm):
    """A wall or tree that might stand there."""

    measured = {"distance": "m", "height": "m", "width": "m"}

    towards = forms.TypedChoiceField(label=_("Direction"), coerce=float)
    distance = _number(_("Distance"), min_value=0.1, max_value=3000)
    height = _number(_("Height above the crown's middle"), min_value=0, max_value=500)
    width = _number(_("Width"), min_value=0.1, max_value=3000)

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["towards"].choices = [
            (f"{number * 360 / COMPASS:g}", name)
            for number, name in enumerate(compass_names())
        ]


class WithdrawalForm(forms.Form):
    reason = forms.CharField(label=_("Why it is withdrawn"), max_length=500)
