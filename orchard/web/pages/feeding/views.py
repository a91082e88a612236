"""How much a tree is fed this year, and what a laboratory found in leaves."""

from __future__ import annotations

from functools import partial

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods, require_safe

from orchard.records.models import LeafTest
from orchard.science import feeding as law
from orchard.science.words import TreatmentKind
from orchard.services import feeding, permissions, trees
from orchard.services.permissions import Deed, may
from orchard.web import answers, paging
from orchard.web.doorkeeper import door
from orchard.web.explain import anchor_of
from orchard.web.fields import ReasonForm
from orchard.web.pages.feeding.forms import LeafSetForm, LeafTestForm
from orchard.web.pages.feeding.wording import nutrient_text
from orchard.web.requests import OrchardRequest

READ_AND_SEND = ["GET", "HEAD", "POST"]
NEWEST_SHOWN = 3


@require_safe
@door(Deed.SEE)
def feeding_of_tree(request: OrchardRequest, code: str) -> HttpResponse:
    tree = permissions.tree_for(request.member, code)
    advice = feeding.advice_for(tree, now=request.now, today=request.today)
    slug = request.orchard.slug
    record = reverse("treatment-new", args=[slug, TreatmentKind.FERTILISER])
    context = {
        "tree": tree,
        "advice": advice,
        "may_record": may(request.member, Deed.WORK),
        "record_url": f"{record}?tree={tree.code}",
        "law": anchor_of("feeding.nitrogen_by_crown"),
        "leaf_tests": feeding.leaf_tests_for(tree, at_most=NEWEST_SHOWN),
    }
    return render(request, "feeding/tree.html", context)


@require_safe
@door(Deed.SEE)
def leaf_tests(request: OrchardRequest) -> HttpResponse:
    page = feeding.leaf_tests_of(request.orchard, after=paging.key_in(request))
    context = {
        "rows": [(row, feeding.leaf_test_words(row)) for row in page.rows],
        "sampling": feeding.sampling_time(request.orchard, today=request.today),
        "may_note": may(request.member, Deed.WORK),
        "today": request.today,
        **paging.links(request, page.next_key),
    }
    return render(request, "feeding/leaf_tests.html", context)


@require_http_methods(READ_AND_SEND)
@door(Deed.WORK)
def leaf_test_new(request: OrchardRequest) -> HttpResponse:
    form = LeafTestForm.new(
        trees.all_kinds(request.orchard),
        place=request.GET.get("place", "").replace("\0", ""),
        today=request.today,
        may_close=feeding.sampling_tasks(request.orchard).exists(),
        data=request.POST or None,
    )
    if request.method == "POST" and form.is_valid():
        with answers.refusals(form):
            row, closed = feeding.record_leaf_test(
                request.member,
                by=request.user,
                now=request.now,
                today=request.today,
                **form.cleaned_data,
            )
            text = _("Leaf analysis recorded.")
            if closed:
                closures = ngettext(
                    "%(count)d task closed.", "%(count)d tasks closed.", len(closed)
                )
                text = f"{text} {closures % {'count': len(closed)}}"
            return _to_leaf_test(request, row, text)
    context = {
        "form": form,
        "sampling": feeding.sampling_time(request.orchard, today=request.today),
        "today": request.today,
    }
    if form.is_bound:
        return answers.refused_page(request, "feeding/leaf_test_new.html", context)
    return render(request, "feeding/leaf_test_new.html", context)


@require_safe
@door(Deed.SEE)
def leaf_test_show(request: OrchardRequest, number: int) -> HttpResponse:
    row = permissions.leaf_test_for(request.member, number)
    context = {
        "test": row,
        "place": feeding.leaf_test_words(row),
        "nutrients": [
            nutrient_text(each, request.orchard.leaf_set)
            for each in feeding.nutrient_readings(row)
        ],
        "sets": law.leaf_sets(),
        "own_set": _own_set(request.orchard.leaf_set),
        "may_choose": may(request.member, Deed.KEEP_RULES),
        "newer": row.corrected_by if row.superseded_at else None,
        "mends": may(request.member, Deed.WORK)
        and row.is_current
        and permissions.is_own(request.member, row),
        "law": anchor_of("feeding.leaf_readings"),
        "today": request.today,
    }
    return render(request, "feeding/leaf_test.html", context)


def _own_set(key: str) -> str:
    """Return the name of a set; "" for none."""
    return next((each.name for each in law.leaf_sets() if each.key == key), "")


@require_http_methods(READ_AND_SEND)
@door(Deed.KEEP_RULES)
def leaf_set(request: OrchardRequest) -> HttpResponse:
    """Choose the set of ranges that the orchard goes by."""
    orchard = request.orchard
    form = LeafSetForm(request.POST or None, initial={"leaf_set": orchard.leaf_set})
    return answers.reason_page(
        request,
        form,
        partial(feeding.choose_leaf_set, orchard),
        heading=_("Choose our set of leaf ranges"),
        lead=_("The set your adviser goes by. It is marked first in each analysis."),
        button=_("Save"),
        message=_("Our set is saved, with your name and the day."),
        back_url=reverse("leaf-tests", args=[orchard.slug]),
        back_label=_("Leaf analyses"),
    )


@require_http_methods(READ_AND_SEND)
@door(Deed.WORK)
def leaf_test_correction(request: OrchardRequest, number: int) -> HttpResponse:
    row = permissions.leaf_test_for(request.member, number)
    permissions.require_own(request.member, row)
    form = LeafTestForm.correcting(
        row,
        trees.all_kinds(request.orchard),
        today=request.today,
        data=request.POST or None,
    )
    return answers.reason_page(
        request,
        form,
        partial(feeding.correct_leaf_test, row, request.member, today=request.today),
        heading=_("Correct leaf analysis"),
        lead=_("The earlier version stays readable."),
        button=_("Correct"),
        message=_("It is corrected. The earlier version stays readable."),
        template="feeding/leaf_test_correction.html",
        to=lambda newer: _url_of(request, newer),
        **_back_to(request, row),
    )


@require_http_methods(READ_AND_SEND)
@door(Deed.WORK)
def leaf_test_withdrawal(request: OrchardRequest, number: int) -> HttpResponse:
    row = permissions.leaf_test_for(request.member, number)
    permissions.require_own(request.member, row)
    return answers.reason_page(
        request,
        ReasonForm(request.POST or None, label=_("Why it is withdrawn")),
        partial(feeding.withdraw_leaf_test, row),
        heading=_("Withdraw leaf analysis"),
        lead=_("It no longer counts but stays readable."),
        button=_("Withdraw"),
        message=_("It is withdrawn and stays readable."),
        **_back_to(request, row),
    )


def _back_to(request: OrchardRequest, row: LeafTest) -> dict[str, str]:
    return {"back_url": _url_of(request, row), "back_label": _("Leaf analysis")}


def _url_of(request: OrchardRequest, row: LeafTest) -> str:
    return reverse("leaf-test-show", args=[request.orchard.slug, row.pk])


def _to_leaf_test(request: OrchardRequest, row: LeafTest, text: str) -> HttpResponse:
    return answers.done(request, text, to=_url_of(request, row))
