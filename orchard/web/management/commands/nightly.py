"""Take in what the guide has gained, let outgrown care fall away, open what is next.

Files of photos that never came into the book are set aside when they are old.

Safe to run twice, or not at all for a week.
"""

from __future__ import annotations

import logging
from argparse import ArgumentParser
from datetime import timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from orchard.records.models import Orchard
from orchard.services import care_plan, guide_sync, orchards, photos
from orchard.services.errors import Refused

# Long enough to notice a backup that was restored without its last photos.
ABANDONED_AFTER = timedelta(days=30)
logger = logging.getLogger(__name__)


class Command(BaseCommand):
    help = "Open the care plan's next tasks in every orchard, or in one."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--orchard", help="short name of one orchard", default="")

    def handle(self, *args: Any, **options: Any) -> None:
        chosen = orchards.all_orchards()
        if options["orchard"]:
            chosen = [row for row in chosen if row.slug == options["orchard"]]
            if not chosen:
                raise CommandError(f"There is no orchard {options['orchard']!r}.")
        failed = [orchard.slug for orchard in chosen if not self.open_in(orchard)]
        try:
            if not options["orchard"]:
                self.set_aside_abandoned()
        finally:
            if failed:
                raise CommandError(f"Not done for: {', '.join(failed)}.")

    def set_aside_abandoned(self) -> None:
        """Set aside files of photos that never came into the book; say how many."""
        before = timezone.now() - ABANDONED_AFTER
        if count := photos.set_aside_abandoned(before=before):
            self.stdout.write(
                f"Photos not in the book, files set aside in photos/aside: {count}"
            )

    def open_in(self, orchard: Orchard) -> bool:
        """Open an orchard's tasks and say which; return whether it could.

        A fault of one orchard goes into the log and must not stop the others.
        """
        now = timezone.now()
        today = now.astimezone(ZoneInfo(orchard.time_zone)).date()
        try:
            guide_sync.bring_up_to_date(orchard, now)
            care_plan.cancel_outgrown(orchard, now=now, today=today)
            opened = care_plan.open_next(orchard, now=now, today=today)
        except Refused as refusal:
            self.stderr.write(f"{orchard.slug}: {refusal}")
            return False
        except Exception:
            logger.exception("The nightly work of %s failed.", orchard.slug)
            return False
        titles: dict[str, int] = {}
        for task in opened:
            titles[task.title] = titles.get(task.title, 0) + 1
        listed = ", ".join(f"{title} ({count})" for title, count in titles.items())
        line = f"{orchard.slug}, {today}: {len(opened)} opened"
        self.stdout.write(f"{line}: {listed}" if listed else line)
        return True
