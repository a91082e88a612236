"""Fields and forms that every room reads alike: days, numbers, own units, a reason."""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import datetime
from typing import Any

from django import forms
from django.forms.renderers import TemplatesSetting
from django.utils.functional import lazy
from django.utils.translation import gettext_lazy as _

from orchard.science.codes import plain_code
from orchard.science.figures import figure
from orchard.science.units import in_text, shown, stored
from orchard.services.errors import Refused
from orchard.services.photos import Picture, read_picture
from orchard.services.quantities import in_words

NOT_SAID = ""
MOST_PHOTOS = 20
YEARS = range(1900, 9000)
WHY = _("Why?")


class FormRenderer(TemplatesSetting):
    """Write forms and their fields by the templates of this project."""

    form_template_name = "forms/form.html"
    field_template_name = "forms/field.html"


class ColumnOfChoices(forms.RadioSelect):
    """Choices one below the other, for those that are whole sentences."""

    in_column = True


class NumberWithUnit(forms.NumberInput):
    """A number with its unit written behind it."""

    template_name = "forms/number_with_unit.html"

    def __init__(self, attrs: Any = None, *, unit: Any = "") -> None:
        super().__init__(attrs)
        self.unit = unit

    def get_context(self, name: str, value: Any, attrs: Any) -> dict[str, Any]:
        context = super().get_context(name, value, attrs)
        context["widget"]["unit"] = self.unit
        return context


class MeasuredForm(forms.Form):
    """A form whose measured fields are written in the orchard's units."""

    # By field: the unit it is stored in.
    measured: dict[str, str] = {}

    def __init__(self, *args: Any, units: str = "metric", **options: Any) -> None:
        super().__init__(*args, **options)
        self.units = units
        for field in self.fields.values():
            field.label = in_text(str(field.label or ""), units)
            field.help_text = in_text(str(field.help_text or ""), units)
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


def _with_figures(
    text: Any, *, words: bool = False, decimals: int | None = None, **keys: str
) -> str:
    def written(key: str) -> str:
        value = figure(key).value
        if words:
            return in_words(value)
        # As sentences of the guide have it: `in_text` reads no other writing.
        return f"{value:g}" if decimals is None else f"{value:.{decimals}f}"

    return str(text) % {name: written(key) for name, key in keys.items()}


# A text of a form that repeats figures of the guide, each by its key: "%(h)s hours"
# with h="frost_before_oil_h". They are read when it is shown.
with_figures = lazy(_with_figures, str)


class MomentField(forms.DateTimeField):
    """A moment by the browser's own calendar and clock, in the orchard's zone."""

    def __init__(self, *, is_now: bool = False, **options: Any) -> None:
        attrs = {"type": "datetime-local", **({"data-now": True} if is_now else {})}
        super().__init__(
            widget=forms.DateTimeInput(format="%Y-%m-%dT%H:%M", attrs=attrs),
            input_formats=["%Y-%m-%dT%H:%M", "%Y-%m-%dT%H:%M:%S"],
            error_messages={
                "required": _("Give the day and the time."),
                "invalid": _("Give a day and a time."),
            },
            **options,
        )

    def to_python(self, value: Any) -> datetime | None:
        """Read a moment; in years that no clock shows, reckoning with zones fails."""
        moment = super().to_python(value)
        if moment is not None and moment.year not in YEARS:
            raise forms.ValidationError(self.error_messages["invalid"], code="invalid")
        return moment


def photo_field(label: Any, *, help_text: Any = "") -> forms.FileField:
    """Return the field of one photo; it may be left empty."""
    return forms.FileField(
        label=label,
        help_text=help_text,
        required=False,
        widget=forms.FileInput(attrs={"accept": "image/*"}),
    )


class SeveralFilesInput(forms.FileInput):
    """Files, as many as one likes; only pictures are offered."""

    allow_multiple_selected = True

    def __init__(self, attrs: Any = None) -> None:
        super().__init__({"accept": "image/*", **(attrs or {})})

    def value_from_datadict(self, data: Any, files: Any, name: str) -> Any:
        return files.getlist(name) if files else []


class PhotosField(forms.Field):
    """Photos, each decoded at once."""

    widget = SeveralFilesInput

    def clean(self, value: Any) -> tuple[Picture, ...]:
        if len(value) > MOST_PHOTOS:
            text = _(
                "At most %(count)d photos go with one record. Send the rest later."
            )
            raise forms.ValidationError(text % {"count": MOST_PHOTOS})
        pictures, faults = [], []
        for file in value:
            try:
                pictures.append(read_picture(file))
            except Refused as refusal:
                faults.append(str(refusal))
        if faults:
            raise forms.ValidationError(list(dict.fromkeys(faults)))
        return tuple(pictures)


def number_field(label: Any, **options: Any) -> forms.FloatField:
    return forms.FloatField(
        label=label,
        error_messages={
            "required": _("Give a number."),
            "invalid": _("Give a number."),
        },
        **options,
    )


def reason_field(
    label: Any = WHY, *, max_length: int = 500, **options: Any
) -> forms.CharField:
    """Return a field for the reason of a change."""
    options.setdefault("help_text", _("A few words. They stay with the record."))
    return forms.CharField(
        label=label,
        max_length=max_length,
        error_messages={"required": _("Say in a few words why.")},
        **options,
    )


class ReasonForm(forms.Form):
    """A reason alone: to withdraw a note, or to take something back."""

    reason = reason_field()

    def __init__(self, *args: Any, label: Any = None, **options: Any) -> None:
        super().__init__(*args, **options)
        if label:
            self.fields["reason"].label = label


def day_field(label: Any, **options: Any) -> forms.DateField:
    """Return a field for a day, written by the browser's own calendar."""
    return forms.DateField(
        label=label,
        widget=forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"}),
        input_formats=["%Y-%m-%d"],
        error_messages={"required": _("Give the day."), "invalid": _("Give a day.")},
        **options,
    )


def codes_in(text: str) -> tuple[str, ...]:
    """Return the codes in a text, however they are parted, each once."""
    words = (plain_code(word) for word in re.split(r"[\s,;]+", text) if word)
    return tuple({word.casefold(): word for word in words}.values())


def offer(form: forms.BaseForm, name: str, choices: Iterable[tuple[Any, Any]]) -> None:
    """Set what may be chosen in a field of a form that is being made."""
    field = form.fields[name]
    if not isinstance(field, forms.ChoiceField):
        raise TypeError(f"{name} is no field of choices.")
    field.choices = list(choices)


def set_unit(form: forms.BaseForm, name: str, unit: str) -> None:
    """Set the unit written behind a number of a form that is being made."""
    widget = form.fields[name].widget
    if not isinstance(widget, NumberWithUnit):
        raise TypeError(f"{name} is written without a unit.")
    widget.unit = unit
