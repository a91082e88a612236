"""House rules and the pest list: everybody reads them, the coordinator sets them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from django.forms import BoundField
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import (
    require_http_methods,
    require_POST,
    require_safe,
)

from orchard.records.models import HouseRule, PestStatus
from orchard.science import guide
from orchard.science.guide import Pest, Sign
from orchard.services import house_rules, permissions
from orchard.services.permissions import Deed, may
from orchard.web import answers, explain
from orchard.web.doorkeeper import door
from orchard.web.explain import RuleLine
from orchard.web.pages.guide import own_rule
from orchard.web.pages.house_rules.forms import (
    LiftForm,
    PestForm,
    PestsForm,
    RulesForm,
)
from orchard.web.requests import OrchardRequest


@dataclass(frozen=True, slots=True)
class HouseRuleLine:
    """A house rule as its history tells it."""

    row: HouseRule
    name: str
    url: str
    state: str
    rules: tuple[RuleLine, ...]
    is_readable: bool


@dataclass(frozen=True, slots=True)
class SignLink:
    """A sign behind which a pest may be."""

    name: str
    url: str


@dataclass(frozen=True, slots=True)
class PestLine:
    """A pest of the list: how it usually stands, how here, and who says so."""

    pest: Pest
    usual: str
    here: str
    must_be_reported: bool
    on_record: PestStatus | None
    signs: tuple[SignLink, ...]
    # How a pest that is not set is answered with all others, or one is changed alone.
    field: BoundField | None
    form: PestForm | None
    is_open: bool


@dataclass(frozen=True, slots=True)
class PestGroup:
    """Pests that are set and stand alike: to be reported, or common."""

    title: str
    lines: list[PestLine]
    must_be_reported: bool


def lines_of(rows: Iterable[HouseRule], request: OrchardRequest) -> list[HouseRuleLine]:
    """Tell house rules in words, with whether each holds today."""
    signs = guide.load().signs
    lines = []
    for row in rows:
        sign, rule = signs.get(row.sign), house_rules.rule_set_of(row)
        if row.lifted_on is not None and row.lifted_on <= request.today:
            state = "past"
        elif row.starts_on > request.today:
            state = "coming"
        else:
            state = "holding"
        lines.append(
            HouseRuleLine(
                row=row,
                name=guide.load().name_of(row.sign),
                url=reverse("house-rule", args=[request.orchard.slug, row.sign])
                if sign
                else "",
                state=state,
                rules=explain.rule_lines(rule.rules, sign, request.orchard)
                if rule and sign
                else (),
                is_readable=rule is not None,
            )
        )
    return lines


@require_safe
@door(Deed.SEE)
def index(request: OrchardRequest) -> HttpResponse:
    """List the house rules: what holds, what comes, what was."""
    chosen = request.GET.get("sign", "")
    if chosen in guide.load().signs:
        return redirect("house-rule", request.orchard.slug, chosen)
    lines = lines_of(house_rules.history(request.orchard), request)
    context = {
        "standing": [line for line in lines if line.state != "past"],
        "past": [line for line in lines if line.state == "past"],
        "keeps": may(request.member, Deed.KEEP_RULES),
        "signs": sorted(guide.load().signs.values(), key=lambda sign: sign.name),
        "guide_url": reverse("guide", args=[request.orchard.slug]),
    }
    return render(request, "house_rules/index.html", context)


def _sign(key: str) -> Sign:
    sign = guide.load().signs.get(key)
    if sign is None:
        raise Http404
    return sign


@require_http_methods(["GET", "HEAD", "POST"])
@door(Deed.SEE)
def show(request: OrchardRequest, sign: str) -> HttpResponse:
    """Show the rules of a sign here, and let the coordinator set them anew."""
    found = _sign(sign)
    if request.method == "GET":
        return render(request, "house_rules/show.html", _page(request, found))
    permissions.require(request.member, Deed.KEEP_RULES)
    form = _form(request, found, request.POST)
    preview: tuple[RuleLine, ...] = ()
    if form.is_valid():
        with answers.refusals(form):
            if request.POST.get("step") == "set":
                return _set(request, found, form)
            rules = house_rules.read(found.key, form.rows())
            preview = explain.rule_lines(rules, found, request.orchard)
    context = _page(request, found, form=form) | {"preview": preview}
    if form.errors:
        return answers.refused_page(request, "house_rules/show.html", context)
    return render(request, "house_rules/show.html", context)


def _set(request: OrchardRequest, sign: Sign, form: RulesForm) -> HttpResponse:
    house_rules.set_rule(
        request.orchard,
        sign=sign.key,
        rules=form.rows(),
        reason=form.cleaned_data["reason"],
        starts_on=form.cleaned_data["starts_on"],
        by=request.user,
        now=request.now,
        today=request.today,
    )
    text = _("The house rule for %(sign)s is set.") % {"sign": sign.name}
    return answers.done(
        request, text, to=reverse("house-rule", args=[request.orchard.slug, sign.key])
    )


def _form(request: OrchardRequest, sign: Sign, data: Any = None) -> RulesForm:
    current = house_rules.holding(request.orchard, request.today).get(sign.key)
    return RulesForm(
        sign=sign,
        orchard=request.orchard,
        own=current.rules if current else None,
        today=request.today,
        data=data,
    )


def _page(
    request: OrchardRequest,
    sign: Sign,
    *,
    form: RulesForm | None = None,
    lift_form: LiftForm | None = None,
) -> dict[str, Any]:
    keeps = may(request.member, Deed.KEEP_RULES)
    slug = request.orchard.slug
    lines = lines_of(house_rules.history(request.orchard, sign.key), request)
    if keeps:
        form = form or _form(request, sign)
    return {
        "sign": sign,
        "own": own_rule(sign, request),
        "rules": explain.rule_lines(sign.rules, sign, request.orchard),
        "lines": lines,
        "liftable": next((line for line in lines if line.row.lifted_on is None), None),
        "form": form,
        "rule_rows": form.shown_rows() if form else [],
        "lift_form": lift_form or LiftForm(prefix="lift"),
        "lift_url": reverse("house-rule-lifting", args=[slug, sign.key]),
        "keeps": keeps,
        "edition": guide.load().edition,
        "sign_url": reverse("guide-sign", args=[slug, sign.key]),
        "rules_url": reverse("house-rules", args=[slug]),
    }


@require_POST
@door(Deed.KEEP_RULES)
def lifting(request: OrchardRequest, sign: str) -> HttpResponse:
    """Lift the house rule of a sign."""
    found = _sign(sign)
    form = LiftForm(request.POST, prefix="lift")
    row = house_rules.standing(request.orchard, found.key)
    if row is None:
        raise Http404
    if form.is_valid():
        with answers.refusals(form):
            house_rules.lift(
                row,
                by=request.user,
                now=request.now,
                today=request.today,
                reason=form.cleaned_data["reason"],
            )
            text = _("The house rule for %(sign)s is lifted. The guide's rules apply.")
            return answers.done(
                request,
                text % {"sign": found.name},
                to=reverse("house-rule", args=[request.orchard.slug, found.key]),
            )
    context = _page(request, found, lift_form=form)
    return answers.refused_page(request, "house_rules/show.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
@door(Deed.SEE)
def pests(request: OrchardRequest) -> HttpResponse:
    """Show how every pest of the guide stands here; the coordinator may change it."""
    if request.method == "GET":
        return render(request, "house_rules/pests.html", _pest_page(request))
    permissions.require(request.member, Deed.KEEP_RULES)
    if "confirm" in request.POST:
        return _confirm(request)
    code = request.POST.get("code", "")
    if code not in guide.load().pests:
        raise Http404
    form = PestForm(request.POST, auto_id=f"id_{code}_%s")
    if form.is_valid():
        with answers.refusals(form):
            house_rules.set_pest_status(
                request.orchard,
                code=code,
                by=request.user,
                now=request.now,
                **form.cleaned_data,
            )
            text = _("Pest status changed: %(taxon)s. Verdicts already given stay.")
            return answers.done(
                request,
                text % {"taxon": guide.load().pests[code].taxon},
                to=reverse("pests", args=[request.orchard.slug]),
            )
    context = _pest_page(request, wrong=code, form=form)
    return answers.refused_page(request, "house_rules/pests.html", context)


def _pests_form(
    request: OrchardRequest, unset: Iterable[str], data: Any = None
) -> PestsForm:
    region = request.GET.get("region", "") or request.orchard.region
    return PestsForm(
        data,
        codes=unset,
        suggested=house_rules.suggested_status(region),
        auto_id="id_all_%s",
    )


def _confirm(request: OrchardRequest) -> HttpResponse:
    unset = house_rules.unset_pests(request.orchard)
    form = _pests_form(request, unset, request.POST)
    if form.is_valid():
        with answers.refusals(form):
            rows = house_rules.confirm_pests(
                request.orchard,
                statuses=form.statuses(),
                source=form.cleaned_data["source"],
                by=request.user,
                now=request.now,
            )
            text = _("%(count)d pests are set. Verdicts already given stay.")
            return answers.done(
                request,
                text % {"count": len(rows)},
                to=reverse("pests", args=[request.orchard.slug]),
            )
    context = _pest_page(request, confirming=form)
    return answers.refused_page(request, "house_rules/pests.html", context)


def _pest_page(
    request: OrchardRequest,
    *,
    wrong: str = "",
    form: PestForm | None = None,
    confirming: PestsForm | None = None,
) -> dict[str, Any]:
    on_record = house_rules.pest_rows(request.orchard)
    statuses = house_rules.pest_status(request.orchard)
    keeps = may(request.member, Deed.KEEP_RULES)
    unset = [
        code
        for code in guide.load().standings
        if code not in on_record or on_record[code].set_by_id is None
    ]
    if confirming is None and keeps and unset:
        confirming = _pests_form(request, unset)
    lines = []
    for pest in guide.load().pests.values():
        mine = on_record.get(pest.code)
        field = None
        if confirming is not None and pest.code in unset:
            field = confirming[f"pest-{pest.code}"]
        status = statuses[pest.code]
        here = {"status": status, "source": mine.source if mine else ""}
        fresh = PestForm(initial=here, auto_id=f"id_{pest.code}_%s")
        lines.append(
            PestLine(
                pest=pest,
                usual=explain.status_word(pest.usual_status),
                here=_("not set: ask the authority")
                if pest.code in unset
                else explain.status_word(status),
                must_be_reported=status != "common",
                on_record=mine,
                signs=_signs_of(pest.code, request.orchard.slug),
                field=field,
                form=(form if pest.code == wrong else fresh)
                if keeps and field is None
                else None,
                is_open=pest.code == wrong or bool(field and field.errors),
            )
        )
    lines.sort(key=lambda line: line.pest.name.casefold())
    settled = [line for line in lines if line.pest.code not in unset]
    reported = [line for line in settled if line.must_be_reported]
    common = [line for line in settled if not line.must_be_reported]
    groups = [
        PestGroup(_("To be reported"), reported, must_be_reported=True),
        PestGroup(_("Common"), common, must_be_reported=False),
    ]
    return {
        "groups": [group for group in groups if group.lines],
        "open_lines": [line for line in lines if line.pest.code in unset],
        "form": form,
        "confirming": confirming,
        "unset": unset,
        "regions": guide.load().regions.values(),
        "region": request.GET.get("region", "") or request.orchard.region,
        "guide_url": reverse("guide", args=[request.orchard.slug]),
        "authority": request.orchard.authority_name,
        "authority_contact": request.orchard.authority_contact,
    }


def _signs_of(code: str, slug: str) -> tuple[SignLink, ...]:
    return tuple(
        SignLink(sign.name, reverse("guide-sign", args=[slug, sign.key]))
        for sign in guide.load().signs.values()
        if code in sign.eppo
    )
