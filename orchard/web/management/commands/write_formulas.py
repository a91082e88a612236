"""Write the file of formulas that the page "How it is computed" reads."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand

from orchard.web.explain import FORMULAS_FILE, formulas_text


class Command(BaseCommand):
    help = "Write the file of formulas, sources and checks."
    requires_system_checks = ()

    def handle(self, *args: Any, **options: Any) -> None:
        FORMULAS_FILE.write_text(formulas_text(), encoding="utf-8")
        self.stdout.write(f"Written: {FORMULAS_FILE}")
