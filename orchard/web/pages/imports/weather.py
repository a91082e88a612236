"""A weather file: sent, its columns and units shown, looked through, taken in."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods

from orchard.services import imports, permissions
from orchard.services.errors import Refused
from orchard.services.imports import Sheet, weather_files
from orchard.services.imports.weather_files import Choices, Imported
from orchard.services.permissions import Deed
from orchard.web import answers
from orchard.web.doorkeeper import door
from orchard.web.pages.imports import carried
from orchard.web.pages.imports import weather_forms as forms
from orchard.web.pages.weather import first_days
from orchard.web.requests import OrchardRequest

EXAMPLE = (
    ("date", "lowest (°C)", "highest (°C)", "rain (mm)", "wind at 2 m (m/s)"),
    ("2026-04-01", "7.5", "19.2", "0", "1.8"),
    ("2026-04-02", "8.1", "17.4", "12.5", "2.6"),
    ("2026-04-03", "6.9", "18.8", "", "1.4"),
)
# Rows that something is said about; the rest of a long file is counted.
MOST_SHOWN = 100


@require_http_methods(["GET", "HEAD", "POST"])
@door(Deed.KEEP_WEATHER)
def import_weather(request: OrchardRequest) -> HttpResponse:
    if request.method == "POST" and "sheet" in request.POST:
        return _answered(request)
    form = forms.Upload.for_orchard(
        request.orchard,
        request.POST if request.method == "POST" else None,
        request.FILES or None,
    )
    context = {"form": form, "example": EXAMPLE}
    if request.method != "POST":
        return render(request, "imports/weather_upload.html", context)
    if form.is_valid():
        file = form.cleaned_data["file"]
        with answers.refusals(form):
            sheet = imports.read_sheet(
                file, file.name, most_rows=weather_files.MOST_ROWS
            )
            return _shown(request, sheet, form.about, Choices())
    return answers.refused_page(request, "imports/weather_upload.html", context)


def _answered(request: OrchardRequest) -> HttpResponse:
    """Look again with what was chosen, or take in what was shown."""
    found = carried.unpacked(request.POST["sheet"], _salt(request))
    if found is None:
        text = _(
            "The page with the file is older than a day, or damaged. Send it again."
        )
        form = forms.Upload.for_orchard(request.orchard)
        context = {"form": form, "example": EXAMPLE, "refusal": text}
        return answers.refused_page(request, "imports/weather_upload.html", context)
    sheet, about = found
    choices = forms.choices_in(request.POST, sheet, about["sort"])
    if request.POST.get("step") != "take":
        return _shown(request, sheet, about, choices)
    if request.POST.get("mark") != forms.mark_of(choices):
        text = _("You changed something above. This is what would happen now.")
        return _shown(request, sheet, about, choices, refusal=text)
    try:
        taken = weather_files.import_days(
            request.orchard,
            sheet,
            sort=about["sort"],
            station=forms.new_station(about) or _station(request, about),
            by=request.user,
            now=request.now,
            today=request.today,
            choices=choices,
            source=about["source"],
        )
    except Refused as refusal:
        return _shown(request, sheet, about, choices, refusal=str(refusal))
    slug = request.orchard.slug
    return answers.done(request, _summary(taken), to="weather", orchard=slug)


def _station(request: OrchardRequest, about: dict[str, str]) -> Any:
    if not about["station"]:
        return None
    return permissions.station_for(request.member, int(about["station"]))


def _shown(
    request: OrchardRequest,
    sheet: Sheet,
    about: dict[str, str],
    choices: Choices,
    refusal: str = "",
) -> HttpResponse:
    preview = weather_files.preview(
        request.orchard,
        sheet,
        sort=about["sort"],
        station=_station(request, about),
        today=request.today,
        choices=choices,
    )
    shown = Choices(
        mapping=tuple(column.field for column in preview.columns),
        units={column.field: column.unit for column in preview.columns if column.unit},
        day_first=choices.day_first,
        only_station=choices.only_station,
        as_gaps=choices.as_gaps,
        correct=choices.correct,
    )
    context = {
        "preview": preview,
        "sheet": sheet,
        "about": about,
        "packed": carried.packed(sheet, _salt(request), about),
        "mark": forms.mark_of(shown),
        "choices": choices,
        "fields": forms.field_choices(about["sort"]),
        "to_look_at": preview.to_look_at[:MOST_SHOWN],
        "not_shown": max(0, len(preview.to_look_at) - MOST_SHOWN),
        "first_days": list(first_days(preview)),
        "refusal": refusal,
    }
    status = 422 if refusal else 200
    return render(request, "imports/weather_preview.html", context, status=status)


def _salt(request: OrchardRequest) -> str:
    return f"weather:{request.orchard.pk}:{request.user.pk}"


def _summary(taken: Imported) -> str:
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
