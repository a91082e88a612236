"""Deeds that a phone brings: their forms, read as their own pages read them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime
from functools import partial
from typing import Any
from zoneinfo import ZoneInfo

from django.forms import Form
from django.http import QueryDict
from django.urls import reverse
from django.utils.translation import gettext as _

from orchard.records.models import Closure
from orchard.services import inbox, permissions
from orchard.services.errors import NotThere, Refused
from orchard.services.inbox import Admission, EntryKind, ParsedDeed
from orchard.web.pages.tasks import DoneForm, SkipForm, undo_of_closing, way_back


@dataclass(frozen=True, slots=True)
class BroughtDeed:
    """A deed ready to be carried out, what is said of it, and where its page is."""

    carry_out: ParsedDeed
    text: str
    url: str
    undo_url: str = ""


def read_deed(admission: Admission, now: datetime) -> BroughtDeed:
    """Read the form of an entry as the deed that it brings.

    Raises:
        Refused (not_there, may_not): what it is about is not there for this person.
        Refused (bad_form): the form cannot be what it is; the message tells all faults.
    """
    today = now.astimezone(ZoneInfo(admission.orchard.time_zone)).date()
    post = QueryDict(mutable=True)
    for name, value in admission.entry.form:
        post.appendlist(name, value)
    try:
        return READERS[admission.entry.kind](admission, post, today)
    except NotThere:
        raise Refused(
            _("What this is about is not in the book, or not for you to see."),
            code="not_there",
        ) from None


def _closure(admission: Admission, post: QueryDict, today: date) -> BroughtDeed:
    task = permissions.task_for(admission.member, admission.entry.task or 0)
    skips = post.get("how") == Closure.How.SKIPPED
    form = (
        SkipForm.for_task(post)
        if skips
        else DoneForm.for_task(task, today=today, data=post)
    )
    ending = _cleaned(form)
    # It comes as an entry of its own.
    ending.pop("photo", None)
    if skips:
        ending["how"] = Closure.How.SKIPPED
    back = post.get("back", "")
    return BroughtDeed(
        partial(inbox.close_task, task, today=today, **ending),
        _("%(title)s, %(place)s: closed.")
        % {
            "title": task.title,
            "place": task.tree.code if task.tree else admission.orchard.name,
        },
        way_back(task, back),
        undo_of_closing(task, back),
    )


def _taking(admission: Admission, post: QueryDict, today: date) -> BroughtDeed:
    task = permissions.task_for(admission.member, admission.entry.task or 0)
    gives = post.get("give") == "back"
    text = _("%(title)s is free again.") if gives else _("You have it now: %(title)s.")
    url = reverse("task-taking", args=[admission.orchard.slug, task.pk])
    return BroughtDeed(
        partial(inbox.take_task, task, gives=gives),
        text % {"title": task.title},
        way_back(task, post.get("back", "")),
        url if gives else f"{url}?give=back",
    )


def _cleaned(form: Form) -> dict[str, Any]:
    if not form.is_valid():
        faults = [str(fault) for faults in form.errors.values() for fault in faults]
        raise Refused(" ".join(faults), code="bad_form")
    return dict(form.cleaned_data)


Reader = Callable[[Admission, QueryDict, date], BroughtDeed]
READERS: dict[EntryKind, Reader] = {
    EntryKind.CLOSURE: _closure,
    EntryKind.TAKING: _taking,
}
