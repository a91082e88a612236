"""A weather file: sent, its columns and units shown, looked through, taken in."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from django import forms
from django.http import HttpResponse, QueryDict
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods

from orchard.records.models import Station
from orchard.services import permissions
from orchard.services.imports import weather_files
from orchard.services.imports.sheets import Sheet
from orchard.services.imports.weather_files import (
    ImportedDays,
    WeatherChoices,
    WeatherPreview,
)
from orchard.services.permissions import Deed
from orchard.web.doorkeeper import door
from orchard.web.pages.imports import weather_forms
from orchard.web.pages.imports.sheets import SheetPages
from orchard.web.pages.weather import first_days
from orchard.web.requests import OrchardRequest

EXAMPLES = {
    "metric": (
        ("date", "lowest (°C)", "highest (°C)", "rain (mm)", "wind at 2 m (m/s)"),
        ("2026-04-01", "7.5", "19.2", "0", "1.8"),
        ("2026-04-02", "8.1", "17.4", "12.5", "2.6"),
        ("2026-04-03", "6.9", "18.8", "", "1.4"),
    ),
    "us": (
        ("date", "lowest (°F)", "highest (°F)", "rain (in)", "wind (mph)"),
        ("2026-04-01", "45", "67", "0", "6"),
        ("2026-04-02", "47", "63", "0.49", "9"),
        ("2026-04-03", "44", "66", "", "5"),
    ),
}
# Rows with reasons or notes; the rest of a long file is counted.
MOST_SHOWN = 100


class WeatherFilePages(SheetPages[WeatherChoices, WeatherPreview]):
    """The steps of taking in a weather file."""

    name = "weather"
    leads_to = "weather"
    most_rows = weather_files.MOST_ROWS
    choices_class = WeatherChoices

    @property
    def example(self) -> tuple[tuple[str, ...], ...]:
        return EXAMPLES[self.request.orchard.units]

    def upload_form(self, *data: Any) -> forms.Form:
        orchard = self.request.orchard
        return weather_forms.WeatherUploadForm(*data, orchard=orchard)

    def about(self, form: forms.Form) -> dict[str, str]:
        return weather_forms.about(form.cleaned_data)

    def field_labels(self, about: dict[str, str]) -> dict[str, object]:
        return weather_files.labels(weather_files.fields_of(about["sort"]))

    def count_recognised(self, cells: Sequence[str], about: dict[str, str]) -> int:
        fields = weather_files.fields_of(about["sort"])
        return weather_files.count_recognised(cells, fields)

    def choices_in(
        self, sent: QueryDict, sheet: Sheet, about: dict[str, str]
    ) -> WeatherChoices:
        return weather_forms.choices_in(sent, sheet, about["sort"])

    def preview(
        self, sheet: Sheet, about: dict[str, str], choices: WeatherChoices
    ) -> WeatherPreview:
        return weather_files.preview(
            self.request.orchard,
            sheet,
            sort=about["sort"],
            station=self._station(about),
            today=self.request.today,
            choices=choices,
        )

    def shown_choices(
        self, preview: WeatherPreview, choices: WeatherChoices
    ) -> WeatherChoices:
        units = {column.field: column.unit for column in preview.columns if column.unit}
        return replace(super().shown_choices(preview, choices), units=units)

    def details(self, preview: WeatherPreview) -> dict[str, Any]:
        return {
            "to_look_at": preview.remarkable[:MOST_SHOWN],
            "not_shown": max(0, len(preview.remarkable) - MOST_SHOWN),
            "first_days": list(first_days(preview)),
        }

    def take_in(
        self, sheet: Sheet, about: dict[str, str], choices: WeatherChoices
    ) -> str:
        taken = weather_files.import_days(
            self.request.orchard,
            sheet,
            sort=about["sort"],
            station=weather_forms.new_station(about) or self._station(about),
            by=self.request.user,
            now=self.request.now,
            today=self.request.today,
            choices=choices,
            source=about["source"],
        )
        return _summary(taken)

    def _station(self, about: dict[str, str]) -> Station | None:
        if not about["station"]:
            return None
        return permissions.station_for(self.request.member, int(about["station"]))


@require_http_methods(["GET", "HEAD", "POST"])
@door(Deed.KEEP_WEATHER)
def import_weather(request: OrchardRequest) -> HttpResponse:
    return WeatherFilePages(request).answer()


def _summary(taken: ImportedDays) -> str:
    parts = [
        ngettext("%(count)d day is new.", "%(count)d days are new.", taken.new)
        % {"count": taken.new}
    ]
    if taken.here:
        parts.append(
            ngettext(
                "%(count)d was here already.",
                "%(count)d were here already.",
                taken.here,
            )
            % {"count": taken.here}
        )
    if taken.corrected:
        parts.append(
            ngettext(
                "%(count)d was corrected.",
                "%(count)d were corrected.",
                taken.corrected,
            )
            % {"count": taken.corrected}
        )
    return " ".join(parts)
