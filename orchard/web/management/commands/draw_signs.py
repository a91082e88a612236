"""Draw every sign of the guide into the files that pages show."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand

from orchard.demonstration import sign_files

FOLDER = Path(settings.BASE_DIR) / "static" / "img" / "signs"


class Command(BaseCommand):
    help = "Write the drawing of every sign, from the code that draws them."
    requires_system_checks = ()

    def handle(self, *args: Any, **options: Any) -> None:
        files = sign_files()
        for key, text in files.items():
            (FOLDER / f"{key}.svg").write_text(text, encoding="utf-8")
        self.stdout.write(f"Drawn: {len(files)} signs in {FOLDER}")
