"""Harvests: what was picked, lots and where they went, yields."""

from __future__ import annotations

from functools import partial
from typing import Any

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from orchard.records.models import Harvest, HarvestShare
from orchard.science.words import WorkKind
from orchard.services import harvests, holds, permissions
from orchard.services.harvests import LotFilters, RecordedPick
from orchard.services.permissions import Deed, may
from orchard.web import answers, paging
from orchard.web.codes import MOST_CODES
from orchard.web.doorkeeper import door
from orchard.web.fields import ReasonForm
from orchard.web.pages.harvests import charts, wording
from orchard.web.pages.harvests.forms import PickForm, ShareForm
from orchard.web.pages.paper import sheet_in
from orchard.web.requests import OrchardRequest

READ_AND_SEND = ["GET", "HEAD", "POST"]
YEARS = range(1900, 2200)


@require_safe
@door(Deed.SEE)
def index(request: OrchardRequest) -> HttpResponse:
    filters = _filters(request)
    yields = harvests.yields_of(
        request.orchard,
        year=filters.year,
        tree=filters.tree,
        page=paging.number_in(request),
    )
    page = harvests.lots_of(request.orchard, filters, after=paging.key_in(request))
    context = {
        "lots": page.rows,
        "filters": filters,
        "is_narrowed": filters != LotFilters(),
        "years": sorted({row.year for row in yields.by_year}, reverse=True),
        "kinds": harvests.kinds_picked(request.orchard),
        "yields": yields,
        "tree_links": paging.number_links(request, yields.by_tree, at="by-tree"),
        "opens_trees": paging.NUMBER in request.GET,
        "chart": charts.yearly_chart(yields.by_year, request.orchard),
        "may_note": may(request.member, Deed.WORK),
        "leads": may(request.member, Deed.CORRECT_OTHERS),
        "quarantine": harvests.quarantine_words(request.orchard, on=request.today),
        "today": request.today,
        **paging.links(request, page.next_key),
    }
    return render(request, "harvests/index.html", context)


def _filters(request: OrchardRequest) -> LotFilters:
    """Read what the list is narrowed to; what cannot be read narrows nothing."""
    year, kind = _number(request, "year"), _number(request, "kind")
    return LotFilters(
        year=year if year in YEARS else None,
        kind=kind,
        tree=request.GET.get("tree", "").replace("\0", "").strip()[:24],
    )


def _number(request: OrchardRequest, name: str) -> int | None:
    text = request.GET.get(name, "")
    return int(text) if text.isascii() and text.isdecimal() and len(text) < 10 else None


@require_http_methods(READ_AND_SEND)
@door(Deed.WORK)
def new(request: OrchardRequest) -> HttpResponse:
    sheet = sheet_in(request)
    form = PickForm.new(
        request.member,
        now=sheet.moment(request.orchard.time_zone, request.now)
        if sheet
        else request.now,
        may_allow=may(request.member, Deed.RELEASE_FRUIT),
        trees=request.GET.get("tree", "").replace("\0", ""),
        data=request.POST or None,
    )
    if request.method == "POST" and form.is_valid():
        with answers.refusals(form):
            recorded = harvests.record(
                request.orchard,
                harvests.pick_named(request.member, form.written),
                by=sheet.person if sheet else request.user,
                written_by=request.user,
                now=request.now,
                today=request.today,
                anyway=form.cleaned_data["anyway"],
            )
            text = picked_text(recorded.harvest)
            if sheet is not None:
                return answers.done(request, text, to=sheet.url)
            return _to_lot(request, recorded.harvest, text)
    closed = holds.closed_to(
        request.orchard, WorkKind.PICKING, today=request.today, now=request.now
    )
    context = {
        "form": form,
        "closed": closed,
        "more_closed": any(len(group.codes) > MOST_CODES for group in closed),
        "quarantine": harvests.quarantine_words(request.orchard, on=request.today),
        "today": request.today,
        "sheet": sheet,
    }
    if form.is_bound:
        return answers.refused_page(request, "harvests/new.html", context)
    return render(request, "harvests/new.html", context)


def picked_text(lot: Harvest) -> str:
    """Say that a lot is on record, and whether it may be given away."""
    if harvests.why_kept_back(lot):
        text = _("Lot %(lot)s recorded. Nothing of it is given away: see why below.")
    else:
        text = _("Lot %(lot)s recorded.")
    return text % {"lot": lot.lot}


@require_safe
@door(Deed.SEE)
def show(request: OrchardRequest, number: int) -> HttpResponse:
    lot = permissions.harvest_for(request.member, number)
    leads = may(request.member, Deed.CORRECT_OTHERS)
    picked = harvests.trees_in_lot(lot, page=paging.number_in(request))
    kinds = harvests.kinds_in_lot(lot)
    context = {
        "lot": lot,
        "picked": picked,
        "kinds": ", ".join(dict.fromkeys(kind.name for kind in kinds)),
        "balance": harvests.balance_of(lot),
        "why_kept_back": harvests.why_kept_back(lot),
        "notes": harvests.notes_for(kinds),
        "shares": harvests.shares_of(lot),
        "newer": None if lot.superseded_at is None else harvests.current_lot(lot),
        "older": lot.corrects,
        "may_note": may(request.member, Deed.WORK) and lot.is_current,
        "mends": leads or lot.by_id == request.user.pk,
        "leads": leads,
        "quarantine": harvests.quarantine_words(request.orchard, on=request.today),
        "today": request.today,
        **paging.number_links(request, picked, at="trees"),
    }
    return render(request, "harvests/show.html", context)


@require_safe
@door(Deed.SEE)
def label(request: OrchardRequest, number: int) -> HttpResponse:
    lot = permissions.harvest_for(request.member, number)
    line = harvests.lot_line(lot)
    context = {
        "lot": lot,
        "line": line,
        "why_kept_back": harvests.why_kept_back(lot),
        "notes": harvests.notes_for(each.tree.kind for each in line.trees),
        "quarantine": harvests.quarantine_words(request.orchard, on=request.today),
        "today": request.today,
    }
    return render(request, "harvests/label.html", context)


@require_http_methods(READ_AND_SEND)
@door(Deed.WORK)
def correction(request: OrchardRequest, number: int) -> HttpResponse:
    lot = permissions.harvest_for(request.member, number)
    permissions.require_own(request.member, lot)
    form = PickForm.correcting(
        lot,
        request.member,
        may_allow=may(request.member, Deed.RELEASE_FRUIT),
        data=request.POST or None,
    )

    def save(*, by: Any, now: Any, reason: str, anyway: str, **_more: Any) -> Any:
        return harvests.correct(
            lot,
            harvests.pick_named(request.member, form.written, corrects=lot),
            by=by,
            now=now,
            today=request.today,
            reason=reason,
            anyway=anyway,
        )

    before = harvests.lot_line(lot)

    def message(recorded: RecordedPick) -> str:
        return wording.corrected_text(before, harvests.lot_line(recorded.harvest))

    return answers.reason_page(
        request,
        form,
        save,
        heading=_("Correct lot %(lot)s") % {"lot": lot.lot},
        lead=_("The earlier version stays readable."),
        button=_("Correct it"),
        message=message,
        to=lambda recorded: _back_to(request, recorded.harvest)["back_url"],
        template="harvests/correction.html",
        look="brief",
        **_back_to(request, lot),
    )


@require_http_methods(READ_AND_SEND)
@door(Deed.WORK)
def withdrawal(request: OrchardRequest, number: int) -> HttpResponse:
    lot = permissions.harvest_for(request.member, number)
    permissions.require_own(request.member, lot)
    return answers.reason_page(
        request,
        ReasonForm(request.POST or None, label=_("Why it is withdrawn")),
        partial(harvests.withdraw, lot, today=request.today),
        heading=_("Withdraw lot %(lot)s") % {"lot": lot.lot},
        lead=_("It no longer counts but stays readable."),
        button=_("Withdraw"),
        message=_("It is withdrawn and stays readable."),
        **_back_to(request, lot),
    )


@require_http_methods(READ_AND_SEND)
@door(Deed.WORK)
def share_new(request: OrchardRequest, number: int) -> HttpResponse:
    lot = harvests.current_lot(permissions.harvest_for(request.member, number))
    form = ShareForm.new(lot, today=request.today, data=request.POST or None)
    if request.method == "POST" and form.is_valid():
        with answers.refusals(form):
            row = harvests.share(
                lot,
                by=request.user,
                now=request.now,
                today=request.today,
                **form.cleaned_data,
            )
            return _to_lot(request, lot, share_text(row))
    context = {
        "form": form,
        "lot": lot,
        "left": harvests.amount_words(harvests.balance_of(lot).left, lot),
        "why_kept_back": harvests.why_kept_back(lot),
        "notes": harvests.notes_for(harvests.kinds_in_lot(lot)),
        "quarantine": harvests.quarantine_words(request.orchard, on=request.today),
        "today": request.today,
    }
    if form.is_bound:
        return answers.refused_page(request, "harvests/share.html", context)
    return render(request, "harvests/share.html", context)


def share_text(row: HarvestShare) -> str:
    """Say where a part of a lot went."""
    amount = harvests.amount_words(harvests.LotAmount(row.kg, row.count), row.harvest)
    return _("%(amount)s of lot %(lot)s: %(use)s.") % {
        "amount": amount,
        "lot": row.harvest.lot,
        "use": row.get_use_display(),
    }


@require_http_methods(READ_AND_SEND)
@door(Deed.WORK)
def share_correction(request: OrchardRequest, number: int) -> HttpResponse:
    row = permissions.harvest_share_for(request.member, number)
    permissions.require_own(request.member, row)
    form = ShareForm.correcting(row, today=request.today, data=request.POST or None)
    return answers.reason_page(
        request,
        form,
        partial(harvests.correct_share, row, today=request.today),
        heading=_("Correct where it went"),
        lead=_("The earlier version stays readable."),
        button=_("Correct it"),
        message=lambda newer: _("Corrected. %(now)s") % {"now": share_text(newer)},
        **_back_to(request, harvests.current_lot(row.harvest)),
    )


@require_http_methods(READ_AND_SEND)
@door(Deed.WORK)
def share_withdrawal(request: OrchardRequest, number: int) -> HttpResponse:
    row = permissions.harvest_share_for(request.member, number)
    permissions.require_own(request.member, row)
    return answers.reason_page(
        request,
        ReasonForm(request.POST or None, label=_("Why it is withdrawn")),
        partial(harvests.withdraw_share, row),
        heading=_("Withdraw where it went"),
        lead=_("It no longer counts but stays readable."),
        button=_("Withdraw"),
        message=_("It is withdrawn and stays readable."),
        **_back_to(request, harvests.current_lot(row.harvest)),
    )


def _back_to(request: OrchardRequest, lot: Harvest) -> dict[str, str]:
    url = reverse("harvest-show", args=[request.orchard.slug, lot.pk])
    return {"back_url": url, "back_label": lot.lot}


def _to_lot(request: OrchardRequest, lot: Harvest, message: str) -> HttpResponse:
    return answers.done(
        request,
        message,
        to="harvest-show",
        orchard=request.orchard.slug,
        number=lot.pk,
    )
