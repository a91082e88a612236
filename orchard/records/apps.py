from __future__ import annotations

from typing import Any

from django.apps import AppConfig
from django.conf import settings
from django.core.checks import Tags, register
from django.db.backends.signals import connection_created

from orchard.records.begun_early import check_begun_early


def keep_statements(connection: Any, **_signal: Any) -> None:
    """Let a connection to PostgreSQL keep as many prepared statements as SQLite."""
    if connection.vendor == "postgresql":
        connection.connection.prepared_max = settings.STATEMENTS_KEPT


class RecordsConfig(AppConfig):
    name = "orchard.records"
    label = "records"
    verbose_name = "Records"

    def ready(self) -> None:
        register(check_begun_early, Tags.database)
        connection_created.connect(keep_statements)
