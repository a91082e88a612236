"""When to water and how much, and the soil that depends on."""

from __future__ import annotations

from collections.abc import Container
from typing import Any
from urllib.parse import quote

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods, require_safe

from orchard.services import water
from orchard.services.paging import page_of_rows
from orchard.services.permissions import Deed, may
from orchard.web import answers, charts, paging
from orchard.web.doorkeeper import door
from orchard.web.pages.water import forms
from orchard.web.pages.water.charts import orchard_chart
from orchard.web.requests import OrchardRequest

TREES_SHOWN = 500
READ_AND_SEND = ["GET", "HEAD", "POST"]


@require_safe
@door(Deed.SEE)
def water_schedule(request: OrchardRequest) -> HttpResponse:
    schedule = water.water_schedule(request.orchard, today=request.today)
    page = page_of_rows(
        [row for group in schedule.groups for row in group.rows],
        lambda row: row.tree.pk,
        after=paging.key_in(request),
        size=TREES_SHOWN,
    )
    shown = {row.tree.pk for row in page.rows}
    groups = [_group(request, group, shown) for group in schedule.groups]

    def called(*calls: water.Call) -> list[dict[str, Any]]:
        return [row for row in groups if row["trees"] and row["group"].call in calls]

    context = {
        "schedule": schedule,
        "soon": called(water.Call.TODAY, water.Call.LATER),
        "not_soon": called(water.Call.NOT_SOON),
        "unclear": sorted(
            called(water.Call.NO_DATA), key=lambda row: str(row["group"].why_not)
        ),
        **paging.links(request, page.next_key),
        "grounds": [
            (_ground_heading(ground.depth, request), number)
            for ground, number in schedule.grounds
        ],
        "headline": headline(schedule),
        "chart": orchard_chart(schedule, request.orchard),
        "may_set": may(request.member, Deed.KEEP_RULES),
        "may_note": may(request.member, Deed.WORK),
        "today": request.today,
    }
    return render(request, "water/index.html", context)


def _group(
    request: OrchardRequest, group: water.TreesAlike, shown: Container[int]
) -> dict[str, Any]:
    """Return a group of trees as it is read, with those of them that are shown."""
    orchard = request.orchard
    # One address for all: an orchard can have ten thousand trees.
    address = reverse("tree-water", args=[orchard.slug, "-"]).rsplit("-", 1)

    def litres(row: water.TreeWater) -> str:
        if row.litres is None:
            return ""
        if row.low is not None and row.high is not None:
            low, high = (
                charts.with_unit(end, "L", orchard) for end in (row.low, row.high)
            )
            return f"{low} \N{EN DASH} {high}"
        mark = "~" if row.is_estimated else ""
        return mark + charts.with_unit(row.litres, "L", orchard)

    later = group.not_later if group.not_later != group.not_before else None
    return {
        "group": group,
        "call": water.call_words(group, request.today),
        "later": water.day_words(later, request.today) if later else "",
        "cap": water.cap_words(group),
        "trees": [
            (row.tree.code, quote(row.tree.code).join(address), litres(row))
            for row in group.rows
            if row.tree.pk in shown
        ],
    }


def _ground_heading(depth: float | None, request: OrchardRequest) -> str:
    if depth is None:
        return _("Soil water used up in the strip of the drippers")
    deep = charts.with_unit(depth, "m", request.orchard, 1)
    return _("Soil water used up, roots %(depth)s deep") % {"depth": deep}


def headline(schedule: water.WaterCalls) -> str:
    """Say in a sentence what is to be watered, and when."""
    if schedule.due_today:
        return ngettext(
            "Water today: %(count)d tree.",
            "Water today: %(count)d trees.",
            schedule.due_today,
        ) % {"count": schedule.due_today}
    if schedule.next_on:
        day = water.day_words(schedule.next_on, schedule.today)
        return _("No watering before about %(day)s.") % {"day": day}
    if schedule.trees and schedule.unclear < schedule.trees:
        return _("No watering in the next weeks.")
    return _("No data.")


@require_http_methods(READ_AND_SEND)
@door(Deed.KEEP_RULES)
def set_soil(request: OrchardRequest) -> HttpResponse:
    soil = water.soil_of(request.orchard)
    form = forms.SoilForm.setting(
        soil, units=request.orchard.units, data=request.POST or None
    )
    if request.method == "POST" and form.is_valid():
        with answers.refusals(form):
            water.set_soil(
                request.orchard, by=request.user, now=request.now, **form.cleaned_data
            )
            return answers.done(
                request,
                _("Saved. The water page uses it from now on."),
                to="outlook-water",
                orchard=request.orchard.slug,
            )
    if form.is_bound:
        return answers.refused_page(request, "water/soil.html", {"form": form})
    return render(request, "water/soil.html", {"form": form})
