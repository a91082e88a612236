"""Tables sent as files that a spreadsheet opens."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Iterator
from zoneinfo import ZoneInfo

from django.http import StreamingHttpResponse
from django.utils import timezone

# A spreadsheet takes a cell that begins so for a formula.
BEGINS_A_FORMULA = ("=", "+", "-", "@", "\t", "\r")


def csv_file(
    name: str, rows: Iterable[Iterable[str]], zone: ZoneInfo
) -> StreamingHttpResponse:
    """Send rows of text as a CSV file of that name, line by line, as they are made.

    They are made in the time zone of an orchard.
    """
    return StreamingHttpResponse(
        _in_zone(_lines(rows), zone),
        content_type="text/csv; charset=utf-8",
        headers={"Content-Disposition": f'attachment; filename="{name}"'},
    )


class _Line:
    """What a CSV writer writes to: hands each line straight back."""

    def write(self, text: str) -> str:
        return text


def _lines(rows: Iterable[Iterable[str]]) -> Iterator[str]:
    writer = csv.writer(_Line())
    # The mark at the start tells spreadsheet programs that this is UTF-8.
    yield "\ufeff"
    for row in rows:
        yield writer.writerow(_safe(cell) for cell in row)


def _safe(cell: str) -> str:
    return f"'{cell}" if cell.startswith(BEGINS_A_FORMULA) else cell


def _in_zone(parts: Iterator[str], zone: ZoneInfo) -> Iterator[str]:
    """Yield the parts of a file with times of the orchard; it outlives the request."""
    while True:
        with timezone.override(zone):
            part = next(parts, None)
        if part is None:
            return
        yield part
