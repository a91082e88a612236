"""The guide to read: what is usual now, by part, by word, and each sign whole."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from orchard.records.models import HouseRule, Orchard, Photo
from orchard.science import guide, windows
from orchard.science.guide import Sign, Term
from orchard.science.source import Source, Verification
from orchard.science.verdict import VerdictStep, steps_for
from orchard.science.words import Part, Verdict
from orchard.services import house_rules, photos, trees
from orchard.services.permissions import Deed, may
from orchard.web import charts, explain
from orchard.web.charts import SignPicture
from orchard.web.doorkeeper import door
from orchard.web.explain import RuleLine
from orchard.web.requests import OrchardRequest

LONGEST_QUESTION = 80
FIRST_SHOWN = 12
# Look-alikes that show at once; the others are folded.
ALIKE_SHOWN = 4


@dataclass(frozen=True, slots=True)
class Card:
    """A sign in a list."""

    name: str
    url: str
    text: str
    picture: SignPicture


@dataclass(frozen=True, slots=True)
class PartLink:
    """A part of the tree with the number of signs met there."""

    label: str
    code: str
    url: str
    count: int
    current: bool


@dataclass(frozen=True, slots=True)
class AlikeShown:
    """Something easily mistaken for a sign, beside its picture."""

    name: str
    tell: str
    url: str
    picture: SignPicture | None


@dataclass(frozen=True, slots=True)
class InsteadShown:
    """What is to be done instead of the sign's own steps, and when."""

    when: str
    steps: tuple[VerdictStep, ...]
    caution: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class PestShown:
    """A pest behind a sign and how it stands here."""

    code: str
    taxon: str
    status: str
    must_be_reported: bool


@dataclass(frozen=True, slots=True)
class SourceShown:
    """A source with how far it can be trusted, in plain words."""

    text: str
    trust: str
    note: str


@dataclass(frozen=True, slots=True)
class TermShown:
    """A word of the trade, and who says so where that was read."""

    term: Term
    sources: list[SourceShown]


@dataclass(frozen=True, slots=True)
class OwnRule:
    """This orchard's own rules for a sign, and whether today's guide reads them."""

    row: HouseRule
    rules: tuple[RuleLine, ...]


@require_safe
@door(Deed.SEE)
def index(request: OrchardRequest) -> HttpResponse:
    """List the signs: usual now first, or those of a part, or those with a word."""
    asked = request.GET.get("q", "").strip()[:LONGEST_QUESTION]
    part = request.GET.get("part", "")
    part = part if part in set(Part) else ""
    everything = sorted(guide.load().signs.values(), key=lambda sign: sign.name)
    here = guide_for(request.orchard, everything)
    shown = photos.confirmed(request.orchard, [sign.key for sign in everything])
    month = windows.season_month(request.today, float(request.orchard.latitude))
    usual = sorted(
        (sign for sign in here if month in sign.usual_sm),
        key=lambda sign: (sign.common or 99, sign.name),
    )
    found = [sign for sign in everything if _matches(sign, asked, part)]

    def cards(signs: Iterable[Sign]) -> list[Card]:
        return [_card(sign, shown, request.orchard) for sign in signs]

    context = {
        "asked": asked,
        "part": part,
        "searching": bool(asked or part),
        "found": cards(found) if asked or part else [],
        "now": cards(usual[:FIRST_SHOWN]),
        "also_now": cards(usual[FIRST_SHOWN:]),
        "month": explain.month_name(request.today),
        "parts": _parts(everything, part, request.orchard),
        "all": cards(everything),
        "edition": guide.load().edition,
        "look_url": reverse("first-day", args=[request.orchard.slug]),
        "words_url": reverse("glossary", args=[request.orchard.slug]),
        "rules_url": reverse("house-rules", args=[request.orchard.slug]),
        "pests_url": reverse("pests", args=[request.orchard.slug]),
    }
    return render(request, "guide/index.html", context)


def guide_for(orchard: Orchard, signs: Iterable[Sign]) -> list[Sign]:
    """Keep the signs met on the sorts of fruit tree that an orchard grows."""
    hosts = trees.hosts_grown(orchard) or {"citrus"}
    return [sign for sign in signs if any(sign.fits(host) for host in hosts)]


def _matches(sign: Sign, asked: str, part: str) -> bool:
    if part and part not in sign.parts:
        return False
    alike = (f"{other.name} {other.tell}" for other in sign.alike)
    text = " ".join(
        (sign.name, sign.scientific, sign.look_for, *sign.eppo, *alike)
    ).casefold()
    return all(word in text for word in asked.casefold().split())


def _card(sign: Sign, shown: Mapping[str, Photo], orchard: Orchard) -> Card:
    return Card(
        name=sign.name,
        url=reverse("guide-sign", args=[orchard.slug, sign.key]),
        text=explain.first_sentence(sign.look_for),
        picture=charts.sign_picture(sign, shown, orchard),
    )


def _parts(signs: list[Sign], current: str, orchard: Orchard) -> list[PartLink]:
    url = reverse("guide", args=[orchard.slug])
    links = []
    for part in Part:
        count = sum(part in sign.parts for sign in signs)
        if count:
            label = explain.part_word(part)
            link = f"{url}?part={part.value}"
            links.append(PartLink(label, part.value, link, count, part == current))
    return links


@require_safe
@door(Deed.SEE)
def words(request: OrchardRequest) -> HttpResponse:
    """List the words of the trade with their meaning, drawing and source."""
    book = guide.load()
    terms = [
        TermShown(
            term,
            [_source(book.sources[key]) for key in term.sources]
            if term.how is Verification.READ
            else [],
        )
        for term in sorted(book.terms.values(), key=lambda term: term.name)
    ]
    context = {
        "terms": terms,
        "guide_url": reverse("guide", args=[request.orchard.slug]),
    }
    return render(request, "guide/words.html", context)


@require_safe
@door(Deed.SEE)
def show(request: OrchardRequest, sign: str) -> HttpResponse:
    """Show a sign whole: how to know it, what it calls for, and who says so."""
    book = guide.load()
    found = book.signs.get(sign)
    if found is None:
        raise Http404
    orchard = request.orchard
    wanted = [found.key, *(alike.sign for alike in found.alike if alike.sign)]
    shown = photos.confirmed(orchard, wanted)
    latitude = float(orchard.latitude)
    keeps = may(request.member, Deed.KEEP_RULES)
    alike = _alike(found, shown, orchard)
    pests = _pests(found, orchard)
    rules = explain.rule_lines(found.rules, found, orchard)
    context = {
        "sign": found,
        "look_for": explain.sentences(found.look_for),
        "picture": charts.sign_picture(found, shown, orchard, size="middle"),
        "parts": explain.joined(explain.part_word(part) for part in found.parts),
        "months": explain.months_text(found.usual_sm, latitude),
        # The smallest size of what shows the sign, beside what is mistaken for it.
        "small": charts.sign_picture(found, shown, orchard),
        "alike": alike[:ALIKE_SHOWN],
        "more_alike": alike[ALIKE_SHOWN:],
        "pairs": [
            {
                "value": f"{sign}.{other.sign}",
                "label": _("Beside %(name)s") % {"name": other.name},
            }
            for other in found.alike
            if other.sign
        ],
        "rules": rules,
        "own": own_rule(found, request),
        "steps": _steps(found, request, 0),
        "rule_steps": _other_plans(found, request, rules),
        "pests": pests,
        "must_report": any(pest.must_be_reported for pest in pests),
        "sources": _sources(found),
        "trust": _trust(found.how),
        "edition": book.edition,
        "guide_url": reverse("guide", args=[orchard.slug]),
        "pests_url": reverse("pests", args=[orchard.slug]),
        "rule_url": reverse("house-rule", args=[orchard.slug, sign]) if keeps else "",
    }
    return render(request, "guide/show.html", context)


def own_rule(sign: Sign, request: OrchardRequest) -> OwnRule | None:
    """Return the house rule that holds for a sign today, told in words."""
    row = house_rules.row_holding(request.orchard, sign.key, request.today)
    rule = house_rules.rule_set_of(row) if row else None
    if row is None or rule is None:
        return None
    return OwnRule(row, explain.rule_lines(rule.rules, sign, request.orchard))


def _alike(
    sign: Sign, shown: Mapping[str, Photo], orchard: Orchard
) -> list[AlikeShown]:
    signs = guide.load().signs
    return [
        AlikeShown(
            name=alike.name,
            tell=alike.tell,
            url=reverse("guide-sign", args=[orchard.slug, alike.sign])
            if alike.sign
            else "",
            picture=charts.sign_picture(signs[alike.sign], shown, orchard)
            if alike.sign
            else None,
        )
        for alike in sign.alike
    ]


def _steps(sign: Sign, request: OrchardRequest, plan: int) -> tuple[VerdictStep, ...]:
    """Return what a plan has done, with what has to wait at this time of the year."""
    season = windows.season(request.today, float(request.orchard.latitude))
    return steps_for(sign, {"season": season}, Verdict.LEAVE, plan)


def _other_plans(
    sign: Sign, request: OrchardRequest, lines: Sequence[RuleLine]
) -> list[InsteadShown]:
    """Return the steps that a rule puts in the place of the sign's own."""
    plans = []
    for place, plan in enumerate(sign.rule_plans, start=1):
        if plan.steps == sign.steps:
            continue
        when = next(
            line.when
            for rule, line in zip(sign.rules, lines, strict=True)
            if (rule.steps or sign.steps) == plan.steps
        )
        caution = () if plan.caution == sign.caution else plan.caution
        plans.append(InsteadShown(when, _steps(sign, request, place), caution))
    return plans


def _pests(sign: Sign, orchard: Orchard) -> list[PestShown]:
    if not sign.eppo:
        return []
    statuses = house_rules.pest_status(orchard)
    unset = house_rules.unset_pests(orchard)
    pests = guide.load().pests
    return [
        PestShown(
            code=code,
            taxon=pests[code].taxon,
            status=_("not set: ask the authority")
            if code in unset
            else explain.status_word(statuses[code]),
            must_be_reported=statuses[code] != "common",
        )
        for code in sign.eppo
    ]


def _sources(sign: Sign) -> list[SourceShown]:
    return [_source(guide.load().sources[key]) for key in sign.sources]


def _source(source: Source) -> SourceShown:
    year = f" ({source.year})" if source.year else ""
    place = f" {source.place}." if source.place else ""
    return SourceShown(
        text=f"{source.author}{year}: {source.title}.{place}",
        trust=_trust(source.how),
        note=source.note,
    )


def _trust(how: Verification) -> str:
    if how is Verification.READ:
        return _("Read for this guide")
    return _("From memory, not checked yet")
