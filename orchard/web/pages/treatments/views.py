"""Treatments: what is closed now, uses recorded and planned, and what follows."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from functools import partial
from typing import Any
from zoneinfo import ZoneInfo

from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods, require_safe

from orchard.records.models import Task, Treatment
from orchard.science import guide
from orchard.science.words import TreatmentKind
from orchard.services import permissions, photos, treatments
from orchard.services.errors import Refused
from orchard.services.permissions import Deed, may
from orchard.services.photos import Picture
from orchard.services.treatments import Use
from orchard.web import answers, paging
from orchard.web.doorkeeper import door
from orchard.web.fields import ReasonForm
from orchard.web.pages.paper import PaperSheet, sheet_in
from orchard.web.pages.treatments import forms, wording
from orchard.web.requests import OrchardRequest

READ_AND_SEND = ["GET", "HEAD", "POST"]


@require_safe
@door(Deed.SEE)
def index(request: OrchardRequest) -> HttpResponse:
    """Show what is closed now, what waits, what is planned, what was used."""
    asked = treatments.ListFilter.read(request.GET)
    page = treatments.treatments_page(
        request.orchard, kind=asked.kind, year=asked.year, after=paging.key_in(request)
    )
    seen = treatments.overview(request.member, now=request.now)
    context = {
        "closed": [
            wording.closed_row(row, ZoneInfo(request.orchard.time_zone))
            for row in seen.closed
        ],
        "waiting": [wording.row_of(row) for row in seen.waiting],
        "plans": [wording.row_of(row) for row in seen.plans],
        "breaches": seen.breaches,
        "uses": [wording.row_of(row) for row in page.rows],
        "asked": asked,
        "kinds": guide.load().treatments.values(),
        "years": treatments.years_of(request.orchard),
        "may_record": may(request.member, Deed.WORK),
        "plans_uses": may(request.member, Deed.PLAN_TREATMENTS),
        **paging.links(request, page.next_key),
    }
    return render(request, "treatments/index.html", context)


@require_safe
@door(Deed.WORK)
def choose_kind(request: OrchardRequest) -> HttpResponse:
    """Ask what was used, before anything else."""
    kept = request.GET.copy()
    kept.pop("kind", None)
    kinds = guide.load().treatments.values()
    context = {
        "groups": [
            (_("Usual"), [kind for kind in kinds if kind.is_usual]),
            (_("Others"), [kind for kind in kinds if not kind.is_usual]),
        ],
        "kept": f"?{kept.urlencode()}" if kept else "",
    }
    return render(request, "treatments/choose.html", context)


@require_http_methods(READ_AND_SEND)
@door(Deed.WORK)
def new(request: OrchardRequest, kind: str) -> HttpResponse:
    """Record a use of one kind that was done."""
    return _form_page(request, _rule(kind), planning=False)


@require_http_methods(READ_AND_SEND)
@door(Deed.PLAN_TREATMENTS)
def plan_new(request: OrchardRequest, kind: str) -> HttpResponse:
    """Plan a use of one kind."""
    return _form_page(request, _rule(kind), planning=True)


def _form_page(
    request: OrchardRequest, rule: guide.TreatmentType, *, planning: bool
) -> HttpResponse:
    task = _task_asked(request)
    plan = None if planning else _plan_asked(request)
    sheet = None if planning else sheet_in(request)
    products = treatments.products_of(request.orchard, rule.key)
    data = request.POST or None
    form = forms.TreatmentForm(
        data,
        request.FILES or None,
        kind=rule.key,
        orchard=request.orchard,
        row=plan,
        planning=planning,
        initial=_initial(request, task, plan, sheet, planning=planning),
    )
    uses = treatments.used_on(plan) if plan else ()
    amounts = forms.amount_forms(products, data, uses)
    asks_amounts = request.POST.get("step") == "amounts"
    is_sound = form.is_valid() & amounts.is_valid() if data else False
    warnings: list[str] = []
    if is_sound and not asks_amounts:
        with answers.refusals(form, amounts.forms[0]):
            use = form.use(forms.amounts_in(amounts))
            if not planning:
                return _record(request, use, plan, task, sheet, form.pictures)
            warnings = _warnings(request, use)
            if not warnings or "warned" in request.POST:
                return _plan(request, use)
    leads = may(request.member, Deed.PLAN_TREATMENTS)
    slug = request.orchard.slug
    can_plan = leads and form.is_protection and not (planning or plan or sheet)
    context = {
        "form": form,
        "amounts": amounts,
        "parts": forms.parts_of(form, amounts),
        "rule": rule,
        "products": products,
        "plan": plan,
        "planning": planning,
        "warnings": warnings,
        "sheet": sheet,
        "task": task,
        "plans_uses": leads,
        "plan_url": reverse("treatment-plan-new", args=[slug, rule.key])
        if can_plan
        else "",
        "today": request.today,
    }
    page = "treatments/new.html"
    if asks_amounts:
        context |= _needed(form, amounts, now=request.now)
        return answers.page_or_part(request, page, "treatments/_needed.html", context)
    if form.is_bound and not warnings:
        return answers.refused_page(request, page, context)
    return render(request, page, context)


def _warnings(request: OrchardRequest, use: Use) -> list[str]:
    """Say what speaks against a plan, once nothing forbids it."""
    treatments.check_plan(
        request.orchard, use, by=request.user, now=request.now, today=request.today
    )
    return treatments.warnings_of(use, request.orchard)


def _needed(
    form: forms.TreatmentForm, amounts: Any, *, now: datetime
) -> dict[str, Any]:
    """Return how much is needed by what is typed so far, or why that is not known."""
    typed = [each.amount() for each in amounts.forms if each.is_valid()]
    try:
        use = form.use_so_far([each for each in typed if each], now=now)
    except Refused as refusal:
        return {"asked": True, "unread": str(refusal)}
    return {"asked": True, "needed": treatments.amounts_needed(use)}


def _rule(kind: str) -> guide.TreatmentType:
    try:
        return guide.load().treatments[TreatmentKind(kind)]
    except ValueError:
        raise Http404 from None


def _task_asked(request: OrchardRequest) -> Task | None:
    number = request.GET.get("task", "")
    if not number.isdecimal() or len(number) > 18:
        return None
    return permissions.task_for(request.member, int(number))


def _plan_asked(request: OrchardRequest) -> Treatment | None:
    number = request.GET.get("plan", "")
    if not number.isdecimal() or len(number) > 18:
        return None
    plan = permissions.treatment_for(request.member, int(number))
    return plan if plan.is_plan and plan.is_current else None


def _initial(
    request: OrchardRequest,
    task: Task | None,
    plan: Treatment | None,
    sheet: PaperSheet | None,
    *,
    planning: bool,
) -> dict[str, Any]:
    now = forms.first_moment(request.now)
    initial: dict[str, Any] = {"applicator": request.user.name}
    if sheet is not None:
        now = sheet.moment(request.orchard.time_zone, now)
        initial["applicator"] = sheet.person.name
    if planning:
        now += timedelta(days=1)
    if plan is None:
        initial["ended_at"] = now
        codes = request.GET.get("tree", "").replace("\0", "")
        if task is not None and task.tree is not None:
            codes = task.tree.code
        elif task is not None and task.block is not None:
            codes = task.block.code
        initial["trees"] = codes[:2000]
    else:
        initial |= {"started_at": None, "ended_at": now}
    return initial


def _plan(request: OrchardRequest, use: Use) -> HttpResponse:
    row = treatments.plan(
        request.orchard, use, by=request.user, now=request.now, today=request.today
    )
    return answers.done(
        request,
        _("Planned. Print the posting, and record the use when it is done."),
        to="treatment-show",
        orchard=request.orchard.slug,
        number=row.pk,
    )


def _record(
    request: OrchardRequest,
    use: Use,
    plan: Treatment | None,
    task: Task | None,
    sheet: PaperSheet | None,
    pictures: Sequence[Picture],
) -> HttpResponse:
    found = treatments.record(
        request.orchard,
        use,
        by=sheet.person if sheet else request.user,
        written_by=request.user,
        now=request.now,
        today=request.today,
        plan=plan,
        task=task,
        pictures=pictures,
    )
    if sheet is not None:
        return answers.done(request, recorded_text(found), to=sheet.url)
    return answers.done(
        request,
        recorded_text(found),
        to="treatment-show",
        orchard=request.orchard.slug,
        number=found.treatment.pk,
    )


def recorded_text(found: treatments.Recorded) -> str:
    """Say what a recorded use became: what it closed, and what it broke."""
    parts = [_("Treatment recorded.")]
    if found.closed:
        count = len(found.closed)
        text = ngettext("%(count)d task closed.", "%(count)d tasks closed.", count)
        parts.append(text % {"count": count})
    if found.breaches:
        parts.append(_("Something is to be looked into: see below."))
    return " ".join(parts)


@require_safe
@door(Deed.SEE)
def show(request: OrchardRequest, number: int) -> HttpResponse:
    """Show a use: until when what is closed, what was used, what it broke."""
    row = permissions.treatment_for(request.member, number)
    reached = treatments.treated_page(row, page=paging.number_in(request))
    uses = treatments.used_on(row)
    due_on, kept_until = wording.due_text(row)
    leads = may(request.member, Deed.PLAN_TREATMENTS)
    context = {
        "row": row,
        "rule": treatments.kind_of(row),
        "is_protection": treatments.is_protection(
            TreatmentKind(row.kind), [use.product for use in uses]
        ),
        "holds": wording.holds_of(row, treatments.first_treated(row), now=request.now),
        "reached": wording.reached_words(reached.rows),
        "listed": reached,
        "uses": wording.use_rows(uses, request.orchard),
        "facts": wording.facts_of(row),
        "details": wording.details_of(row),
        "needed": treatments.needed_for(row),
        "warnings": treatments.warnings_for(row)
        if row.is_plan and row.is_current
        else [],
        "dry_checks": row.dry_checks.select_related("by").order_by("dry_at", "id"),
        "asks_for_dry": not row.is_plan
        and row.is_current
        and treatments.asks_for_dry(row),
        "leads": leads,
        "is_own": permissions.is_own(request.member, row),
        "photos": photos.current_photos(row),
        "newer": treatments.newer_record(row),
        "carried_out": treatments.carried_out(row),
        "record_url": _record_url(row),
        "due_on": due_on,
        "kept_until": kept_until,
        **paging.number_links(request, reached, at="trees"),
    }
    return render(request, "treatments/show.html", context)


def _record_url(row: Treatment) -> str:
    url = reverse("treatment-new", args=[row.orchard.slug, row.kind])
    return f"{url}?plan={row.pk}"


@require_http_methods(READ_AND_SEND)
@door(Deed.WORK)
def correction(request: OrchardRequest, number: int) -> HttpResponse:
    """Correct a use; its holds move with it."""
    row = permissions.treatment_for(request.member, number)
    permissions.require_own(request.member, row)
    kind = TreatmentKind(row.kind)
    uses = treatments.used_on(row)
    products = _offered(row, [use.product for use in uses])
    data = request.POST or None
    form = forms.TreatmentForm(
        data,
        request.FILES or None,
        kind=kind,
        orchard=request.orchard,
        row=row,
        planning=row.is_plan,
    )
    amounts = forms.amount_forms(products, data, uses)
    why = forms.ReasonToCorrectForm(data)
    if data and form.is_valid() & amounts.is_valid() & why.is_valid():
        with answers.refusals(form, amounts.forms[0], why):
            found = treatments.correct(
                row,
                form.use(forms.amounts_in(amounts)),
                by=request.user,
                now=request.now,
                today=request.today,
                pictures=form.pictures,
                **why.cleaned_data,
            )
            return answers.done(
                request,
                _("It is corrected. The earlier version stays readable."),
                to="treatment-show",
                orchard=request.orchard.slug,
                number=found.treatment.pk,
            )
    context = {
        "form": form,
        "amounts": amounts,
        "parts": forms.parts_of(form, amounts),
        "why": why,
        "row": row,
        "rule": treatments.kind_of(row),
        "products": products,
        "today": request.today,
    }
    if form.is_bound:
        return answers.refused_page(request, "treatments/correction.html", context)
    return render(request, "treatments/correction.html", context)


def _offered(row: Treatment, used: Sequence[Any]) -> list[Any]:
    """List the products of a kind, and those of this use that are no longer listed."""
    products = treatments.products_of(row.orchard, row.kind)
    listed = {product.pk for product in products}
    return [*products, *(product for product in used if product.pk not in listed)]


@require_http_methods(READ_AND_SEND)
@door(Deed.WORK)
def withdrawal(request: OrchardRequest, number: int) -> HttpResponse:
    row = permissions.treatment_for(request.member, number)
    permissions.require_own(request.member, row)
    return answers.reason_page(
        request,
        forms.WithdrawForm(request.POST or None),
        partial(treatments.withdraw, row, today=request.today),
        heading=_("Withdraw this treatment"),
        lead=_("It no longer counts, and its holds end. It stays readable."),
        button=_("Withdraw"),
        message=_("It is withdrawn and stays readable."),
        back_url=_page(row),
        back_label=_("Treatment"),
    )


def _page(row: Treatment) -> str:
    return reverse("treatment-show", args=[row.orchard.slug, row.pk])


@require_http_methods(READ_AND_SEND)
@door(Deed.PLAN_TREATMENTS)
def dry(request: OrchardRequest, number: int) -> HttpResponse:
    """Confirm that what was sprayed has dried."""
    row = permissions.treatment_for(request.member, number)
    form = forms.DryForm(
        request.POST or None, initial={"dry_at": forms.first_moment(request.now)}
    )
    return answers.reason_page(
        request,
        form,
        partial(treatments.confirm_dry, row),
        heading=_("Confirm that it is dry"),
        lead=_(
            "Touch a leaf in the shade, low in the crown. Rain, dew or sprinklers "
            "before that: wait, and confirm again."
        ),
        button=_("Confirm"),
        message=_("Confirmed. The page says from when people may enter."),
        back_url=_page(row),
        back_label=_("Treatment"),
        template="treatments/dry.html",
        row=row,
    )


@require_http_methods(READ_AND_SEND)
@door(Deed.PLAN_TREATMENTS)
def withdraw_dry(request: OrchardRequest, number: int, check: int) -> HttpResponse:
    found = permissions.dry_check_for(request.member, number, check)
    return answers.reason_page(
        request,
        ReasonForm(request.POST or None, label=_("Why it is withdrawn")),
        partial(treatments.withdraw_dry_check, found),
        heading=_("Withdraw this check"),
        lead=_("What it opened is closed again."),
        button=_("Withdraw"),
        message=_("It is withdrawn and stays readable."),
        back_url=_page(found.treatment),
        back_label=_("Treatment"),
    )


@require_http_methods(READ_AND_SEND)
@door(Deed.WORK)
def wet_spell(request: OrchardRequest) -> HttpResponse:
    """Note when leaves were wet; checks made meanwhile say nothing any more."""
    form = forms.WetSpellForm(
        request.POST or None, initial={"ended_at": forms.first_moment(request.now)}
    )
    if request.method == "POST" and form.is_valid():
        with answers.refusals(form):
            treatments.note_wet_spell(
                request.orchard, by=request.user, now=request.now, **form.cleaned_data
            )
            return answers.done(
                request,
                _("Recorded. What was found dry meanwhile is closed again."),
                to="treatments",
                orchard=request.orchard.slug,
            )
    context = {"form": form, "today": request.today}
    if form.is_bound:
        return answers.refused_page(request, "treatments/wet.html", context)
    return render(request, "treatments/wet.html", context)


@require_http_methods(READ_AND_SEND)
@door(Deed.PLAN_TREATMENTS)
def adviser(request: OrchardRequest, number: int, code: str) -> HttpResponse:
    """Set from when an adviser lets fruit be picked that no label names."""
    reached = permissions.reached_for(request.member, number, code)
    return answers.reason_page(
        request,
        forms.AdviserForm(request.POST or None),
        partial(treatments.set_adviser_day, reached),
        heading=_("Set when %(code)s may be picked") % {"code": reached.tree.code},
        lead=_("No label names what grows there. Ask an adviser before you set a day."),
        button=_("Save"),
        message=_("Saved, with the adviser's name."),
        back_url=_page(reached.treatment),
        back_label=_("Treatment"),
    )


@require_safe
@door(Deed.SEE)
def posting(request: OrchardRequest, number: int) -> HttpResponse:
    """Show the sheet that is put up at each entrance, in two languages."""
    row = permissions.treatment_for(request.member, number)
    reached = treatments.treated_trees(row)
    sketch = treatments.sketch_around(reached)
    context = {
        "row": row,
        "uses": treatments.used_on(row),
        "blocks": wording.blocks_of(reached, sketch),
        "sketch": sketch,
        **wording.posting_of(row, reached),
    }
    return render(request, "treatments/posting.html", context)


@require_safe
@door(Deed.SEE)
def register(request: OrchardRequest) -> HttpResponse:
    """Show what was used in a year, as an inspector asks for it."""
    asked = treatments.ListFilter.read(request.GET)
    year = asked.year or request.today.year
    everything = request.GET.get("all") == "1"
    rows = treatments.register(request.orchard, year, everything=everything)
    context = {
        "year": year,
        "years": sorted(
            {*treatments.years_of(request.orchard), request.today.year}, reverse=True
        ),
        "everything": everything,
        "columns": wording.register_columns(request.orchard),
        "rows": [wording.register_cells(row, request.orchard) for row in rows],
        "late": sum(row.is_late for row in rows),
        "lacking": sum(bool(row.lacks) for row in rows),
        "today": request.today,
    }
    return render(request, "treatments/register.html", context)


@require_safe
@door(Deed.SEE)
def register_export(request: OrchardRequest) -> Any:
    """Send the register of a year as a file for a spreadsheet."""
    asked = treatments.ListFilter.read(request.GET)
    year = asked.year or request.today.year
    everything = request.GET.get("all") == "1"
    rows = treatments.register(request.orchard, year, everything=everything)
    return wording.register_file(request.orchard, year, rows)
