"""Products: their labels, typed from the container."""

from __future__ import annotations

from functools import partial

from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from orchard.records.models import Product
from orchard.science import guide
from orchard.science.words import TreatmentKind
from orchard.services import permissions, photos, treatments
from orchard.services.permissions import Deed, may
from orchard.web import answers
from orchard.web.doorkeeper import door
from orchard.web.fields import ReasonForm, reason_field
from orchard.web.pages.treatments import forms, wording
from orchard.web.requests import OrchardRequest

READ_AND_SEND = ["GET", "HEAD", "POST"]
# So many are listed at once, more than that behind their kinds.
FEW_PRODUCTS = 5


@require_safe
@door(Deed.SEE)
def products(request: OrchardRequest) -> HttpResponse:
    """List the products of the orchard, by kind."""
    book = guide.load().treatments
    found = treatments.products_of(request.orchard)
    context = {
        "groups": [
            (rule, [wording.product_row(row) for row in found if row.kind == rule.key])
            for rule in book.values()
            if any(row.kind == rule.key for row in found)
        ],
        "is_short": len(found) <= FEW_PRODUCTS,
        "kinds": book.values(),
        "leads": may(request.member, Deed.PLAN_TREATMENTS),
    }
    return render(request, "treatments/products.html", context)


@require_http_methods(READ_AND_SEND)
@door(Deed.PLAN_TREATMENTS)
def product_new(request: OrchardRequest, kind: str) -> HttpResponse:
    """Enter a product with what its label says."""
    try:
        rule = guide.load().treatments[TreatmentKind(kind)]
    except ValueError:
        raise Http404 from None
    form = forms.ProductForm(
        request.POST or None,
        request.FILES or None,
        kind=rule.key,
        initial={"checked_on": request.today},
    )
    if request.method == "POST" and form.is_valid():
        with answers.refusals(form):
            row = treatments.add_product(
                request.orchard,
                by=request.user,
                now=request.now,
                today=request.today,
                kind=rule.key.value,
                **form.cleaned_data,
            )
            return _to_product(request, row, _("Product added."))
    context = {"form": form, "rule": rule, "today": request.today}
    if form.is_bound:
        return answers.refused_page(request, "treatments/product_new.html", context)
    return render(request, "treatments/product_new.html", context)


def _to_product(request: OrchardRequest, row: Product, text: str) -> HttpResponse:
    return answers.done(
        request,
        text,
        to="product-show",
        orchard=request.orchard.slug,
        number=row.pk,
    )


@require_safe
@door(Deed.SEE)
def product_show(request: OrchardRequest, number: int) -> HttpResponse:
    """Show what a label says, and what it was said to say before."""
    row = permissions.product_for(request.member, number)
    context = {
        "row": row,
        "rule": guide.load().treatments[TreatmentKind(row.kind)],
        "facts": wording.label_facts(row),
        "unknown": treatments.unknown_of(row),
        "unread": treatments.unread_crops(row),
        "earlier": treatments.earlier_readings(row),
        "newer": treatments.newer_reading(row),
        "photos": photos.current_photos(row),
        "leads": may(request.member, Deed.PLAN_TREATMENTS) and row.is_current,
        "may_record": may(request.member, Deed.WORK),
    }
    return render(request, "treatments/product_show.html", context)


@require_http_methods(READ_AND_SEND)
@door(Deed.PLAN_TREATMENTS)
def product_correction(request: OrchardRequest, number: int) -> HttpResponse:
    """Read a label again; the earlier reading stays readable."""
    row = permissions.product_for(request.member, number)
    form = forms.ProductForm(
        request.POST or None,
        request.FILES or None,
        kind=TreatmentKind(row.kind),
        row=row,
        initial={"checked_on": request.today},
    )
    form.fields["reason"] = reason_field(_("Why you correct it"))
    if request.method == "POST" and form.is_valid():
        with answers.refusals(form):
            newer = treatments.correct_product(
                row,
                by=request.user,
                now=request.now,
                today=request.today,
                **form.cleaned_data,
            )
            return _to_product(
                request,
                newer,
                _("It is corrected. A longer wait counts at once for uses on record."),
            )
    context = {
        "form": form,
        "row": row,
        "rule": guide.load().treatments[TreatmentKind(row.kind)],
        "today": request.today,
    }
    if form.is_bound:
        return answers.refused_page(request, "treatments/product_new.html", context)
    return render(request, "treatments/product_new.html", context)


@require_http_methods(READ_AND_SEND)
@door(Deed.PLAN_TREATMENTS)
def product_withdrawal(request: OrchardRequest, number: int) -> HttpResponse:
    row = permissions.product_for(request.member, number)
    return answers.reason_page(
        request,
        ReasonForm(request.POST or None, label=_("Why it is withdrawn")),
        partial(treatments.withdraw_product, row),
        heading=_("Withdraw %(name)s") % {"name": row.name},
        lead=_("It is no longer offered. Uses on record keep it."),
        button=_("Withdraw"),
        message=_("It is withdrawn and stays readable."),
        back_url=reverse("product-show", args=[row.orchard.slug, row.pk]),
        to=reverse("products", args=[row.orchard.slug]),
        back_label=row.name,
    )
