"""Days of the year: read as a day and a month, kept as counted from spring."""

from __future__ import annotations

import re
from typing import Any

from django import forms
from django.utils.dates import MONTHS
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from orchard.science.windows import first_month


class DayOfYear(forms.MultiWidget):
    """A day and a month, without a year."""

    def __init__(self, attrs: Any = None) -> None:
        months = [("", "—"), *((str(n), name) for n, name in MONTHS.items())]
        day = forms.NumberInput(
            attrs={"min": 1, "max": 31, "aria-label": _("day of the month")}
        )
        month = forms.Select(choices=months, attrs={"aria-label": _("month")})
        super().__init__({"day": day, "month": month}, attrs)

    def decompress(self, value: Any) -> list[Any]:
        return list(value) if value else [None, ""]


class DayOfYearField(forms.MultiValueField):
    widget = DayOfYear

    def __init__(self, **options: Any) -> None:
        fields = (
            forms.IntegerField(min_value=1, max_value=31, required=False),
            forms.IntegerField(min_value=1, max_value=12, required=False),
        )
        super().__init__(fields, required=False, require_all_fields=False, **options)
        self.template_name = "forms/day_of_year.html"

    def compress(self, values: list[Any]) -> tuple[int, int] | None:
        if not values or all(value is None for value in values):
            return None
        if any(value is None for value in values):
            raise forms.ValidationError(_("Give both, the day and the month."))
        return values[0], values[1]


def season_day(day: tuple[int, int] | None, latitude: float) -> str:
    """Return a day and month as the record keeps it, counted from spring."""
    if day is None:
        return ""
    month = (day[1] - first_month(latitude)) % 12 + 1
    return f"SM{month}-{day[0]:02d}"


def calendar_day(text: str, latitude: float) -> tuple[int, int] | None:
    """Return the day and month of what the record keeps."""
    found = re.fullmatch(r"SM(\d{1,2})-(\d{1,2})", text)
    if found is None:
        return None
    return int(found[2]), (first_month(latitude) + int(found[1]) - 2) % 12 + 1


def day_said(day: tuple[int, int] | None) -> str:
    """Write a day and month in words."""
    if day is None:
        return ""
    return _now("%(day)d %(month)s") % {"day": day[0], "month": MONTHS[day[1]]}
