"""Restore a backup; `deploy/restore` calls it with the server's settings."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from orchard.services import backups
from orchard.services.errors import Refused


class Command(BaseCommand):
    help = "Restore a backup into an empty place, and compare the two."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("source", type=Path, help="a backup: FOLDER/STAMP")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            restored = backups.restore(options["source"])
        except Refused as refusal:
            raise CommandError(str(refusal)) from None
        rows = sum(table.rows for table in restored.tables.values())
        self.stdout.write(
            f"Restored and compared: {rows} rows in {len(restored.tables)} tables, "
            f"{len(restored.photos)} photo files."
        )
