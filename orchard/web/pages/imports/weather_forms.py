"""The form of a weather file, and what the person says about it."""

from __future__ import annotations

from typing import Any, cast

from django import forms
from django.http import QueryDict
from django.utils.translation import gettext_lazy as _

from orchard.records.models import Orchard
from orchard.services import weather
from orchard.services.imports import weather_files
from orchard.services.imports.sheets import Sheet
from orchard.services.imports.weather_files import NewStation, Sort, WeatherChoices
from orchard.web.pages.imports.sheets import (
    day_first_in,
    left_out_in,
    mapping_in,
    sheet_field,
)

A_NEW_ONE = "new"


class WeatherUploadForm(forms.Form):
    """A weather file, what it is, and where its figures come from."""

    file = sheet_field(
        _("The file: CSV or XLSX"),
        _("One row for each day, or hours with their time; at most 12,000 rows."),
    )
    sort = forms.ChoiceField(
        label=_("What it holds"),
        choices=[
            (Sort.DAYS.value, _("days that were measured")),
            (Sort.FORECAST.value, _("a forecast")),
        ],
        initial=Sort.DAYS.value,
        widget=forms.RadioSelect,
    )
    station = forms.ChoiceField(
        label=_("Which station"),
        required=False,
        help_text=_("Leave empty for a forecast."),
    )
    name = forms.CharField(
        label=_("Name of a new station"), max_length=80, required=False
    )
    own = forms.BooleanField(label=_("It is in this orchard"), required=False)
    source = forms.CharField(
        label=_("Where the figures come from"),
        max_length=200,
        required=False,
        help_text=_(
            "For a new station or a forecast: whose instrument, record or service."
        ),
    )

    def __init__(self, *data: Any, orchard: Orchard) -> None:
        super().__init__(*data)
        station = cast(forms.ChoiceField, self.fields["station"])
        station.choices = [
            *((str(row.pk), row.name) for row in weather.stations_of(orchard)),
            (A_NEW_ONE, _("a new one")),
        ]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        is_new = cleaned.get("station") in (A_NEW_ONE, "")
        if cleaned.get("sort") == Sort.FORECAST:
            if not cleaned.get("source", "").strip():
                self.add_error("source", _("Say whose forecast it is."))
        elif is_new:
            if not cleaned.get("name", "").strip():
                self.add_error("name", _("Give the new station a name."))
            if not cleaned.get("source", "").strip():
                self.add_error("source", _("Say where the figures come from."))
        return cleaned


def about(answers: dict[str, Any]) -> dict[str, str]:
    """Return what was entered beside the file, to be carried along with it."""
    station = answers["station"] if answers["station"] != A_NEW_ONE else ""
    return {
        "sort": answers["sort"],
        "station": "" if answers["sort"] == Sort.FORECAST else station,
        "name": answers["name"].strip(),
        "own": "own" if answers["own"] else "record",
        "source": answers["source"].strip(),
    }


def new_station(about: dict[str, str]) -> NewStation | None:
    """Return the station that is to be entered with a file, if one is."""
    if about["sort"] == Sort.FORECAST or about["station"]:
        return None
    return NewStation(about["name"], about["source"], about["own"])


def choices_in(sent: QueryDict, sheet: Sheet, sort: str) -> WeatherChoices:
    """Return what the person chose; what makes no sense is not chosen."""
    labels = weather_files.labels(weather_files.fields_of(sort))
    units = {
        code: unit
        for code in weather_files.fields_of(sort)
        if (unit := sent.get(f"unit_{code}", ""))
    }
    return WeatherChoices(
        mapping=mapping_in(sent, sheet, labels),
        units=units,
        day_first=day_first_in(sent),
        left_out=left_out_in(sent),
        only_station=sent.get("only_station", ""),
        as_gaps=sent.get("as_gaps") == "yes",
        correct=sent.get("correct") == "yes",
    )
