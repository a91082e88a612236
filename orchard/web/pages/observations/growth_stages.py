"""The growth stage log of the orchard, and a note on a whole cultivar group."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from orchard.services import observations, permissions
from orchard.services.permissions import Deed, may
from orchard.web import answers, paging
from orchard.web.doorkeeper import door
from orchard.web.pages.observations.forms import GroupStageForm
from orchard.web.requests import OrchardRequest


@require_http_methods(["GET", "HEAD", "POST"])
@door(Deed.SEE)
def growth_stage_log(request: OrchardRequest) -> HttpResponse:
    groups = observations.cultivar_groups(request.orchard)
    form = GroupStageForm.for_groups(
        groups, today=request.today, data=request.POST or None
    )
    if request.method == "POST":
        permissions.require(request.member, Deed.WORK)
        if form.is_valid():
            with answers.refusals(form):
                _row, opened = observations.note_stage_and_open(
                    request.orchard,
                    by=request.user,
                    now=request.now,
                    today=request.today,
                    **form.cleaned_data,
                )
                slug = request.orchard.slug
                text = answers.with_opened(_("Growth stage recorded."), opened)
                return answers.done(request, text, to="stages", orchard=slug)
        return answers.refused_page(
            request, "observations/growth_stages.html", _context(request, form, groups)
        )
    return render(
        request, "observations/growth_stages.html", _context(request, form, groups)
    )


def _context(
    request: OrchardRequest, form: GroupStageForm, groups: list[str]
) -> dict[str, object]:
    group = request.GET.get("group", "")
    group = group if group in groups else ""
    log = observations.growth_stage_log(
        request.orchard, group=group, after=paging.key_in(request)
    )
    return {
        "form": form,
        "groups": groups,
        "group": group,
        "log": log,
        **paging.links(request, log.next_key),
        "may_note": may(request.member, Deed.WORK) and bool(groups),
        "may_correct_all": may(request.member, Deed.CORRECT_OTHERS),
        "today": request.today,
    }
