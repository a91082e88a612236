"""What happened to a tree or the orchard, and the growth stages seen."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from typing import Any

from django.forms import Form
from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from orchard.records.models import Happening, StageNote, Task, Tree
from orchard.services import observations, permissions
from orchard.services.permissions import Deed
from orchard.web import answers
from orchard.web.doorkeeper import door
from orchard.web.fields import ReasonForm
from orchard.web.pages.observations.forms import HappeningForm, StageForm
from orchard.web.requests import OrchardRequest

ASKING = ["GET", "HEAD", "POST"]


def _answered(
    request: OrchardRequest,
    form: Any,
    *,
    tree: Any,
    page: str,
    context: dict[str, Any],
    save: Callable[..., Any],
    message: str,
) -> HttpResponse:
    """Save what the form says, or show it again with what is wrong.

    `save` returns the note and the work that it opened, if any.
    """
    back = _way_back(request, tree)
    context = {"form": form, "tree": tree, "today": request.today, **back, **context}
    if not form.is_bound:
        return render(request, page, context)
    if form.is_valid():
        with answers.refusals(form):
            _row, opened = save(by=request.user, now=request.now, **form.cleaned_data)
            return answers.done(
                request, answers.with_opened(message, opened), to=back["back_url"]
            )
    return answers.refused_page(request, page, context)


def _way_back(request: OrchardRequest, tree: Tree | None) -> dict[str, str]:
    slug = request.orchard.slug
    if tree:
        url = reverse("tree-show", args=[slug, tree.code])
        return {"back_url": url, "back_label": tree.code}
    return {"back_url": reverse("home", args=[slug]), "back_label": _("Today")}


def _noted(request: OrchardRequest, tree: Any) -> HttpResponse:
    form = HappeningForm.new(
        today=request.today,
        whole_orchard=tree is None,
        units=request.orchard.units,
        data=request.POST or None,
    )

    def save(**values: Any) -> tuple[Happening, Sequence[Task]]:
        return observations.note_event_and_open(
            request.orchard, today=request.today, tree=tree, **values
        )

    return _answered(
        request,
        form,
        tree=tree,
        page="observations/new.html",
        context={"kind": "event"},
        save=save,
        message=_("It is noted."),
    )


@require_http_methods(ASKING)
@door(Deed.WORK)
def note_event(request: OrchardRequest, code: str) -> HttpResponse:
    return _noted(request, permissions.tree_for(request.member, code))


@require_http_methods(ASKING)
@door(Deed.WORK)
def note_orchard_event(request: OrchardRequest) -> HttpResponse:
    return _noted(request, None)


@require_http_methods(ASKING)
@door(Deed.WORK)
def note_stage(request: OrchardRequest, code: str) -> HttpResponse:
    tree = permissions.tree_for(request.member, code)
    form = StageForm.new(today=request.today, tree=tree, data=request.POST or None)

    def save(**values: Any) -> tuple[StageNote, Sequence[Task]]:
        noted = seen_on_whom(tree, **values)
        return observations.note_stage_and_open(
            request.orchard, today=request.today, **noted
        )

    return _answered(
        request,
        form,
        tree=tree,
        page="observations/new.html",
        context={"kind": "stage"},
        save=save,
        message=_("Growth stage recorded."),
    )


def seen_on_whom(tree: Tree, whose: str = "tree", **values: Any) -> dict[str, Any]:
    """Return the fields of a stage form with the tree or the group that shows it."""
    mine = {"group": tree.kind.group} if whose == "group" else {"tree": tree}
    return {**values, **mine}


@require_http_methods(ASKING)
@door(Deed.WORK)
def correct_event(request: OrchardRequest, number: int) -> HttpResponse:
    row = permissions.happening_for(request.member, number)
    permissions.require_own(request.member, row)
    form = HappeningForm.correcting(
        row,
        today=request.today,
        units=request.orchard.units,
        data=request.POST or None,
    )
    save = partial(observations.correct_event, row)
    return _corrected(request, row, form, save, kind="event")


@require_http_methods(ASKING)
@door(Deed.WORK)
def correct_stage(request: OrchardRequest, number: int) -> HttpResponse:
    row = permissions.stage_for(request.member, number)
    permissions.require_own(request.member, row)
    form = StageForm.correcting(row, today=request.today, data=request.POST or None)
    save = partial(observations.correct_stage, row)
    return _corrected(request, row, form, save, kind="stage")


def _corrected(
    request: OrchardRequest,
    row: Happening | StageNote,
    form: Form,
    save: Callable[..., object],
    *,
    kind: str,
) -> HttpResponse:
    return answers.reason_page(
        request,
        form,
        save,
        heading=_("Correct a note"),
        button=_("Save correction"),
        message=_("It is corrected. The earlier version stays readable."),
        template="observations/reason.html",
        row=row,
        kind=kind,
        **_way_back(request, row.tree),
    )


@require_http_methods(ASKING)
@door(Deed.WORK)
def withdraw_event(request: OrchardRequest, number: int) -> HttpResponse:
    row = permissions.happening_for(request.member, number)
    permissions.require_own(request.member, row)
    save = partial(observations.withdraw_event, row)
    return _withdrawn(request, row, save, kind="event")


@require_http_methods(ASKING)
@door(Deed.WORK)
def withdraw_stage(request: OrchardRequest, number: int) -> HttpResponse:
    row = permissions.stage_for(request.member, number)
    permissions.require_own(request.member, row)
    save = partial(observations.withdraw_stage, row)
    return _withdrawn(request, row, save, kind="stage")


def _withdrawn(
    request: OrchardRequest,
    row: Happening | StageNote,
    save: Callable[..., object],
    *,
    kind: str,
) -> HttpResponse:
    return answers.reason_page(
        request,
        ReasonForm(request.POST or None, label=_("Why it is withdrawn")),
        save,
        heading=_("Withdraw a note"),
        button=_("Withdraw"),
        message=_("It is withdrawn and stays readable."),
        template="observations/reason.html",
        row=row,
        kind=kind,
        **_way_back(request, row.tree),
    )
