"""The care plan: which jobs recur on which trees, and what the coordinator set."""

from __future__ import annotations

from typing import Any

from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import (
    require_http_methods,
    require_safe,
)

from orchard.science.windows import day_in_season
from orchard.services import permissions
from orchard.services.care_plan import (
    HoursOfYear,
    PlannedJob,
    hours_of,
    planned_job,
    planned_jobs,
    set_job,
)
from orchard.services.errors import Refused
from orchard.services.permissions import Deed
from orchard.web import answers
from orchard.web.doorkeeper import door
from orchard.web.pages.care_plan.forms import JobForm
from orchard.web.requests import OrchardRequest


@require_safe
@door(Deed.KEEP_RULES)
def care_plan(request: OrchardRequest) -> HttpResponse:
    jobs = planned_jobs(request.orchard, today=request.today)
    context = {
        "asked": [job for job in jobs if job.plan.active],
        "year": _year_in_words(request, hours_of(jobs)),
        "not_asked": [job for job in jobs if not job.plan.active],
        "today": request.today,
    }
    return render(request, "care_plan/index.html", context)


def _year_in_words(request: OrchardRequest, year: HoursOfYear) -> dict[str, Any]:
    """Say what the plan asks in a year, and in which month of here the most."""
    if not year.by_month:
        return {}
    most = max(year.by_month)
    latitude = float(request.orchard.latitude)
    busiest = day_in_season(
        request.today.year, year.by_month.index(most) + 1, 1, latitude
    )
    return {"hours": year.total, "most": most, "busiest": busiest}


@require_http_methods(["GET", "HEAD", "POST"])
@door(Deed.SEE)
def care_job(request: OrchardRequest, job: str) -> HttpResponse:
    try:
        planned = planned_job(request.orchard, job, today=request.today)
    except Refused:
        raise Http404 from None
    if request.method == "POST":
        permissions.require(request.member, Deed.KEEP_RULES)
        return _set_job(request, planned)
    page = _job_page(request, planned, _job_form(request, planned))
    return render(request, "care_plan/job.html", page)


def _job_form(
    request: OrchardRequest, planned: PlannedJob, data: Any = None
) -> JobForm:
    latitude = float(request.orchard.latitude)
    return JobForm.for_job(planned, latitude=latitude, data=data)


def _job_page(
    request: OrchardRequest, planned: PlannedJob, form: JobForm
) -> dict[str, Any]:
    keeps = permissions.may(request.member, Deed.KEEP_RULES)
    return {
        "planned": planned,
        "job": planned.job,
        "form": form if keeps else None,
        "today": request.today,
    }


def _set_job(request: OrchardRequest, planned: PlannedJob) -> HttpResponse:
    form = _job_form(request, planned, request.POST)
    if form.is_valid():
        with answers.refusals(form):
            set_job(
                request.orchard,
                planned.job.key,
                by=request.user,
                now=request.now,
                today=request.today,
                **form.plan(),
            )
            text = _("Care plan saved: %(job)s.") % {"job": planned.job.name}
            slug = request.orchard.slug
            return answers.done(request, text, to=reverse("care-plan", args=[slug]))
    page = _job_page(request, planned, form)
    return answers.refused_page(request, "care_plan/job.html", page)
