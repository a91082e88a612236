"""Inspections: the form at the tree, what became of it, and how it is put right."""

from __future__ import annotations

import uuid
from datetime import date, datetime
from functools import partial
from typing import Any

from django.http import Http404, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import (
    require_http_methods,
    require_POST,
    require_safe,
)

from orchard.records.days import day_in
from orchard.records.models import Inspection, Tree
from orchard.services import inspections, permissions, rounds
from orchard.services.errors import MayNot, Refused
from orchard.services.inspections import Logged, Look
from orchard.services.permissions import Deed
from orchard.web import answers
from orchard.web.doorkeeper import door
from orchard.web.fields import ReasonForm
from orchard.web.pages.inspections import form_page, forms
from orchard.web.pages.inspections.correction_forms import OverrideForm
from orchard.web.pages.inspections.story import story_of
from orchard.web.pages.paper import PaperSheet, sheet_in
from orchard.web.requests import OrchardRequest

FORM = "inspections/new.html"


@require_POST
@door(Deed.INSPECT)
def all_well(request: OrchardRequest, code: str) -> HttpResponse:
    """Log a clean tree in one tap; the notice on its page offers the undo."""
    tree = permissions.tree_for(request.member, code)
    to = reverse("tree-show", args=[request.orchard.slug, tree.code])
    walk = rounds.trees_asked_for(request.orchard, forms.round_of(request.POST))
    if walk is not None:
        to = reverse("round-show", args=[request.orchard.slug, walk.pk])
    try:
        logged = inspections.record(
            tree,
            by=request.user,
            now=request.now,
            seen_at=request.now,
            all_well=True,
            key=once(request, tree),
            arrival=inspections.Arrival(round=walk),
        )
    except Refused as refusal:
        page = {"tree": tree, "refusal": refusal}
        return answers.refused_page(request, "inspections/closed.html", page)
    undo = reverse(
        "inspection-withdrawal", args=[request.orchard.slug, logged.inspection.pk]
    )
    text = _("%(tree)s is all well, seen today.") % {"tree": tree.code}
    return answers.done(request, text, to=to, undo_url=f"{undo}?undo=1")


def once(request: OrchardRequest, tree: Tree) -> uuid.UUID:
    """Return one key for one showing of the button: a double tap is one look."""
    token = request.POST.get("csrfmiddlewaretoken") or request.now.isoformat()
    name = f"{tree.pk}/{request.user.pk}/{request.today}/{token}"
    return uuid.uuid5(uuid.NAMESPACE_OID, name)


@require_http_methods(["GET", "HEAD", "POST"])
@door(Deed.INSPECT)
def new(request: OrchardRequest, code: str) -> HttpResponse:
    tree = permissions.tree_for(request.member, code)
    step = request.POST.get("step")
    sheet = sheet_in(request)
    if request.method != "POST" or step == "find":
        form = forms.InspectionForm(tree=tree, now=request.now)
        if request.method != "POST":
            typed = _of_sheet(request, sheet)
            return shown(request, tree, form, typed, sheet=sheet)
        return shown(request, tree, form, request.POST, sheet=sheet)
    # What is only read is not sent along yet: photos are chosen last.
    files = request.FILES if step != "read" else None
    form = forms.InspectionForm(request.POST, files, tree=tree, now=request.now)
    if not form.is_valid():
        return shown(request, tree, form, request.POST, sheet=sheet)
    try:
        if step == "read":
            look = inspections.look_of(tree, form.submission, now=request.now)
            return shown(request, tree, form, request.POST, look=look, sheet=sheet)
        logged = inspections.submit(
            tree,
            form.submission,
            by=sheet.person if sheet else request.user,
            written_by=request.user,
            now=request.now,
            key=form.cleaned_data["key"],
            arrival=inspections.Arrival(
                round=rounds.trees_asked_for(
                    request.orchard, form.cleaned_data["round"]
                )
            ),
        )
    except Refused as refusal:
        form.add_refusal(refusal)
        return shown(request, tree, form, request.POST, sheet=sheet)
    args = [request.orchard.slug, logged.inspection.pk]
    to = sheet.url if sheet else reverse("inspection-show", args=args)
    return answers.done(request, what_came(logged), to=to)


def _of_sheet(request: OrchardRequest, sheet: PaperSheet | None) -> QueryDict:
    """Return what stands on a new form: of a sheet the day that it was seen."""
    if sheet is None:
        return request.GET
    typed = request.GET.copy()
    typed.setdefault("seen_day", sheet.day.isoformat())
    return typed


@require_safe
@door(Deed.INSPECT)
def sign_card(request: OrchardRequest, code: str, sign: str) -> HttpResponse:
    """Send what the form shows of one sign when it is chosen: pictures and steps."""
    tree = permissions.tree_for(request.member, code)
    try:
        block = form_page.block_of(tree, sign, now=request.now)
    except Refused:
        raise Http404 from None
    return render(request, "inspections/card.html", {"block": block})


def _day_of(tree: Tree, moment: datetime) -> date:
    return day_in(moment, tree.orchard.time_zone)


def _grew(tree: Tree, moment: datetime) -> bool:
    return tree.state_on(_day_of(tree, moment)) == Tree.State.GROWING


def closed(request: OrchardRequest, tree: Tree, *, on: date) -> HttpResponse:
    """Say on a page of its own that a tree took no inspections on a day."""
    refusal = inspections.why_closed(tree, on=on)
    page = {"tree": tree, "refusal": refusal}
    return answers.refused_page(request, "inspections/closed.html", page)


def shown(
    request: OrchardRequest,
    tree: Tree,
    form: forms.InspectionForm,
    typed: QueryDict,
    *,
    look: Look | None = None,
    corrects: Inspection | None = None,
    sheet: PaperSheet | None = None,
) -> HttpResponse:
    """Show the form with all that was typed; faults make it a 422.

    A tree that takes no inspection on that day has no form to show.
    """
    seen_at = look.seen_at if look else _seen_at(request, sheet)
    if corrects is None and not _grew(tree, seen_at or request.now):
        # It may have been seen before its end, and what is on the form is kept then.
        seen_at = form.seen_at or request.now
        if not _grew(tree, seen_at):
            return closed(request, tree, on=_day_of(tree, seen_at))
    page = form_page.page_of(
        tree,
        typed=typed,
        form=form,
        now=request.now,
        look=look,
        seen_at=seen_at,
        corrects=corrects,
    )
    page |= {"lost_files": bool(request.FILES), "sheet": sheet}
    if form.faults:
        return answers.refused_page(request, FORM, page)
    return render(request, FORM, page)


def saved_text(code: str) -> str:
    """Say that a look at a tree is kept."""
    return _("%(code)s is saved.") % {"code": code}


def _seen_at(request: OrchardRequest, sheet: PaperSheet | None) -> datetime | None:
    """Return the moment by which a form is made: of a sheet its day."""
    if sheet is None:
        return None
    return sheet.moment(request.orchard.time_zone, request.now)


def what_came(logged: Logged) -> str:
    """Say in one sentence what a look became."""
    if logged.already:
        return _("This was saved before; here it is. Correct it if you changed it.")
    sentences = [saved_text(logged.inspection.tree.code)]
    if logged.cases:
        sentences.append(_("Tell the coordinator now: nothing leaves this tree."))
        return " ".join(sentences)
    if logged.closed_before:
        sentences.append(_("A task you ticked had been closed by somebody else."))
    sentences += inspections.told_as_done(logged)
    if logged.photos_elsewhere:
        sentences.append(_("A photo is here already and was not saved twice."))
    return " ".join(sentences)


@require_http_methods(["GET", "HEAD"])
@door(Deed.SEE)
def show(request: OrchardRequest, number: int) -> HttpResponse:
    inspection = permissions.inspection_for(request.member, number)
    page = {"story": story_of(request.member, inspection)}
    if inspection.by_id == request.user.pk:
        page |= onward(inspection)
    return render(request, "inspections/show.html", page)


def onward(inspection: Inspection) -> dict[str, Any]:
    """Return where its observer goes on: on the round, or near the last trees."""
    walk = inspection.round
    if walk is not None and walk.closed_at is None:
        return {"walk": walk, "next": rounds.next_tree(walk)}
    tree = inspection.tree
    return {"last_trees": inspections.last_trees(inspection.by, besides=tree)}


@require_http_methods(["GET", "HEAD", "POST"])
@door(Deed.INSPECT)
def correction(request: OrchardRequest, number: int) -> HttpResponse:
    inspection = story_of(
        request.member, permissions.inspection_for(request.member, number)
    ).must_be_changeable(request.member)
    tree = inspection.tree
    if request.method != "POST":
        if not inspection.is_current:
            # Its page leads on to the version that stands.
            return redirect("inspection-show", request.orchard.slug, number)
        typed = form_page.typed_of(inspection)
        form = forms.CorrectionForm(tree=tree, now=request.now, corrects=inspection)
        return shown(request, tree, form, typed, corrects=inspection)
    typed = request.POST
    step = typed.get("step")
    if step == "find":
        form = forms.CorrectionForm(tree=tree, now=request.now, corrects=inspection)
        return shown(request, tree, form, typed, corrects=inspection)
    form = forms.CorrectionForm(
        typed,
        request.FILES if step != "read" else None,
        tree=tree,
        now=request.now,
        corrects=inspection,
    )
    if not form.is_valid():
        return shown(request, tree, form, typed, corrects=inspection)
    submission = form.submission
    try:
        if step == "read":
            look = inspections.look_of(tree, submission, now=request.now)
            return shown(request, tree, form, typed, look=look, corrects=inspection)
        logged = inspections.correct(
            inspection,
            by=request.user,
            now=request.now,
            reason=form.cleaned_data["reason"],
            seen_at=submission.seen_at,
            findings=submission.findings,
            all_well=submission.all_well,
            condition=submission.condition,
            note=submission.note,
            pictures=submission.pictures,
        )
    except MayNot:
        raise
    except Refused as refusal:
        form.add_refusal(refusal)
        return shown(request, tree, form, typed, corrects=inspection)
    to = reverse("inspection-show", args=[request.orchard.slug, logged.inspection.pk])
    text = _("Corrected. The earlier version stays readable below.")
    return answers.done(request, text, to=to)


@require_http_methods(["GET", "HEAD", "POST"])
@door(Deed.INSPECT)
def withdrawal(request: OrchardRequest, number: int) -> HttpResponse:
    inspection = permissions.inspection_for(request.member, number)
    story_of(request.member, inspection).must_be_changeable(request.member)
    undo = "undo" in request.GET and inspection.all_well
    data = {"reason": _("Withdrawn at once.")} if undo else request.POST
    slug, code = request.orchard.slug, inspection.tree.code
    return answers.reason_page(
        request,
        ReasonForm(data if request.method == "POST" else None),
        partial(inspections.withdraw, inspection),
        heading=_("Withdraw the inspection of %(code)s") % {"code": code},
        explanation=_(
            "It no longer counts. Tasks it opened are cancelled, and tasks it ticked "
            "off are open again. It stays readable, with your reason."
        ),
        button=_("Withdraw"),
        cancel=_("Cancel"),
        message=_("The inspection is withdrawn."),
        back_url=reverse("inspection-show", args=[slug, inspection.pk]),
        back_label=_("Inspection"),
        to=reverse("tree-show", args=[slug, code]),
        template="inspections/withdrawal.html",
        inspection=inspection,
    )


@require_http_methods(["GET", "HEAD", "POST"])
@door(Deed.CORRECT_OTHERS)
def override(request: OrchardRequest, number: int) -> HttpResponse:
    finding = permissions.finding_for(request.member, number)
    form = OverrideForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        with answers.refusals(form):
            inspections.override(
                finding, by=request.user, now=request.now, **form.cleaned_data
            )
            slug, kept = request.orchard.slug, finding.inspection_id
            to = reverse("inspection-show", args=[slug, kept])
            text = _("Your verdict is recorded next to the guide's.")
            return answers.done(request, text, to=to)
    page = {"finding": finding, "form": form}
    status = 422 if form.errors else 200
    return render(request, "inspections/override.html", page, status=status)
