"""The health check: does the database answer, and can records be saved."""

from __future__ import annotations

from django.db import DatabaseError, connection
from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from orchard.services.outages import check_can_write, outage_in


@never_cache
@require_safe
def up(request: HttpRequest) -> HttpResponse:
    """Answer "ok" when one can read and write, else which of the two fails.

    It tells nothing else.
    """
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1")
            cursor.fetchone()
    except DatabaseError:
        return answer("down", status=503)
    try:
        check_can_write(timezone.now())
    except (DatabaseError, OSError) as fault:
        if outage_in(fault) is None:
            raise
        return answer("read only", status=503)
    return answer("ok", status=200)


def answer(word: str, *, status: int) -> HttpResponse:
    return HttpResponse(f"{word}\n", content_type="text/plain", status=status)
