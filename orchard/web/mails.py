"""Mails: plain text from a template whose first line is the subject.

No page waits for a mail server: mails are handed to a few threads beside the requests,
and a server that is slow or away costs the mail, never the page.
"""

from __future__ import annotations

import logging
from collections.abc import Mapping
from concurrent.futures import Executor, Future, ThreadPoolExecutor
from enum import StrEnum
from threading import BoundedSemaphore
from typing import Any

from django.conf import settings
from django.core.mail import send_mail
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils import translation

# So many mails may be under way in a process; more would wait for minutes.
MOST_UNDER_WAY = 20
# Seconds that a page waits to be able to say what became of the only mail.
PATIENCE = 1.0
log = logging.getLogger(__name__)
# Their threads begin with the first mail, in the process that sends it.
senders: Executor = ThreadPoolExecutor(max_workers=2, thread_name_prefix="mail")
places = BoundedSemaphore(MOST_UNDER_WAY)


class Delivery(StrEnum):
    """What is known of a mail when the page is made."""

    TAKEN = "taken"
    UNDER_WAY = "under_way"
    NOT_SENT = "not_sent"


def address_of(name: str, *args: Any) -> str:
    """Return the whole address of a page, for mails and for paper.

    It is built on the setting, never on what the request claims its host to be.
    """
    return settings.SITE_URL + reverse(name, args=args)


def can_send() -> bool:
    """Tell whether mails go out; without a mail server they only stand in the log."""
    return "console" not in settings.EMAIL_BACKEND


def send(template: str, *, to: str, context: Mapping[str, Any]) -> Delivery:
    """Send a mail, and tell what is known of it after a moment.

    Call it after the transaction: a mail cannot be taken back. What the template asks
    for must be loaded, since another thread writes the mail.
    """
    sending = hand_over(template, to=to, context=context)
    if sending is None:
        return Delivery.NOT_SENT
    try:
        return Delivery.TAKEN if sending.result(PATIENCE) else Delivery.NOT_SENT
    except TimeoutError:
        return Delivery.UNDER_WAY


def hand_over(
    template: str, *, to: str, context: Mapping[str, Any]
) -> Future[bool] | None:
    """Hand a mail to those who send it, and wait for nothing; None if they have enough.

    Its result tells whether the mail server took it.
    """
    if not places.acquire(blocking=False):
        log.error("Too many mails wait for the mail server; not sent: %s", template)
        return None
    return senders.submit(_write_and_send, template, to, dict(context))


def _write_and_send(template: str, to: str, context: dict[str, Any]) -> bool:
    try:
        with translation.override(settings.LANGUAGE_CODE):
            subject, _, text = render_to_string(template, context).partition("\n")
        send_mail(" ".join(subject.split()), text.strip() + "\n", None, [to])
    except Exception:  # Whatever is wrong with a mail must not break the page.
        log.exception("The mail server did not take %s", template)
        return False
    finally:
        places.release()
    return True
