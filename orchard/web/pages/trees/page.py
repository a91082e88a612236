"""A tree's page: who it is, what is open, how it has been, all of its life."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from urllib.parse import urlencode

from django.http import HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.utils.cache import patch_vary_headers
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from orchard.records.models import Finding, Membership, Task, Tree
from orchard.science import guide
from orchard.services import permissions, rounds, tasks, timeline
from orchard.services.permissions import Deed, may
from orchard.services.tasks import Circumstances
from orchard.web import charts, explain
from orchard.web.doorkeeper import door
from orchard.web.pages.inspections import round_of
from orchard.web.pages.timeline import Link, Links, shot_shown, timeline_of
from orchard.web.pages.trees.wording import facts_of, trend_text
from orchard.web.requests import OrchardRequest

VERDICT_OF = {
    Task.Kind.ACT: "act",
    Task.Kind.LOOK: "watch",
    Task.Kind.REPORT: "report",
}


# Tasks that show at once, the most pressing first; the others are folded.
TASKS_SHOWN = 3


@dataclass(frozen=True, slots=True)
class StandingVerdict:
    """A verdict whose work is still open."""

    verdict: str
    name: str
    url: str
    seen_on: date
    look_url: str


@dataclass(frozen=True, slots=True)
class OpenTask:
    """Something to be done at the tree."""

    task: Task
    url: str
    verdict: str
    is_begun: bool
    waits: tuple[str, ...]


@require_safe
@door(Deed.SEE)
def tree_page(request: OrchardRequest, code: str) -> HttpResponse:
    """Show a tree: who it is, what is open, its condition, its life."""
    tree = permissions.tree_for(request.member, code)
    past = timeline.past_scores(tree)
    scores = timeline.scores(tree)
    now = tasks.circumstances_of(tree, today=request.today, now=request.now)
    open_tasks = _tasks(tree, request, now)
    growing = tree.state == Tree.State.GROWING
    sees_private = may(request.member, Deed.SEE_PRIVATE)
    links = Links(request.orchard)
    words = {step: explain.condition_word(step) for step in range(1, 6)}
    shot = timeline.best_photo(tree, past)
    begun = [task for task in open_tasks if task.is_begun]
    context = timeline_of(request, tree, past, links) | {
        "tree": tree,
        "best_photo": shot_shown(shot, links) if shot else None,
        "standing": _standing(open_tasks, links),
        "spot_url": f"{links.to('block-show', tree.spot.block.code)}"
        f"?spot={tree.spot_id}#spot-{tree.spot_id}",
        "facts": facts_of(tree, today=request.today),
        "believed": tree.believed,
        "holds": now.holds.get(tree.pk, ()),
        "case_links": [
            _case_link(case.pk, links) for case in past.open_cases if sees_private
        ],
        "tasks": begun[:TASKS_SHOWN],
        "more_tasks": begun[TASKS_SHOWN:],
        "later": [task for task in open_tasks if not task.is_begun],
        "picture": charts.condition_picture(scores),
        "condition": scores[-1].condition if scores else None,
        "condition_word": words[scores[-1].condition] if scores else "",
        "trend": trend_text(timeline.condition_trend(scores)),
        "trend_key": explain.anchor_of("trend.mann_kendall"),
        "scores": [
            (
                date_format(score.on, "j M Y"),
                f"{score.condition} {words[score.condition]}",
                links.to("inspection-show", score.inspection),
            )
            for score in reversed(scores)
        ],
        "inspects": growing and may(request.member, Deed.INSPECT),
        "round": rounds.trees_asked_for(request.orchard, round_of(request.GET)),
        "keeping": _keeping(tree, request.member),
        "after": past.kin.after,
        "after_url": links.to("tree-show", past.kin.after) if past.kin.after else "",
        "trees_url": reverse("trees", args=[request.orchard.slug]),
    }  # fmt: skip
    return render(request, "trees/show.html", context)


@require_safe
@door(Deed.SEE)
def timeline_part(request: OrchardRequest, code: str) -> HttpResponse:
    """Answer with the timeline alone; whoever comes without a script gets the page."""
    tree = permissions.tree_for(request.member, code)
    if not request.htmx:
        asked = f"?{request.GET.urlencode()}" if request.GET else ""
        url = reverse("tree-show", args=[request.orchard.slug, tree.code])
        return HttpResponseRedirect(f"{url}{asked}#timeline")
    past = timeline.past_scores(tree)
    context = timeline_of(request, tree, past, Links(request.orchard))
    response = render(request, "timeline/_timeline.html", context)
    patch_vary_headers(response, ["HX-Request"])
    return response


def _case_link(number: int, links: Links) -> Link:
    return Link(
        _("Case %(number)d") % {"number": number}, links.to("case-show", number)
    )


def _tasks(tree: Tree, request: OrchardRequest, now: Circumstances) -> list[OpenTask]:
    links = Links(request.orchard)
    return [
        OpenTask(
            task=task,
            url=links.to("task-show", task.pk),
            verdict=VERDICT_OF.get(Task.Kind(task.kind), ""),
            is_begun=task.opens_on <= request.today,
            waits=tasks.why_it_waits(task, now),
        )
        for task in timeline.open_tasks(tree, request.member)
    ]


def _standing(open_tasks: Iterable[OpenTask], links: Links) -> list[StandingVerdict]:
    """Return the newest verdict of each sign that still has open work here."""
    book = guide.load()
    newest: dict[str, Finding] = {}
    for open_task in open_tasks:
        finding = open_task.task.finding
        if finding is None:
            continue
        if finding.sign not in newest or newest[finding.sign].pk < finding.pk:
            newest[finding.sign] = finding
    return [
        StandingVerdict(
            verdict=finding.standing_verdict.value,
            name=book.name_of(sign),
            url=links.to("guide-sign", sign) if sign in book.signs else "",
            seen_on=finding.inspection.seen_on,
            look_url=links.to("inspection-show", finding.inspection_id),
        )
        for sign, finding in sorted(
            newest.items(),
            key=lambda pair: (-pair[1].standing_verdict.rank, -pair[1].pk),
        )
    ]


def _keeping(tree: Tree, member: Membership) -> list[Link]:
    """Return the pages on which those who keep the trees change this one."""
    slug, removed = tree.orchard.slug, tree.state == Tree.State.REMOVED
    own = [slug, tree.code]
    rows: list[tuple[Deed, bool, str, str]] = [
        (Deed.WORK, not removed, _("Note an event"), "event-new"),
        (Deed.WORK, not removed, _("Note a growth stage"), "stage-new"),
        (Deed.WORK, not removed, _("Its water and its crown"), "tree-water"),
        (Deed.WORK, not removed, _("Its feeding"), "tree-feeding"),
        (Deed.WORK, not removed, _("The sun it gets"), "spot-sun"),
        (Deed.KEEP_TREES, True, _("Correct its details"), "tree-details"),
        (Deed.KEEP_TREES, not removed, _("Move it"), "tree-spot"),
        (Deed.KEEP_TREES, not removed, _("It died, or its cultivar did"), "tree-state"),
        (Deed.KEEP_TREES, not removed, _("Remove it"), "tree-removal"),
        (Deed.KEEP_TREES, removed, _("Plant its replacement"), "tree-replacement"),
        (Deed.KEEP_TREES, not removed, _("Its tag"), "tree-tag"),
        (Deed.WRITE_STORIES, True, _("Its story for visitors"), "tree-story"),
    ]
    links = [
        Link(
            label,
            reverse(name, args=[slug, tree.spot_id] if name == "spot-sun" else own),
        )
        for deed, fits, label, name in rows
        if fits and may(member, deed)
    ]
    query = urlencode({"tree": tree.code})
    if may(member, Deed.WORK):
        url = reverse("harvests", args=own[:1])
        links.append(Link(_("Its harvests"), f"{url}?{query}"))
    if tree.state == Tree.State.GROWING and may(member, Deed.WORK):
        url = reverse("harvest-new", args=own[:1])
        links.insert(0, Link(_("Record harvest"), f"{url}?{query}"))
    if tree.state == Tree.State.GROWING and may(member, Deed.PLAN_WORK):
        links.insert(
            0, Link(_("Add task"), f"{reverse('task-new', args=own[:1])}?{query}")
        )
    return links
