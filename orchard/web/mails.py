"""Mails: plain text from a template whose first line is the subject."""

from __future__ import annotations

import logging
from collections.abc import Mapping
from smtplib import SMTPException
from typing import Any

from django.conf import settings
from django.core.mail import send_mail
from django.template.loader import render_to_string
from django.urls import reverse

log = logging.getLogger(__name__)


def address_of(name: str, *args: Any) -> str:
    """Return the whole address of a page, for mails and for paper.

    It is built on the setting, never on what the request claims its host to be.
    """
    return settings.SITE_URL + reverse(name, args=args)


def can_send() -> bool:
    """Tell whether mails go out; without a mail server they only stand in the log."""
    return "console" not in settings.EMAIL_BACKEND


def send(template: str, *, to: str, context: Mapping[str, Any]) -> bool:
    """Send a mail and tell whether the mail server took it."""
    subject, _, text = render_to_string(template, dict(context)).partition("\n")
    try:
        send_mail(subject.strip(), text.strip() + "\n", None, [to])
    except (OSError, SMTPException):
        log.exception("The mail server did not take %s", template)
        return False
    return True
