"""Tasks: what to do and how it ended; and the care plan they come from."""

from __future__ import annotations

from collections.abc import Sequence
from copy import copy
from typing import Any
from urllib.parse import urlencode

from django.contrib import messages
from django.http import HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import (
    require_http_methods,
    require_POST,
    require_safe,
)

from orchard.records.models import Closure, Task
from orchard.services import permissions, ripeness, tasks, water
from orchard.services.errors import Refused
from orchard.services.permissions import Deed
from orchard.web import answers
from orchard.web.doorkeeper import door
from orchard.web.pages.paper import PaperSheet, sheet_in
from orchard.web.pages.tasks.board_place import BoardPlace
from orchard.web.pages.tasks.forms import DoneForm, SkipForm, TaskHandOverForm
from orchard.web.requests import OrchardRequest

BACK = ("board", "home", "tree")


def page_of(request: OrchardRequest, task: Task, **more: Any) -> dict[str, Any]:
    """Return what the page of a task shows."""
    about = tasks.task_detail(task, request.member, today=request.today)
    return {
        "about": about,
        "task": task,
        "row": about.row,
        "treatment_url": _treatment_url(request, about.treatments),
        "kinds_to_test": ripeness.kinds_to_test(task, today=request.today)
        if about.is_ripeness_test and about.is_open
        else (),
        "today": request.today,
        "back": _back(request),
        "way_back": _way_back(request, task),
        "at": _board_place(request).query,
        "board_url": _board_place(request).url(request.orchard.slug),
        "back_query": urlencode(
            {"back": _back(request), "at": _board_place(request).query}
        ),
        "handing": TaskHandOverForm.for_task(task, about.takers)
        if about.takers
        else None,
        **more,
    }


def _treatment_url(request: OrchardRequest, kinds: Sequence[str]) -> str:
    """Return where the treatment is recorded that a task asks for."""
    slug = request.orchard.slug
    if len(kinds) == 1:
        return reverse("treatment-new", args=[slug, kinds[0]])
    return reverse("treatment-choose", args=[slug]) if kinds else ""


def _back(request: OrchardRequest) -> str:
    """Return the name of the page a person came from, if it is one we know."""
    asked = request.POST.get("back") or request.GET.get("back", "")
    return asked if asked in BACK else ""


def _board_place(request: OrchardRequest) -> BoardPlace:
    """Return where on the board a person came from."""
    return BoardPlace.read_query(request.POST.get("at") or request.GET.get("at", ""))


def _way_back(request: OrchardRequest, task: Task) -> str:
    return way_back(task, _back(request), _board_place(request).query)


def way_back(task: Task, back: str, at: str = "") -> str:
    """Return the address of the page a person came from, else of the task itself.

    `at` says where on the board.
    """
    slug = task.orchard.slug
    match back:
        case "tree" if task.tree:
            return reverse("tree-show", args=[slug, task.tree.code])
        case "board":
            return BoardPlace.read_query(at).url(slug)
        case "home":
            return reverse("home", args=[slug])
        case _:
            return reverse("task-show", args=[slug, task.pk])


def undo_of_closing(task: Task, back: str, at: str = "") -> str:
    """Return the address that opens a closed task again and leads back."""
    undo = reverse("task-reopening", args=[task.orchard.slug, task.pk])
    return f"{undo}?{urlencode({'back': back, 'at': at})}" if back in BACK else undo


@require_safe
@door(Deed.SEE)
def show(request: OrchardRequest, number: int) -> HttpResponse:
    task = permissions.task_for(request.member, number)
    return render(request, "tasks/show.html", page_of(request, task))


@require_http_methods(["GET", "HEAD", "POST"])
@door(Deed.WORK)
def closure(request: OrchardRequest, number: int) -> HttpResponse:
    task = permissions.task_for(request.member, number)
    sheet = sheet_in(request)
    skips = request.POST.get("how") == Closure.How.SKIPPED
    data = request.POST if request.method == "POST" else None
    done = DoneForm.for_task(
        task,
        today=request.today,
        now=request.now,
        done_on=sheet.day if sheet else None,
        data=None if skips else data,
        files=None if skips else request.FILES or None,
    )
    skip = SkipForm.for_task(data if skips else None)
    form = skip if skips else done
    if form.is_bound and form.is_valid():
        with answers.refusals(form):
            return _closed(request, task, sheet, skips=skips, **form.cleaned_data)
    page = page_of(request, task, done=done, skip=skip, sheet=sheet)
    if form.is_bound:
        return answers.refused_page(request, "tasks/closure.html", page)
    return render(request, "tasks/closure.html", page)


def pages_from_tree(request: OrchardRequest, task: Task) -> dict[str, str]:
    """Return the page of a task and its closing by address, come to from its tree."""
    asked = copy(request)
    asked.GET = QueryDict(urlencode({"back": "tree"}))
    pages: dict[str, str] = {}
    page = page_of(asked, task)
    page |= {
        "done": DoneForm.for_task(task, today=request.today, now=request.now),
        "skip": SkipForm.for_task(None),
    }
    for name, template in (("task-show", "show"), ("task-closure", "closure")):
        asked.path = reverse(name, args=[request.orchard.slug, task.pk])
        pages[asked.path] = render_to_string(f"tasks/{template}.html", page, asked)
    return pages


def _closed(
    request: OrchardRequest,
    task: Task,
    sheet: PaperSheet | None,
    *,
    skips: bool,
    litres: float | None = None,
    **ending: Any,
) -> HttpResponse:
    when: dict[str, Any] = {
        "by": sheet.person if sheet else request.user,
        "written_by": request.user,
        "now": request.now,
        "today": request.today,
    }
    if skips:
        if sheet is not None:
            ending["done_on"] = sheet.day
        tasks.close(task, how=Closure.How.SKIPPED, **when, **ending)
    elif litres is None:
        tasks.close(task, **when, **ending)
    else:
        water.close_watering(task, litres=litres, **when, **ending)
    text = _("%(title)s, %(place)s: closed.") % {
        "title": task.title,
        "place": task.tree.code if task.tree else request.orchard.name,
    }
    undo = undo_of_closing(task, _back(request), _board_place(request).query)
    to = sheet.url if sheet else _way_back(request, task)
    return answers.done(request, text, to=to, undo_url=undo)


@require_POST
@door(Deed.WORK)
def reopening(request: OrchardRequest, number: int) -> HttpResponse:
    task = permissions.task_for(request.member, number)
    try:
        tasks.reopen(task, by=request.user, now=request.now)
    except Refused as refusal:
        page = page_of(request, task, refusal=refusal)
        return answers.refused_page(request, "tasks/show.html", page)
    text = _("%(title)s is open again.") % {"title": task.title}
    return answers.done(request, text, to=_way_back(request, task))


@require_POST
@door(Deed.WORK)
def taking(request: OrchardRequest, number: int) -> HttpResponse:
    task = permissions.task_for(request.member, number)
    gives = request.GET.get("give") == "back"
    verb = tasks.give_back_task if gives else tasks.take_task
    try:
        verb(task, by=request.user, now=request.now)
    except Refused as refusal:
        page = page_of(request, task, refusal=refusal)
        return answers.refused_page(request, "tasks/show.html", page)
    text = _("%(title)s is free again.") if gives else _("You have it now: %(title)s.")
    url = reverse("task-taking", args=[request.orchard.slug, task.pk])
    undo = url if gives else f"{url}?give=back"
    return answers.done(
        request,
        text % {"title": task.title},
        to=_way_back(request, task),
        undo_url=undo,
    )


@require_POST
@door(Deed.HAND_OVER)
def handing(request: OrchardRequest, number: int) -> HttpResponse:
    task = permissions.task_for(request.member, number)
    takers = tuple(tasks.who_may_take_on(task))
    form = TaskHandOverForm.for_task(task, takers, request.POST)
    if form.is_valid():
        to = form.chosen(takers)
        with answers.refusals(form):
            tasks.hand_over_task(task, to=to, by=request.user, now=request.now)
            text = _("%(name)s has it now.") if to else _("Nobody has it now.")
            messages.success(request, text % {"name": to.name if to else ""})
            return redirect(_way_back(request, task))
    page = page_of(request, task, handing=form)
    return answers.refused_page(request, "tasks/show.html", page)
