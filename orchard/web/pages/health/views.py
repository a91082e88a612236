"""The health check: does the database answer."""

from __future__ import annotations

from django.db import DatabaseError, connection
from django.http import HttpRequest, HttpResponse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe


@never_cache
@require_safe
def up(request: HttpRequest) -> HttpResponse:
    """Answer "ok" when the database answers; tell nothing else."""
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1")
            cursor.fetchone()
    except DatabaseError:
        return HttpResponse("down\n", content_type="text/plain", status=503)
    return HttpResponse("ok\n", content_type="text/plain")
