"""Back up the book; `deploy/backup` calls it with the server's settings."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from orchard.services import backups
from orchard.services.errors import Refused


class Command(BaseCommand):
    help = "Copy database, photos and secret key into a folder of their own."
    # A database that is away is told by the backup itself.
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("folder", type=Path, help="where the backups lie")
        parser.add_argument(
            "--keep", type=int, default=14, help="how many backups stay; 0: all of them"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        stamp = f"{timezone.now():%Y-%m-%dT%H%M%SZ}"
        folder: Path = options["folder"]
        try:
            made = backups.back_up(folder, stamp=stamp, most=options["keep"])
        except Refused as refusal:
            raise CommandError(str(refusal)) from None
        rows = sum(table.rows for table in made.tables.values())
        self.stdout.write(
            f"Backed up to {folder / stamp}: {rows} rows in {len(made.tables)} tables, "
            f"{len(made.photos)} photo files, and the secret key. Keep it where nobody "
            "else can read it."
        )
