"""Watering: the log, a tree's ground, and the crowns that litres are counted over."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from typing import Any, TypeVar

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods, require_safe

from orchard.records.models import Block, Crown, Membership, Tree, Watering
from orchard.science.figures import figure
from orchard.services import permissions, water
from orchard.services.permissions import Deed, may
from orchard.services.quantities import number_text
from orchard.web import answers
from orchard.web.doorkeeper import door
from orchard.web.fields import ReasonForm
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
        "finger_cm": number_text(figure("finger_depth_cm").value),
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
    return water.note_watering(
        trees_watered(request.member, block=block, tree=tree),
        by=request.user,
        now=request.now,
        today=request.today,
        **details,
    )


def trees_watered(
    member: Membership, *, block: Block | None, tree: str
) -> Sequence[Tree]:
    """Return the growing trees of the block chosen, or the one tree typed.

    Raises:
        Refused (unknown_tree): no tree of the orchard has this code.
    """
    if block is not None:
        return water.growing_in(block)
    return [permissions.tree_typed(member, tree)]


@require_http_methods(READ_AND_SEND)
@door(Deed.WORK)
def correct_watering(request: OrchardRequest, number: int) -> HttpResponse:
    row = permissions.watering_for(request.member, number)
    permissions.require_own(request.member, row)
    form = forms.WateringCorrectionForm.correcting(
        row, units=request.orchard.units, data=request.POST or None
    )
    return answers.reason_page(
        request,
        form,
        partial(water.correct_measurement, row, today=request.today),
        heading=_("Correct a watering of %(code)s") % {"code": row.tree.code},
        lead=_("The earlier version stays readable."),
        button=_("Correct"),
        message=_("It is corrected. The earlier version stays readable."),
        **_way_back(request, row),
    )


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
    heading = (
        _("Withdraw a measurement of %(code)s")
        if isinstance(row, Crown)
        else _("Withdraw a watering of %(code)s")
    )
    return answers.reason_page(
        request,
        ReasonForm(request.POST or None, label=_("Why it is withdrawn")),
        partial(water.withdraw_measurement, row),
        heading=heading % {"code": row.tree.code},
        lead=_("It no longer counts but stays readable."),
        button=_("Withdraw"),
        message=_withdrawn,
        **_way_back(request, row),
    )


def _withdrawn(withdrawal: water.Withdrawal) -> str:
    """Say that a note is withdrawn, and what became of the work it had closed."""
    text = _("It is withdrawn and stays readable.")
    if withdrawal.reopened is not None:
        open_again = _("The task it closed is open again: %(title)s.")
        return f"{text} {open_again % {'title': withdrawal.reopened.title}}"
    if withdrawal.why_closed:
        stays = _("The task it closed stays closed. %(why)s")
        return f"{text} {stays % {'why': withdrawal.why_closed}}"
    return text


def _way_back(request: OrchardRequest, row: Watering | Crown) -> dict[str, str]:
    url = reverse("tree-water", args=[request.orchard.slug, row.tree.code])
    return {"back_url": url, "back_label": row.tree.code}


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
            return _to_tree(request, row, _("Crown saved."))
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
