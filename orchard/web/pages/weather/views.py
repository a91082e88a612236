"""Weather: the days month by month, readings and forecasts noted by hand."""

from __future__ import annotations

import re
from datetime import date, timedelta
from functools import partial
from typing import Any

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from orchard.services import permissions, weather
from orchard.services.imports import weather_files
from orchard.services.permissions import Deed, may
from orchard.web import answers
from orchard.web.doorkeeper import door
from orchard.web.fields import ReasonForm
from orchard.web.pages.weather import story
from orchard.web.pages.weather.forms import ForecastForm, ReadingForm
from orchard.web.requests import OrchardRequest


@require_safe
@door(Deed.SEE)
def index(request: OrchardRequest) -> HttpResponse:
    first = _month_in(request.GET.get("month", ""), request.today)
    shown = weather.month(request.orchard, first, today=request.today)
    here = reverse("weather", args=[request.orchard.slug])
    later = shown.later <= request.today
    context = {
        "month": shown,
        "table": story.table(shown.days),
        "coming": list(
            story.coming_lines(weather.coming(request.orchard, today=request.today))
        ),
        "files": weather.files(request.orchard),
        "earlier_url": f"{here}?month={shown.earlier:%Y-%m}" if shown.earlier else "",
        "later_url": f"{here}?month={shown.later:%Y-%m}" if later else "",
        "may_keep": may(request.member, Deed.KEEP_WEATHER),
        "may_read": may(request.member, Deed.WORK),
        "today": request.today,
    }
    return render(request, "weather/index.html", context)


def _month_in(text: str, today: date) -> date:
    """Return the first of the month asked for; this month when it makes no sense."""
    found = re.fullmatch(r"(\d{4})-(\d{2})", text)
    if found and 1 <= int(found[2]) <= 12 and int(found[1]) >= 1750:
        asked = date(int(found[1]), int(found[2]), 1)
        if asked <= today:
            return asked
    return today.replace(day=1)


@require_http_methods(["GET", "HEAD", "POST"])
@door(Deed.WORK)
def reading(request: OrchardRequest) -> HttpResponse:
    form = ReadingForm.new(request.orchard, now=request.now, data=request.POST or None)
    context: dict[str, Any] = {"form": form, "today": request.today}
    if not form.is_bound:
        return render(request, "weather/reading.html", context)
    if form.is_valid():
        with answers.refusals(form):
            kept = weather_files.note_reading(
                request.orchard, by=request.user, now=request.now, **form.cleaned_data
            )
            slug = request.orchard.slug
            undo = reverse("reading-withdrawal", args=[slug, kept.pk])
            text = _("Reading recorded.")
            return answers.done(
                request, text, to="weather", undo_url=undo, orchard=slug
            )
    return answers.refused_page(request, "weather/reading.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
@door(Deed.WORK)
def reading_withdrawal(request: OrchardRequest, number: int) -> HttpResponse:
    row = permissions.reading_for(request.member, number)
    permissions.require_own(request.member, row)
    return answers.reason_page(
        request,
        ReasonForm(request.POST or None, label=_("Why it is withdrawn")),
        partial(weather_files.withdraw_reading, row),
        heading=_("Withdraw a reading"),
        button=_("Withdraw"),
        message=_("The reading is withdrawn; it stays readable."),
        back_url=reverse("weather", args=[request.orchard.slug]),
        back_label=_("Weather"),
        template="weather/withdrawal.html",
        reading=row,
    )


@require_http_methods(["GET", "HEAD", "POST"])
@door(Deed.KEEP_WEATHER)
def forecast(request: OrchardRequest) -> HttpResponse:
    form = ForecastForm.new(
        request.orchard,
        tomorrow=request.today + timedelta(days=1),
        source=weather.last_source(request.orchard),
        data=request.POST or None,
    )
    context: dict[str, Any] = {"form": form, "today": request.today}
    if not form.is_bound:
        return render(request, "weather/forecast.html", context)
    if form.is_valid():
        with answers.refusals(form):
            weather_files.note_forecast(
                request.orchard,
                by=request.user,
                now=request.now,
                today=request.today,
                **form.cleaned_data,
            )
            text = _("Forecast saved. Its tasks are on the board.")
            slug = request.orchard.slug
            return answers.done(request, text, to="weather", orchard=slug)
    return answers.refused_page(request, "weather/forecast.html", context)
