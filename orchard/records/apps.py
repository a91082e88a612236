from __future__ import annotations

from django.apps import AppConfig


class RecordsConfig(AppConfig):
    name = "orchard.records"
    label = "records"
    verbose_name = "Records"
