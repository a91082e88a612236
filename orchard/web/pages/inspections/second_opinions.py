"""Second looks: what waits for a more practised eye, and its answer."""

from __future__ import annotations

from typing import Any

from django.forms import Form
from django.http import HttpResponse, QueryDict
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from orchard.records.models import SecondLook
from orchard.science import guide
from orchard.services import facts, inspections, permissions
from orchard.services.errors import MayNot, Refused
from orchard.services.paging import page_by_key
from orchard.services.permissions import Deed
from orchard.web import answers, paging
from orchard.web.doorkeeper import door
from orchard.web.pages.inspections import forms, sign_blocks
from orchard.web.pages.inspections.second_look_forms import AnswerForm
from orchard.web.pages.inspections.story import story_of
from orchard.web.requests import OrchardRequest

LOOKS_SHOWN = 50


@require_safe
@door(Deed.SECOND_LOOK)
def second_looks(request: OrchardRequest) -> HttpResponse:
    signs = guide.load().signs
    waiting = inspections.open_second_looks(request.orchard)
    waiting = waiting.filter(finding__sign__in=list(signs))
    page = page_by_key(
        waiting, "asked_at", "id", after=paging.key_in(request), size=LOOKS_SHOWN
    )
    context = {
        "rows": [(look, signs[look.finding.sign].name) for look in page.rows],
        "total": waiting.count(),
        **paging.links(request, page.next_key),
    }
    return render(request, "inspections/second_looks.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
@door(Deed.SECOND_LOOK)
def answer_second_look(request: OrchardRequest, number: int) -> HttpResponse:
    look = permissions.second_look_for(request.member, number)
    tree = look.finding.tree
    if request.method != "POST":
        return render(request, "inspections/second_look.html", page_of(request, look))
    form = AnswerForm(request.POST, host=tree.kind.host)
    if not form.is_valid():
        page = page_of(request, look, form)
        return answers.refused_page(request, "inspections/second_look.html", page)
    cleaned = form.cleaned_data
    if cleaned["answer"] == "other" and request.POST.get("step") != "save":
        # The other sign has its own question: ask it before anything is written.
        page = page_of(request, look, form, sign=cleaned["sign"])
        return render(request, "inspections/second_look.html", page)
    given: dict[str, Any] = {}
    typed: dict[str, Any] = {}
    other = None
    if cleaned["answer"] == "other":
        other = forms.FindingForm(
            request.POST,
            sign=guide.load().signs[cleaned["sign"]],
            units=forms.units_of(request.POST, request.orchard),
            auto_id="%s",
        )
        if not other.is_valid():
            page = page_of(request, look, form, sign=cleaned["sign"], other=other)
            return answers.refused_page(request, "inspections/second_look.html", page)
        given, typed = other.answers
    try:
        inspections.answer_second_look(
            look,
            by=request.user,
            now=request.now,
            answers=given,
            typed=typed,
            **cleaned,
        )
    except MayNot:
        raise
    except Refused as refusal:
        answers.refused(form, refusal)
        page = page_of(request, look, form, sign=cleaned["sign"], other=other)
        return answers.refused_page(request, "inspections/second_look.html", page)
    to = reverse("second-looks", args=[request.orchard.slug])
    return answers.done(request, _("Answered. The observer can read it."), to=to)


def read_answer(look: SecondLook, post: QueryDict) -> dict[str, Any]:
    """Read an answer that a phone kept, with what is asked of another sign.

    Raises:
        Refused (bad_form): the message tells all that is wrong with it.
    """
    form = AnswerForm(post, host=look.finding.tree.kind.host)
    asked: list[Form] = [form]
    cleaned: dict[str, Any] = {}
    if form.is_valid():
        cleaned = dict(form.cleaned_data)
    if cleaned.get("answer") == "other":
        units = forms.units_of(post, look.orchard)
        sign = guide.load().signs[cleaned["sign"]]
        other = forms.FindingForm(post, sign=sign, units=units, auto_id="%s")
        asked.append(other)
        if other.is_valid():
            cleaned["answers"], cleaned["typed"] = other.answers
    faults = [
        str(fault)
        for filled in asked
        for errors in filled.errors.values()
        for fault in errors
    ]
    if faults:
        raise Refused(" ".join(faults), code="bad_form")
    return cleaned


def page_of(
    request: OrchardRequest,
    look: SecondLook,
    form: AnswerForm | None = None,
    *,
    sign: str = "",
    other: forms.FindingForm | None = None,
) -> dict[str, Any]:
    """Return the finding as it was recorded, the form, and another sign's questions."""
    finding = look.finding
    tree = finding.tree
    story = story_of(request.member, finding.inspection)
    page: dict[str, Any] = {
        "look": look,
        "story": story,
        "finding_stories": [
            row for row in story.findings if row.finding.pk == finding.pk
        ],
        "form": form or AnswerForm(host=tree.kind.host),
        "is_own": finding.inspection.by_id == request.user.pk,
        "units": request.POST.get("units") or tree.orchard.units,
        "other": None,
    }
    if sign:
        ground = facts.gather(tree, on=finding.inspection.seen_on)
        row = guide.load().signs[sign]
        outcome = inspections.outcomes(ground, row)
        typed = request.POST
        page["other"] = sign_blocks.block_of(
            ground, row, outcome, typed, {}, form=other
        )
    return page
