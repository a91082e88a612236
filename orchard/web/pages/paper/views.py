"""Entering sheets of paper: one tree after another, the person and the day kept."""

from __future__ import annotations

import uuid
from typing import Any
from urllib.parse import urlencode

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from orchard.records.models import Task, Tree
from orchard.services import inspections, permissions, timeline
from orchard.services.permissions import Deed
from orchard.web import answers
from orchard.web.doorkeeper import door
from orchard.web.pages.paper.forms import PaperForm
from orchard.web.pages.paper.sheet import PaperSheet, sheet_in
from orchard.web.requests import OrchardRequest

# What is entered of a tree besides a look that says all.
SIGNS, TASK, TEST, SAVE = "signs", "task", "test", "save"


@require_http_methods(["GET", "HEAD", "POST"])
@door(Deed.WRITE_FOR_OTHERS)
def paper(request: OrchardRequest) -> HttpResponse:
    sheet = sheet_in(request)
    kept = {"person": sheet.person.pk, "day": sheet.day} if sheet else {}
    form = PaperForm.for_member(
        request.member,
        permissions.people_to_write_for(request.member),
        today=request.today,
        initial={**kept, "tree": request.GET.get("tasks_of", "")[:24]},
        data=request.POST if request.method == "POST" else None,
    )
    if not form.is_bound:
        tasks = _tasks(request, request.GET.get("tasks_of", "")) if sheet else None
        return _page(request, form, sheet, tasks)
    if form.is_valid():
        form.check_day(request.today)
    if form.is_valid():
        assert form.chosen is not None
        day = form.cleaned_data["day"]
        sheet = PaperSheet(form.chosen, day, request.orchard.slug)
        return _entered(request, form, sheet)
    return _page(request, form, sheet, None)


def _entered(
    request: OrchardRequest, form: PaperForm, sheet: PaperSheet
) -> HttpResponse:
    """Save a look, or lead on to the form of what is more than that."""
    slug, tree = request.orchard.slug, form.found
    match request.POST.get("step"):
        case "signs":
            url = reverse("inspection-new", args=[slug, tree.code])
            return redirect(f"{url}?{sheet.query}")
        case "test":
            url = reverse("ripeness-test-new", args=[slug])
            query = urlencode({"tree": tree.code})
            return redirect(f"{url}?{sheet.query}&{query}")
        case "task":
            query = urlencode({"tasks_of": tree.code})
            return redirect(f"{sheet.url}&{query}")
    with answers.refusals(form):
        return _look(request, form, sheet)
    return _page(request, form, sheet, None)


def _look(request: OrchardRequest, form: PaperForm, sheet: PaperSheet) -> HttpResponse:
    tree = form.found
    all_well = request.POST.get("step") != SAVE
    logged = inspections.record(
        tree,
        by=sheet.person,
        written_by=request.user,
        now=request.now,
        seen_at=sheet.moment(request.orchard.time_zone, request.now),
        all_well=all_well,
        condition=form.cleaned_data["condition"],
        note=form.cleaned_data["note"],
        key=_once(request, tree, sheet),
    )
    undo = ""
    if all_well and not logged.already:
        args = [request.orchard.slug, logged.inspection.pk]
        undo = f"{reverse('inspection-withdrawal', args=args)}?undo=1"
    values = {"tree": tree.code, "name": sheet.person.name}
    text = (
        _("%(tree)s is all well, seen by %(name)s.")
        if all_well
        else _("%(tree)s is saved, seen by %(name)s.")
    )
    return answers.done(request, text % values, to=sheet.url, undo_url=undo)


def _once(request: OrchardRequest, tree: Tree, sheet: PaperSheet) -> uuid.UUID:
    """Return one key for one line of one showing of the form."""
    token = request.POST.get("csrfmiddlewaretoken") or request.now.isoformat()
    name = f"paper/{tree.pk}/{sheet.query}/{token}"
    return uuid.uuid5(uuid.NAMESPACE_OID, name)


def _tasks(request: OrchardRequest, code: str) -> tuple[Tree, list[Task]] | None:
    """Return a tree with what is open on it, to choose what was done."""
    if not code:
        return None
    tree = permissions.tree_for(request.member, code.replace("\0", ""))
    return tree, list(timeline.open_tasks(tree, request.member))


def _page(
    request: OrchardRequest,
    form: PaperForm,
    sheet: PaperSheet | None,
    tasks: tuple[Tree, list[Task]] | None,
) -> HttpResponse:
    context: dict[str, Any] = {"form": form, "sheet": sheet, "today": request.today}
    if tasks is not None:
        context |= {"tree": tasks[0], "tasks": tasks[1]}
        if tasks[1]:
            # The first of them has the focus.
            form.fields["tree"].widget.attrs.pop("autofocus", None)
    if form.is_bound:
        return answers.refused_page(request, "paper/show.html", context)
    return render(request, "paper/show.html", context)
