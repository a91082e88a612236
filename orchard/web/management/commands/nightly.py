"""Add what is new in the guide, cancel outgrown tasks, open the next ones.

The sun of a new year, or of a corrected place, is worked out for each spot. Old photo
files that no record names are set aside; photos that were never measured are measured,
some each night.

Safe to run twice, or not at all for a week.
"""

from __future__ import annotations

import logging
from argparse import ArgumentParser
from collections.abc import Callable
from datetime import timedelta
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from orchard.records.days import day_in
from orchard.records.models import Orchard
from orchard.services import care_plan, guide_sync, orchards, photos, sun_hours
from orchard.services.errors import Refused

# Long enough to notice a backup that was restored without its last photos.
ABANDONED_AFTER = timedelta(days=30)
# Some minutes of work at most.
MEASURED_A_NIGHT = 2_000
logger = logging.getLogger(__name__)


class Command(BaseCommand):
    help = "Bring every orchard, or one, up to date and open its next tasks."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--orchard", help="short name of one orchard", default="")

    def handle(self, *args: Any, **options: Any) -> None:
        chosen = orchards.all_orchards()
        if options["orchard"]:
            chosen = [row for row in chosen if row.slug == options["orchard"]]
            if not chosen:
                raise CommandError(f"There is no orchard {options['orchard']!r}.")
        failed = [orchard.slug for orchard in chosen if not self.open_in(orchard)]
        if not options["orchard"]:
            steps = {
                "photo files": self.set_aside_abandoned,
                "photo measures": self.measure_photos,
            }
            failed += [name for name, step in steps.items() if not _done(name, step)]
        if failed:
            raise CommandError(f"Failed for: {', '.join(failed)}.")

    def set_aside_abandoned(self) -> None:
        """Set aside photo files that no record names; say how many."""
        before = timezone.now() - ABANDONED_AFTER
        if count := photos.set_aside_abandoned(before=before):
            self.stdout.write(
                f"Photo files that no record names, moved to photos/aside: {count}"
            )

    def measure_photos(self) -> None:
        """Measure some photos that were never measured; say how many."""
        if count := photos.measure_old(most=MEASURED_A_NIGHT):
            self.stdout.write(f"Photos measured: {count}")

    def open_in(self, orchard: Orchard) -> bool:
        """Open an orchard's tasks and say which; return whether it could.

        A fault of one orchard goes into the log and must not stop the others.
        """
        now = timezone.now()
        today = day_in(now, orchard.time_zone)
        try:
            guide_sync.bring_up_to_date(orchard, now)
            sun_hours.keep_years(orchard, year=today.year)
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


def _done(name: str, step: Callable[[], None]) -> bool:
    """Take a step of the night; return whether it could.

    A fault goes into the log and must not stop the other steps.
    """
    try:
        step()
    except Exception:
        logger.exception("The nightly work on %s failed.", name)
        return False
    return True
