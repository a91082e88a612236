"""Fields of a long form in folds, each of which says in its own line what it holds.

What is wrong stands open when the page comes back. `static/js/folds.js` writes the same
lines while a form is being filled in.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django import forms
from django.forms.boundfield import BoundField
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _

# A form that was opened so short a while ago is of this moment.
JUST_NOW = timedelta(minutes=5)


@dataclass(frozen=True, slots=True)
class Fold:
    """Some fields of a form, and a line that stands for what they hold.

    Of fields marked `data-asked` the line names those that are still empty.
    """

    fields: Sequence[BoundField]
    line: str = ""

    @property
    def is_wrong(self) -> bool:
        return any(field.errors for field in self.fields)

    @property
    def filled(self) -> str:
        """Return what is filled in."""
        return self.line or filled_text(self.fields)

    @property
    def says(self) -> str:
        """Return what is filled in, and what is still needed of it."""
        lacking = [
            str(field.label)
            for field in self.fields
            if "data-asked" in field.field.widget.attrs and not is_filled(field)
        ]
        parts = [self.filled]
        if lacking:
            parts.append(_("Needed: %(what)s") % {"what": ", ".join(lacking)})
        return ". ".join(filter(None, parts))


def ask_for(form: forms.BaseForm, names: Iterable[str]) -> None:
    """Mark the fields of a form that its record needs."""
    for name in names:
        if name in form.fields:
            form.fields[name].widget.attrs["data-asked"] = True


def is_filled(field: BoundField) -> bool:
    return field.value() not in (None, "", False, [])


def filled_text(fields: Sequence[BoundField]) -> str:
    """Say in one line what fields hold; a number comes before its unit."""
    parts: list[str] = []
    number = ""
    for field in fields:
        text = value_text(field) if is_filled(field) else ""
        if field.name.endswith("unit"):
            parts.append(f"{number} {text}".strip() if number else "")
            number = ""
        elif _has_unit(field, fields):
            number = text
        elif text and _is_bare(field):
            parts.append(f"{field.label}: {text}")
        else:
            parts.append(text)
    return ", ".join(filter(None, parts))


def _has_unit(field: BoundField, fields: Sequence[BoundField]) -> bool:
    """Tell whether the unit of a number is chosen in a field of its own."""
    own = ("unit", f"{field.name}_unit")
    return isinstance(field.field, forms.FloatField) and any(
        other.name in own and other.form is field.form for other in fields
    )


def _is_bare(field: BoundField) -> bool:
    """Tell whether a value says nothing without the name of its field."""
    return isinstance(field.field, (forms.FloatField, forms.IntegerField)) or (
        type(field.field) is forms.DateField
    )


def value_text(field: BoundField) -> str:
    """Return the value of a field as people read it."""
    value: Any = field.value()
    if isinstance(field.field, forms.BooleanField):
        return str(field.label)
    if isinstance(field.field, forms.ChoiceField):
        chosen = {str(each) for each in value} if _is_many(value) else {str(value)}
        choices: Any = field.field.choices
        return ", ".join(str(name) for key, name in choices if str(key) in chosen)
    if isinstance(field.field, forms.DateTimeField):
        return moment_text(field)
    if isinstance(field.field, forms.DateField):
        return str(field.field.widget.format_value(value) or "")
    if isinstance(value, float):
        return f"{value:g}"
    return str(value)


def _is_many(value: Any) -> bool:
    return isinstance(value, (list, tuple, set))


def moment_text(field: BoundField) -> str:
    """Return the moment in a field as it is said on a form; "" for none."""
    value = field.value() if field.form.is_bound else field.initial
    if value and not isinstance(value, datetime):
        try:
            value = field.field.clean(value)
        except forms.ValidationError:
            return str(value)
    return date_format(timezone.localtime(value), "j M Y, H:i") if value else ""
