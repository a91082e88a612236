"""Sun: which spots get their hours, and the horizon around each."""

from __future__ import annotations

from functools import partial
from typing import Any

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from orchard.records.models import Horizon
from orchard.science.figures import figure
from orchard.services import corrections, permissions, sun_hours
from orchard.services.paging import page_of_rows
from orchard.services.permissions import Deed, may
from orchard.web import answers, paging
from orchard.web.doorkeeper import door
from orchard.web.fields import ReasonForm
from orchard.web.pages.sun_hours import charts, forms
from orchard.web.requests import OrchardRequest

READ_AND_SEND = ["GET", "HEAD", "POST"]
SPOTS_SHOWN = 300


@require_safe
@door(Deed.SEE)
def index(request: OrchardRequest) -> HttpResponse:
    spots = sun_hours.spots(request.orchard, year=request.today.year)
    unsurveyed = [row for row in spots if not row.horizon]
    page = page_of_rows(
        [*(row for row in spots if row.horizon), *unsurveyed],
        lambda row: row.spot.pk,
        after=paging.key_in(request),
        size=SPOTS_SHOWN,
    )
    context = {
        "surveyed": [row for row in page.rows if row.horizon],
        "rest": [row for row in page.rows if not row.horizon],
        "is_any_surveyed": len(unsurveyed) < len(spots),
        "unsurveyed": len(unsurveyed),
        **paging.links(request, page.next_key),
        "may_survey": may(request.member, Deed.WORK),
        "needed": figure("sun_needed_h").value,
        "today": request.today,
    }
    return render(request, "sun_hours/index.html", context)


@require_safe
@door(Deed.SEE)
def show(request: OrchardRequest, number: int) -> HttpResponse:
    spot = permissions.spot_for(request.member, number)
    horizon = sun_hours.newest_horizon(spot)
    asked = forms.ObstacleForm(request.GET or None, units=request.orchard.units)
    context: dict[str, Any] = {
        "spot": spot,
        "horizon": horizon,
        "form": asked,
        "may_survey": may(request.member, Deed.WORK),
        "may_withdraw": horizon is not None
        and permissions.is_own(request.member, horizon),
        "today": request.today,
    }
    if horizon is not None:
        what_if = _what_if(request, asked)
        year = sun_hours.year_of_spot(
            request.orchard,
            spot,
            horizon,
            year=request.today.year,
            what_if=what_if,
        )
        context |= {
            "year": year,
            "months": [
                (charts.month_name(month.number), month) for month in year.months
            ],
            "chart": charts.sun_chart(year),
            "skyline": charts.horizon_chart(year, request.orchard),
        }
    return render(request, "sun_hours/show.html", context)


def _what_if(
    request: OrchardRequest, form: forms.ObstacleForm
) -> sun_hours.Obstacle | None:
    if not form.is_valid():
        return None
    asked = form.cleaned_data
    wall = sun_hours.Obstacle(
        asked["towards"], asked["distance"], asked["height"], asked["width"]
    )
    with answers.refusals(form):
        sun_hours.check_obstacle(wall, request.orchard)
        return wall
    return None


@require_http_methods(READ_AND_SEND)
@door(Deed.WORK)
def horizon_new(request: OrchardRequest, number: int) -> HttpResponse:
    spot = permissions.spot_for(request.member, number)
    form = forms.HorizonForm(
        request.POST or None,
        initial={
            "surveyed_on": request.today,
            "declination": sun_hours.last_declination(request.orchard),
        },
    )
    if request.method == "POST" and form.is_valid():
        with answers.refusals(form):
            sun_hours.survey_horizon(
                spot,
                surveyed_on=form.cleaned_data["surveyed_on"],
                points=form.points(),
                declination=form.cleaned_data["declination"] or 0.0,
                how=form.cleaned_data["how"] or Horizon.How.TYPED,
                note=form.cleaned_data["note"],
                by=request.user,
                now=request.now,
                today=request.today,
            )
            return answers.done(
                request,
                _("Horizon saved."),
                to="spot-sun",
                orchard=request.orchard.slug,
                number=spot.pk,
            )
    context = {"spot": spot, "form": form, "today": request.today}
    if form.is_bound:
        return answers.refused_page(request, "sun_hours/horizon.html", context)
    return render(request, "sun_hours/horizon.html", context)


@require_http_methods(READ_AND_SEND)
@door(Deed.WORK)
def withdrawal(request: OrchardRequest, number: int) -> HttpResponse:
    row = permissions.horizon_for(request.member, number)
    permissions.require_own(request.member, row)
    heading = _("Withdraw the horizon of %(spot)s") % {"spot": row.spot}
    return answers.reason_page(
        request,
        ReasonForm(request.POST or None, label=_("Why it is withdrawn")),
        partial(corrections.withdraw, row),
        heading=heading,
        lead=_("It no longer counts; what was measured stays readable."),
        button=_("Withdraw"),
        message=_("It is withdrawn and stays readable."),
        back_url=reverse("spot-sun", args=[request.orchard.slug, row.spot_id]),
        back_label=str(row.spot),
    )
