"""The inbox: JSON and a file in, an answer out. Described in DEVELOPERS.md."""

from __future__ import annotations

import logging
from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django.conf import settings
from django.contrib import messages
from django.db import DatabaseError
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.middleware.csrf import get_token
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from orchard.records.models import User
from orchard.services import inbox
from orchard.services.errors import Refused
from orchard.services.inbox import Admission, Answer, Entry, EntryKind, Outcome
from orchard.services.outages import Outage, outage_in
from orchard.web import answers
from orchard.web.pages.inbox import deeds, entries
from orchard.web.pages.inbox.deeds import BroughtDeed
from orchard.web.pages.inspections import saved_text

STATUS = {
    Answer.KEPT: 200,
    Answer.ALREADY: 200,
    Answer.WAIT: 202,
    Answer.REFUSED: 422,
}
# The page of each kind of entry, and whether it is one of the very row.
PAGES = {
    EntryKind.INSPECTION: ("inspection-show", True),
    EntryKind.CLOSURE: ("task-show", True),
    EntryKind.TAKING: ("task-show", True),
    EntryKind.EVENT: ("home", False),
    EntryKind.STAGE: ("stages", False),
    EntryKind.RIPENESS_TEST: ("outlook-ripeness", False),
    EntryKind.WATERING: ("outlook-water", False),
    EntryKind.WITHDRAWAL: ("inspection-show", True),
    EntryKind.SECOND_LOOK: ("second-looks", False),
    EntryKind.TREATMENT: ("treatment-show", True),
    EntryKind.WET_SPELL: ("treatments", False),
    EntryKind.HARVEST: ("harvest-show", True),
    EntryKind.HARVEST_SHARE: ("harvests", False),
    EntryKind.DRY_CHECK: ("treatment-show", True),
    EntryKind.PRODUCT: ("product-show", True),
    EntryKind.PRACTICE: ("practice", False),
}
# So long somebody waits for the answer to what they have just done.
STILL_WAITS = timedelta(seconds=20)
# Seconds that a phone leaves the server alone.
PAUSE = 30
log = logging.getLogger(__name__)


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def inbox_page(request: HttpRequest) -> HttpResponse:
    if request.method != "POST":
        # The phone sends this token with its entries.
        get_token(request)
        return JsonResponse(greeting(request))
    if not request.user.is_authenticated:
        outcome = Outcome(
            Answer.WAIT, _("Sign in again, and sending goes on by itself.")
        )
        return answer("", outcome, status=401)
    file = request.FILES.get("file")
    if file is not None and (file.size or 0) > settings.PHOTO_MAX_BYTES:
        outcome = Outcome(Answer.REFUSED, _("This photo is too large."))
        return answer("", outcome, status=413)
    try:
        entry = entries.read(request.POST.get("entry", ""), file)
    except Refused as refusal:
        return answer("", Outcome(Answer.REFUSED, str(refusal)), status=400)
    try:
        outcome, deed = receive(entry, request.user, timezone.now())
    except (DatabaseError, OSError) as fault:
        outage = outage_in(fault)
        if outage is None:
            raise
        log.exception("An entry has to wait.")
        return wait_for_server(str(entry.key), outage)
    url = url_of(outcome, entry.orchard)
    if deed is not None and outcome.answer is Answer.KEPT:
        url = deed.url
    tell_on_page(request, entry, outcome, deed)
    status = 429 if outcome.retry_after else STATUS[outcome.answer]
    return answer(str(entry.key), outcome, status=status, url=url)


def receive(
    entry: Entry, by: User, now: datetime
) -> tuple[Outcome, BroughtDeed | None]:
    """Ask whether an entry may come in, read its form, and hand it over.

    A deed is returned with what became of it, for its page and its undo.
    """
    admission = inbox.admit(entry, by=by, now=now)
    if isinstance(admission, Outcome):
        return admission, None
    # A form has its moments by the orchard's clock, as on its own page.
    with timezone.override(ZoneInfo(admission.orchard.time_zone)):
        return _receive(admission, now)


def _receive(admission: Admission, now: datetime) -> tuple[Outcome, BroughtDeed | None]:
    entry = admission.entry
    try:
        if entry.kind is EntryKind.PHOTO:
            return inbox.receive(admission, None, now=now), None
        if entry.kind is EntryKind.INSPECTION:
            submission = entries.submission(admission, now)
            return inbox.receive(admission, submission, now=now), None
        deed = deeds.read_deed(admission, now)
    except Refused as refusal:
        return inbox.refuse(entry, str(refusal), by=admission.by), None
    return inbox.receive(admission, deed.carry_out, now=now), deed


def tell_on_page(
    request: HttpRequest, entry: Entry, outcome: Outcome, deed: BroughtDeed | None
) -> None:
    """Say on the next page what was done, with its undo, to who still waits for it."""
    now = timezone.now()
    if outcome.answer is not Answer.KEPT or outcome.notices:
        return
    if now - entry.made_at - entry.offset(now) >= STILL_WAITS:
        return
    number = outcome.subject_id
    if deed is not None:
        text = deed.text_of(number) if deed.text_of and number else deed.text
        if not text:
            return
        text = answers.with_opened(text, outcome.opened)
        messages.success(request, text, extra_tags=deed.undo_url)
    elif entry.kind is EntryKind.INSPECTION and ("all_well", "1") not in entry.form:
        # Of a clean tree the phone itself says it, with the undo.
        messages.success(request, saved_text(entry.tree))


def wait_for_server(key: str, outage: Outage) -> HttpResponse:
    """Tell the phone to keep its entry, why, and how long it waits."""
    reasons = {
        Outage.FULL: _("The server's disk is full. Tell your site coordinator."),
        Outage.UNWRITABLE: _("The server can't save now. Tell your site coordinator."),
        Outage.BUSY: _("The server is busy. Your phone tries again in a minute."),
        Outage.AWAY: _(
            "The server can't save now. Your phone tries again in a minute."
        ),
    }
    waits = Outcome(Answer.WAIT, reasons[outage], retry_after=PAUSE)
    response = answer(key, waits, status=503)
    response["Retry-After"] = str(PAUSE)
    return response


def greeting(request: HttpRequest) -> dict[str, Any]:
    """Say who is signed in here and what time it is."""
    user = request.user
    return {
        "version": entries.VERSION,
        "person": user.pk if user.is_authenticated else None,
        "person_name": user.name if user.is_authenticated else "",
        "server_time": timezone.now().isoformat(),
    }


def answer(key: str, outcome: Outcome, *, status: int, url: str = "") -> JsonResponse:
    """Answer the phone in the form that DEVELOPERS.md promises."""
    return JsonResponse(
        {
            "version": entries.VERSION,
            "key": key,
            "answer": outcome.answer,
            "reason": outcome.reason,
            "url": url,
            "retry_after": outcome.retry_after,
            "server_time": timezone.now().isoformat(),
            "notices": list(outcome.notices),
        },
        status=status,
    )


def url_of(outcome: Outcome, slug: str) -> str:
    """Return the page of what an entry became."""
    if outcome.subject_id is None or outcome.kind is None:
        return ""
    if outcome.kind is EntryKind.PHOTO:
        name = inbox.photo_name(outcome.subject_id)
        return reverse("photo-show", args=[slug, name])
    page, of_the_row = PAGES[outcome.kind]
    return reverse(page, args=[slug, outcome.subject_id] if of_the_row else [slug])
