"""Watering: the log, a tree's ground, and the crowns that litres are counted over."""

from __future__ import annotations

from typing import Any, TypeVar

from django.http import HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods, require_safe

from orchard.records.models import Block, Crown, Watering
from orchard.services import corrections, permissions, water
from orchard.services.permissions import Deed, may
from orchard.web import answers
from orchard.web.doorkeeper import door
from orchard.web.fields import MeasuredForm, WithdrawalForm
from orchard.web.pages.water import charts, forms
from orchard.web.requests import OrchardRequest

READ_AND_SEND = ["GET", "HEAD", "POST"]
Noted = TypeVar("Noted", Watering, Crown)


@require_safe
@door(Deed.SEE)
def water_of_tree(request: OrchardRequest, code: str) -> HttpResponse:
    tree = permissions.tree_for(request.member, code)
    ground = water.ground_of_tree(request.orchard, tree, today=request.today)
    context = {
        "tree": tree,
        "ground": ground,
        "chart": charts.tree_chart(ground, request.orchard),
        "may_note": may(request.member, Deed.WORK),
        "mends": may(request.member, Deed.CORRECT_OTHERS),
        "today": request.today,
    }
    return render(request, "water/tree.html", context)


@require_http_methods(READ_AND_SEND)
@door(Deed.WORK)
def note_watering(request: OrchardRequest) -> HttpResponse:
    form = forms.WateringForm(
        request.POST or None,
        orchard=request.orchard,
        initial={"given_on": request.today, "tree": request.GET.get("tree", "")},
    )
    if request.method == "POST" and form.is_valid():
        with answers.refusals(form):
            count = len(_note_watering(request, **form.cleaned_data))
            message = ngettext(
                "%(count)d tree watered.", "%(count)d trees watered.", count
            )
            return answers.done(
                request,
                message % {"count": count},
                to="outlook-water",
                orchard=request.orchard.slug,
            )
    context = {"form": form, "today": request.today}
    if form.is_bound:
        return answers.refused_page(request, "water/watering.html", context)
    return render(request, "water/watering.html", context)


def _note_watering(
    request: OrchardRequest, *, block: Block | None, tree: str, **details: Any
) -> list[Watering]:
    if block is not None:
        trees = water.growing_in(block)
    else:
        trees = [permissions.tree_typed(request.member, tree)]
    return water.note_watering(
        trees, by=request.user, now=request.now, today=request.today, **details
    )


@require_http_methods(READ_AND_SEND)
@door(Deed.WORK)
def correct_watering(request: OrchardRequest, number: int) -> HttpResponse:
    row = permissions.watering_for(request.member, number)
    permissions.require_own(request.member, row)
    form = forms.WateringCorrectionForm.correcting(
        row, units=request.orchard.units, data=request.POST or None
    )
    if request.method == "POST" and form.is_valid():
        with answers.refusals(form):
            water.correct_measurement(
                row,
                by=request.user,
                now=request.now,
                today=request.today,
                **form.cleaned_data,
            )
            message = _("It is corrected. What was noted before stays readable.")
            return _to_tree(request, row, message)
    return _page(request, "water/correction.html", form, row)


@require_http_methods(READ_AND_SEND)
@door(Deed.WORK)
def withdraw_watering(request: OrchardRequest, number: int) -> HttpResponse:
    return _withdraw(request, permissions.watering_for(request.member, number))


@require_http_methods(READ_AND_SEND)
@door(Deed.WORK)
def withdraw_crown(request: OrchardRequest, number: int) -> HttpResponse:
    return _withdraw(request, permissions.crown_for(request.member, number))


def _withdraw(request: OrchardRequest, row: Noted) -> HttpResponse:
    permissions.require_own(request.member, row)
    form = WithdrawalForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        with answers.refusals(form):
            corrections.withdraw(
                row, by=request.user, now=request.now, **form.cleaned_data
            )
            message = _("It is withdrawn. What was noted stays readable.")
            return _to_tree(request, row, message)
    return _page(request, "water/withdrawal.html", form, row)


@require_http_methods(READ_AND_SEND)
@door(Deed.WORK)
def measure_crown(request: OrchardRequest, code: str) -> HttpResponse:
    tree = permissions.tree_for(request.member, code)
    form = forms.CrownForm.new(
        water.newest_crown(tree, today=request.today),
        today=request.today,
        units=request.orchard.units,
        data=request.POST or None,
    )
    if request.method == "POST" and form.is_valid():
        with answers.refusals(form):
            row = water.measure_crown(
                tree,
                by=request.user,
                now=request.now,
                today=request.today,
                **form.cleaned_data,
            )
            return _to_tree(request, row, _("The crown is kept."))
    context = {"form": form, "tree": tree, "today": request.today}
    if form.is_bound:
        return answers.refused_page(request, "water/crown.html", context)
    return render(request, "water/crown.html", context)


def _to_tree(
    request: OrchardRequest, row: Watering | Crown, message: str
) -> HttpResponse:
    return answers.done(
        request,
        message,
        to="tree-water",
        orchard=request.orchard.slug,
        code=row.tree.code,
    )


def _page(
    request: OrchardRequest,
    page: str,
    form: MeasuredForm | WithdrawalForm,
    row: Watering | Crown,
) -> HttpResponse:
    context = {
        "form": form,
        "row": row,
        "tree": row.tree,
        "is_crown": isinstance(row, Crown),
        "today": request.today,
    }
    if form.is_bound:
        return answers.refused_page(request, page, context)
    return render(request, page, context)
