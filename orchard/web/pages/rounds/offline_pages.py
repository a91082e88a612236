"""What a phone keeps to walk a round without signal: pages and their pictures."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

from django.http import QueryDict
from django.template.loader import render_to_string
from django.urls import reverse

from orchard.records.models import Membership, Round
from orchard.science import guide, windows
from orchard.science.guide import Sign
from orchard.services import facts, photos, rounds, treatments
from orchard.services.permissions import Deed, may
from orchard.web import charts
from orchard.web.pages import inspections, tasks
from orchard.web.requests import OrchardRequest

# What one meets on a walk; the rest of the guide is kept in quiet moments.
MOST_SIGNS = 20
NO_QUESTIONS: dict[str, Any] = {"asks": ()}


def list_of(row: Round, member: Membership, *, now: datetime) -> dict[str, Any]:
    """List the addresses a round needs: its page, its trees, forms, guide, pictures."""
    orchard = row.orchard
    trees = rounds.trees_to_walk(row)
    signs = _signs(row, {tree.kind.host for tree in trees})
    pages = [reverse("round-show", args=[orchard.slug, row.pk])]
    # What is closed elsewhere: one walks by other trees as well.
    small = [reverse(name, args=[orchard.slug]) for name in ("treatments", "guide")]
    small += [reverse("guide-sign", args=[orchard.slug, sign.key]) for sign in signs]
    small.append(reverse("outbox"))
    if may(member, Deed.PLAN_TREATMENTS):
        small += [
            reverse("dry-check-new", args=[orchard.slug, each.pk])
            for each in treatments.waiting_for_dry(orchard)
        ]
    for tree in trees:
        # The form first: it is what must not be missing.
        for name in ("inspection-new", "tree-show"):
            pages.append(
                f"{reverse(name, args=[orchard.slug, tree.code])}?round={row.pk}"
            )
        # Small pages between large ones: at the end of a far line each would cost its
        # journey, here the line is busy meanwhile.
        pages += small[:1]
        del small[:1]
    pages += small
    own = photos.confirmed(orchard, [sign.key for sign in signs])
    shown = [charts.sign_picture(sign, own, orchard) for sign in signs]
    return {
        "fetched_at": now.isoformat(),
        "pages": pages,
        "pictures": [picture.src for picture in shown],
        "cards": f"{reverse('round-pages', args=[orchard.slug, row.pk])}?part=cards",
        "work": f"{reverse('round-pages', args=[orchard.slug, row.pk])}?part=work",
        "tags": reverse("tag-codes", args=[orchard.slug]),
    }


def cards_of(row: Round, *, on: date) -> dict[str, Any]:
    """Return what the forms show of each sign when it is chosen, for all trees at once.

    Trees differ in few of their steps: what is alike stands in `texts` once, and `of`
    says by tree and sign where. Only signs to be expected bring photos, the others
    drawings, which every phone has.
    """
    orchard = row.orchard
    trees = rounds.trees_to_walk(row)
    usual = _signs(row, {tree.kind.host for tree in trees})
    own = photos.confirmed(orchard, [sign.key for sign in usual])
    shown = inspections.pictures_of(orchard, own)
    places: dict[Any, int] = {}
    texts: list[str] = []
    by_tree: dict[str, dict[str, int]] = {}
    site = facts.read_site(orchard, on)
    for tree in trees:
        ground = facts.gather(tree, on=on, to_show=True, site=site)
        by_tree[tree.code] = {}
        for sign in guide.load().signs.values():
            if not sign.fits(tree.kind.host):
                continue
            card = (sign.key, inspections.plans_of(ground, sign))
            if card not in places:
                places[card] = len(texts)
                block = inspections.block_of(
                    ground, sign, NO_QUESTIONS, QueryDict(), shown
                )
                page = {"block": block, "orchard": orchard, "explained": set[str]()}
                texts.append(render_to_string("inspections/card.html", page))
            by_tree[tree.code][sign.key] = places[card]
    return {"texts": texts, "of": by_tree}


def work_of(request: OrchardRequest, row: Round) -> dict[str, str]:
    """Return the pages of the work shown on a round and of its closing, by address."""
    sheet = rounds.round_sheet(
        row, request.member, today=request.today, now=request.now
    )
    pages: dict[str, str] = {}
    for stop in sheet.stops:
        for task in stop.tasks:
            pages |= tasks.pages_from_tree(request, task)
    return pages


def _signs(row: Round, hosts: set[str]) -> list[Sign]:
    """Choose the signs to be expected at this time of the year, the commonest first."""
    month = windows.season_month(row.walk_on, float(row.orchard.latitude))
    fitting = [
        sign
        for sign in guide.load().signs.values()
        if any(sign.fits(host) for host in hosts)
    ]
    fitting.sort(
        key=lambda sign: (
            month not in sign.usual_sm,
            sign.common if sign.common is not None else 99,
            sign.key,
        )
    )
    return fitting[:MOST_SIGNS]
