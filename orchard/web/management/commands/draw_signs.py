"""Draw the signs and words of the guide into the files that pages show."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand

from orchard.demonstration import sign_files, word_files

FOLDER = Path(settings.BASE_DIR) / "static" / "img"


class Command(BaseCommand):
    help = "Draw every sign and word of the guide again and save the files."
    requires_system_checks = ()

    def handle(self, *args: Any, **options: Any) -> None:
        for folder, files in {"signs": sign_files(), "words": word_files()}.items():
            for key, text in files.items():
                (FOLDER / folder / f"{key}.svg").write_text(text, encoding="utf-8")
            self.stdout.write(f"Drawn: {len(files)} {folder} in {FOLDER / folder}")
