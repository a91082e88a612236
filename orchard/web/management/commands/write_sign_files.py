"""Write the files by which a phone finds signs by word and asks about them."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand

from orchard.web.sign_files import (
    SIGN_TEXTS_FILE,
    SIGN_WORDS_FILE,
    sign_texts_text,
    sign_words_text,
)


class Command(BaseCommand):
    help = "Write the files a phone needs to find signs by word and to ask about them."
    requires_system_checks = ()

    def handle(self, *args: Any, **options: Any) -> None:
        files = {
            SIGN_WORDS_FILE: sign_words_text(),
            SIGN_TEXTS_FILE: sign_texts_text(),
        }
        for file, text in files.items():
            file.write_text(text, encoding="utf-8")
            self.stdout.write(f"Written: {file}")
