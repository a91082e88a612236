"""What is asked about the sun: a horizon as surveyed, an obstacle that may come."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from orchard.records.models import Horizon
from orchard.web.fields import MeasuredForm, day_field, number_field

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


class HorizonForm(forms.Form):
    """An angle for each of sixteen directions, and how the compass was read."""

    declination = number_field(
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
    distance = number_field(_("Distance"))
    height = number_field(_("Height above the crown's middle"))
    width = number_field(_("Width"))

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        towards = self.fields["towards"]
        assert isinstance(towards, forms.ChoiceField)
        towards.choices = [
            (f"{number * 360 / COMPASS:g}", name)
            for number, name in enumerate(compass_names())
        ]
