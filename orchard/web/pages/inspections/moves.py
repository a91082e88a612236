"""A look on the wrong tree is moved to the right one."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods

from orchard.records.models import Inspection
from orchard.services import inspections, permissions
from orchard.services.inspections import Moved
from orchard.services.permissions import Deed
from orchard.web import answers
from orchard.web.doorkeeper import door
from orchard.web.pages.inspections.move_forms import MoveForm
from orchard.web.pages.inspections.story import story_of
from orchard.web.requests import OrchardRequest


@require_http_methods(["GET", "HEAD", "POST"])
@door(Deed.INSPECT)
def move_inspection(request: OrchardRequest, number: int) -> HttpResponse:
    inspection = permissions.inspection_for(request.member, number)
    story_of(request.member, inspection).must_be_changeable(request.member)
    if not inspection.is_current and request.method != "POST":
        # Its page leads on to the version that stands.
        return redirect("inspection-show", request.orchard.slug, number)
    near = inspections.neighbours(inspection.tree)
    form = MoveForm.with_neighbours(
        near, request.POST if request.method == "POST" else None
    )
    if form.is_bound and form.is_valid():
        with answers.refusals(form):
            moved = inspections.move_inspection(
                inspection,
                to=permissions.tree_typed(request.member, form.code),
                by=request.user,
                now=request.now,
                reason=form.cleaned_data["reason"],
            )
            slug, kept = request.orchard.slug, moved.logged.inspection.pk
            to = reverse("inspection-show", args=[slug, kept])
            return answers.done(request, what_came(inspection, moved), to=to)
    page = {"inspection": inspection, "form": form}
    status = 422 if form.errors else 200
    return render(request, "inspections/move.html", page, status=status)


def what_came(old: Inspection, moved: Moved) -> str:
    """Say what the move brought about on the wrong tree."""
    wrong, right = old.tree.code, moved.logged.inspection.tree.code
    sentences = [_("Moved to %(tree)s; both trees show it.") % {"tree": right}]
    if moved.reopened:
        count = len(moved.reopened)
        text = ngettext(
            "%(count)d task on %(tree)s is open again.",
            "%(count)d tasks on %(tree)s are open again.",
            count,
        )
        sentences.append(text % {"count": count, "tree": wrong})
    if moved.cases:
        sentences.append(
            _(
                "The case on %(tree)s stays open until the coordinator closes it with "
                "the authority's answer."
            )
            % {"tree": wrong}
        )
    return " ".join(sentences)
