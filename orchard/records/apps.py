from __future__ import annotations

from django.apps import AppConfig
from django.core.checks import Tags, register

from orchard.records.begun_early import check_begun_early


class RecordsConfig(AppConfig):
    name = "orchard.records"
    label = "records"
    verbose_name = "Records"

    def ready(self) -> None:
        register(check_begun_early, Tags.database)
