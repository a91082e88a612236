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
from orchard.services.errors import Refused
from orchard.services.permissions import Deed
from orchard.web import answers
from orchard.web.doorkeeper import door
from orchard.web.pages.paper.forms import PaperForm
from orchard.web.pages.paper.sheet import PaperSheet, sheet_in
from orchard.web.requests import OrchardRequest

# What a button of the page does; the return key saves whatever was entered.
WELL, SAVE, RETURN = "well", "save", "return"
PAGES_OF_STEPS = {
    "test": "ripeness-test-new",
    "treatment": "treatment-choose",
    "harvest": "harvest-new",
}
# Servers refuse an address of more than some 4,000 characters.
MOST_CARRIED = 2000


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
    with answers.refusals(form):
        match request.POST.get("step"):
            case "signs":
                url = reverse("inspection-new", args=[slug, tree.code])
                return redirect(f"{url}?{sheet.query}{_carried(form)}")
            case "test" | "treatment" | "harvest" as step:
                _check_nothing_is_dropped(form)
                url = reverse(PAGES_OF_STEPS[step], args=[slug])
                query = urlencode({"tree": tree.code})
                return redirect(f"{url}?{sheet.query}&{query}")
            case "task":
                _check_nothing_is_dropped(form)
                query = urlencode({"tasks_of": tree.code})
                return redirect(f"{sheet.url}&{query}")
        return _look(request, form, sheet)
    return _page(request, form, sheet, None)


def _carried(form: PaperForm) -> str:
    """Return the condition and the note as the tree's own form reads them.

    Raises:
        Refused (note_too_long): an address can't hold the note.
    """
    names = ("condition", "note")
    typed = {name: form.cleaned_data[name] for name in names if form.cleaned_data[name]}
    query = f"&{urlencode(typed)}" if typed else ""
    if len(query) > MOST_CARRIED:
        raise Refused(
            _("This note is too long to take along. Save it first, then note signs."),
            code="note_too_long",
            field="note",
        )
    return query


def _check_nothing_is_dropped(form: PaperForm) -> None:
    """Refuse to leave the page for a form without room for a condition or a note."""
    if form.cleaned_data["condition"] or form.cleaned_data["note"]:
        raise Refused(_("Save the condition or note first."), code="not_saved_yet")


def _is_all_well(step: str, form: PaperForm) -> bool:
    """Tell whether a line says that all is well.

    Raises:
        Refused (well_with_more): the button says so, what was entered does not.
    """
    condition, note = form.cleaned_data["condition"], form.cleaned_data["note"]
    if step == SAVE:
        return False
    if step == RETURN:
        return not (condition or note)
    if note or condition in (1, 2):
        raise Refused(
            _(
                "All well doesn't go with a note, or with condition 1 or 2. Save the "
                "condition or note instead, or clear it."
            ),
            code="well_with_more",
        )
    return True


def _look(request: OrchardRequest, form: PaperForm, sheet: PaperSheet) -> HttpResponse:
    tree = form.found
    step = request.POST.get("step", WELL)
    all_well = _is_all_well(step, form)
    logged = inspections.record(
        tree,
        by=sheet.person,
        written_by=request.user,
        now=request.now,
        seen_at=sheet.moment(request.orchard.time_zone, request.now),
        all_well=all_well,
        condition=form.cleaned_data["condition"],
        note=form.cleaned_data["note"],
        key=_once(request, form, sheet, all_well=all_well),
    )
    values = {"tree": tree.code, "name": sheet.person.name}
    if logged.already:
        text = _("%(tree)s was saved for %(name)s before. Nothing was added.")
        return answers.done(request, text % values, to=sheet.url)
    undo = ""
    if all_well:
        args = [request.orchard.slug, logged.inspection.pk]
        undo = f"{reverse('inspection-withdrawal', args=args)}?undo=1"
    text = (
        _("%(tree)s is all well, seen by %(name)s.")
        if all_well
        else _("Saved %(tree)s for %(name)s.")
    )
    return answers.done(request, text % values, to=sheet.url, undo_url=undo)


def _once(
    request: OrchardRequest, form: PaperForm, sheet: PaperSheet, *, all_well: bool
) -> uuid.UUID:
    """Return one key for one line of one showing of the form.

    A line that says something else is another line: people go back and enter more.
    """
    token = request.POST.get("csrfmiddlewaretoken") or request.now.isoformat()
    condition, note = form.cleaned_data["condition"], form.cleaned_data["note"]
    content = f"{all_well}/{condition}/{note}"
    name = f"paper/{form.found.pk}/{sheet.query}/{token}/{content}"
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
