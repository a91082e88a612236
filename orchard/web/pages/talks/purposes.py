"""Photos by purpose: one press makes the slides, or says which photo is missing."""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods

from orchard.records.models import TalkSet
from orchard.services import permissions, talks
from orchard.services.errors import MayNot, NotThere, Refused
from orchard.services.permissions import Deed
from orchard.services.talks import Proposal
from orchard.web import answers
from orchard.web.doorkeeper import door
from orchard.web.pages.talks.views import READ_AND_SEND, undo_url_of, url_of
from orchard.web.requests import OrchardRequest


def _number(text: str) -> int:
    """Read a number of the address or a form.

    Raises:
        NotThere: it is none.
    """
    if not (text.isascii() and text.isdecimal() and len(text) < 16):
        raise NotThere()
    return int(text)


def _text(request: OrchardRequest, name: str) -> str:
    return request.POST.get(name, "").replace("\0", "").strip()


def _years(request: OrchardRequest) -> Proposal:
    tree = permissions.tree_typed(request.member, _text(request, "tree"))
    return talks.through_the_years(tree)


def _task(request: OrchardRequest) -> Proposal:
    number = _number(_text(request, "task"))
    return talks.before_and_after(permissions.task_for(request.member, number))


def _sign(request: OrchardRequest) -> Proposal:
    return talks.from_tree_to_close_up(request.orchard, _text(request, "sign"))


def _alike(request: OrchardRequest) -> Proposal:
    sign, _dot, other = _text(request, "pair").partition(".")
    return talks.look_alikes(request.orchard, sign, other)


def _verdicts(request: OrchardRequest) -> Proposal:
    return talks.act_beside_leave(request.orchard, _text(request, "sign"))


def _job(request: OrchardRequest) -> Proposal:
    return talks.steps_of_a_job(request.orchard, _text(request, "job"))


PURPOSES: dict[str, Callable[[OrchardRequest], Proposal]] = {
    "years": _years,
    "task": _task,
    "sign": _sign,
    "alike": _alike,
    "verdicts": _verdicts,
    "job": _job,
}


@require_http_methods(READ_AND_SEND)
@door(Deed.KEEP_TALKS)
def by_purpose(request: OrchardRequest) -> HttpResponse:
    """Make a set by a purpose, or add its slides to one."""
    talk_set = _set_asked_for(request)
    refusal = None
    if request.method == "POST":
        try:
            return _made(request, talk_set)
        except (MayNot, NotThere):
            raise
        except Refused as fault:
            refusal = fault
    context = {
        "talk_set": talk_set,
        "material": talks.material(request.orchard),
        "refusal": refusal,
        "typed_tree": _text(request, "tree"),
        "today": request.today,
    }
    if refusal:
        return answers.refused_page(request, "talks/purposes.html", context)
    return render(request, "talks/purposes.html", context)


def _set_asked_for(request: OrchardRequest) -> TalkSet | None:
    asked = request.GET.get("set", "")
    if not asked:
        return None
    return permissions.talk_set_for(request.member, _number(asked))


def _made(request: OrchardRequest, talk_set: TalkSet | None) -> HttpResponse:
    purpose = PURPOSES.get(_text(request, "purpose"))
    if purpose is None:
        raise NotThere()
    proposal = purpose(request)
    if talk_set is None:
        made = talks.start(
            request.orchard,
            title=proposal.title,
            slides=proposal.slides,
            by=request.user,
            now=request.now,
        )
        text = _("Talk set made. Change it as you like.")
        return answers.done(request, text, to=url_of(made))
    talks.add(talk_set, proposal.slides, by=request.user, now=request.now)
    count = len(proposal.slides)
    text = ngettext("%(count)d slide added.", "%(count)d slides added.", count)
    return answers.done(
        request,
        text % {"count": count},
        to=url_of(talk_set),
        undo_url=undo_url_of(talk_set),
    )
