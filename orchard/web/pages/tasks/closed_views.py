"""The list of closed tasks, with its filters in the address."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

from django import forms
from django.http import HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_safe

from orchard.records.models import Closure, Task
from orchard.science import guide
from orchard.services import permissions, tasks, trees
from orchard.services.permissions import Deed
from orchard.services.tasks import ClosedFilters
from orchard.web import paging
from orchard.web.doorkeeper import door
from orchard.web.fields import day_field, offer
from orchard.web.requests import OrchardRequest


class ClosedFilterForm(forms.Form):
    """What the list is narrowed to; what makes no sense is left out."""

    job = forms.ChoiceField(label=gettext_lazy("Task"), required=False)
    block = forms.ChoiceField(label=gettext_lazy("Block"), required=False)
    who = forms.ChoiceField(label=gettext_lazy("Closed by"), required=False)
    how = forms.ChoiceField(label=gettext_lazy("How"), required=False)
    since = day_field(gettext_lazy("From"), required=False)
    until = day_field(gettext_lazy("To"), required=False)

    def __init__(self, data: Mapping[str, Any], request: OrchardRequest) -> None:
        super().__init__(data)
        may_see_private = permissions.may(request.member, Deed.SEE_PRIVATE)
        kinds = [
            (kind.value, kind.label)
            for kind in Task.Kind
            if kind != Task.Kind.REPORT or may_see_private
        ]
        jobs = [
            (f"{Task.Kind.CARE}-{job.key}", job.name)
            for job in sorted(guide.load().jobs.values(), key=lambda job: job.name)
        ]
        offer(self, "job", [("", _("all tasks")), *kinds, *jobs])
        blocks = trees.blocks_of(request.orchard)
        codes = [(block.code, f"{block.code} {block.name}") for block in blocks]
        offer(self, "block", [("", _("everywhere")), *codes])
        people = [
            (str(member.user_id), member.user.name)
            for member in tasks.who_may_work(request.orchard)
            if member.user_id != request.user.pk
        ]
        offer(self, "who", [("", _("everybody")), ("mine", _("me")), *people])
        offer(self, "how", [("", _("all")), *Closure.How.choices])

    def filters(self) -> ClosedFilters:
        """Return what was asked for, as far as it makes sense."""
        self.is_valid()
        asked = self.cleaned_data
        kind, _dash, key = asked.get("job", "").partition("-")
        since: date | None = asked.get("since")
        until: date | None = asked.get("until")
        return ClosedFilters(
            kind=kind,
            key=key,
            block=asked.get("block", ""),
            person=asked.get("who", ""),
            how=asked.get("how", ""),
            since=since,
            until=until,
        )


@require_safe
@door(Deed.SEE)
def closed(request: OrchardRequest) -> HttpResponse:
    form = ClosedFilterForm(request.GET, request)
    filters = form.filters()
    shown = tasks.closed_tasks(
        request.member, filters=filters, after=paging.key_in(request)
    )
    context = {
        "form": form,
        "filters": filters,
        "shown": shown,
        "today": request.today,
        **paging.links(request, shown.next_key),
    }
    return render(request, "tasks/closed.html", context)
