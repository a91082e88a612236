"""The file of a photo that everybody may see."""

from __future__ import annotations

from uuid import UUID

from django.http import Http404, HttpRequest, HttpResponse
from django.views.decorators.http import require_safe

from orchard.services import visitors
from orchard.services.errors import NotThere
from orchard.web.pages.photos import photo_answer


@require_safe
def public_photo(request: HttpRequest, name: UUID, size: str) -> HttpResponse:
    """Send a size of it, as long as it may be seen: asked anew each time."""
    try:
        photo = visitors.public_photo(name)
    except NotThere:
        raise Http404 from None
    response = photo_answer(request, photo, size)
    response["Cache-Control"] = "private, no-cache"
    return response
