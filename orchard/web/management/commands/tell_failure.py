"""Tell who runs the server that a unit failed; systemd calls it (OnFailure)."""

from __future__ import annotations

import shutil
import subprocess
from argparse import ArgumentParser
from typing import Any

from django.conf import settings
from django.core.mail import send_mail
from django.core.management.base import BaseCommand, CommandError

LINES = 80


class Command(BaseCommand):
    help = "Mail the last lines of a unit's log to OPERATOR_EMAIL."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("unit", help="the unit that failed")

    def handle(self, *args: Any, **options: Any) -> None:
        unit = options["unit"]
        if not settings.OPERATOR_EMAIL:
            raise CommandError(f"{unit} failed; OPERATOR_EMAIL names nobody to tell.")
        subject = f"{unit} failed ({settings.SITE_URL})"
        text = f"{subject}\n\n{last_lines_of(unit)}"
        send_mail(subject, text, None, [settings.OPERATOR_EMAIL])
        self.stdout.write(f"Told {settings.OPERATOR_EMAIL} that {unit} failed.")


def last_lines_of(unit: str) -> str:
    """Return the end of a unit's log, with its traceback, where there is a journal."""
    journal = shutil.which("journalctl")
    if journal is None:
        return "There is no journal here."
    command = [journal, "--unit", unit, "--lines", str(LINES), "--no-pager"]
    ran = subprocess.run(command, check=False, capture_output=True, text=True)  # noqa: S603
    return ran.stdout or ran.stderr
