"""Check a guide folder, and list everything that is wrong with it."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from orchard.science.guide import GuideError, load


class Command(BaseCommand):
    help = "Check the guide and list every fault with its file, line, row and field."
    requires_system_checks = ()

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "folder",
            nargs="?",
            type=Path,
            help="folder with the files of a guide; default: the one in use",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        folder: Path | None = options["folder"]
        if folder is not None and not folder.is_dir():
            raise CommandError(f"{folder} isn't a folder.")
        try:
            guide = load(folder)
        except GuideError as refused:
            for fault in refused.faults:
                self.stdout.write(str(fault))
            count = len(refused.faults)
            faults = "1 fault" if count == 1 else f"{count} faults"
            raise CommandError(f"{faults} in the guide.") from None
        kinds = len(guide.cultivars) + len(guide.rootstocks)
        self.stdout.write(
            f"No fault in edition {guide.edition}: {len(guide.signs)} signs, "
            f"{len(guide.jobs)} jobs, {kinds} kinds, {len(guide.figures)} figures."
        )
