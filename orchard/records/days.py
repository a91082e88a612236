"""Days: of an orchard's own calendar, and counted by the database for ranking."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo

from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.models import Func, IntegerField
from django.db.models.sql.compiler import SQLCompiler


def day_in(moment: datetime, time_zone: str) -> date:
    """Return the day that a moment falls on in a time zone."""
    return moment.astimezone(ZoneInfo(time_zone)).date()


def year_in(year: int, time_zone: str) -> tuple[datetime, datetime]:
    """Return the first moments of a year and of the next one, in a time zone."""
    zone = ZoneInfo(time_zone)
    return datetime(year, 1, 1, tzinfo=zone), datetime(year + 1, 1, 1, tzinfo=zone)


class DaysFrom(Func):
    """Count the whole days from the first day to the second; before it, below zero."""

    arity = 2
    output_field = IntegerField()

    def as_sql(
        self,
        compiler: SQLCompiler,
        connection: BaseDatabaseWrapper,
        function: str | None = None,
        template: str | None = None,
        arg_joiner: str | None = None,
        **extra_context: Any,
    ) -> tuple[str, tuple[str | int, ...]]:
        first, second = self.source_expressions
        start, start_values = compiler.compile(first)
        end, end_values = compiler.compile(second)
        if connection.vendor == "sqlite":
            sql = f"CAST(julianday({end}) - julianday({start}) AS INTEGER)"
        else:
            sql = f"(CAST({end} AS date) - CAST({start} AS date))"
        return sql, (*end_values, *start_values)
