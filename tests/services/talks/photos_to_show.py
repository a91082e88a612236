"""Photos that may be shown in talks, each with a picture of its own."""

from __future__ import annotations

from io import BytesIO
from itertools import count

from PIL import Image

from orchard.records.models import Photo
from orchard.services import photos
from tests.conftest import NOW

_numbers = count(1)


def picture(width: int = 120, height: int = 80) -> BytesIO:
    """Return the file of a picture that no other one is like."""
    number = next(_numbers)
    made = Image.new("RGB", (width, height), (number % 256, number // 256 % 256, 90))
    out = BytesIO()
    made.save(out, "PNG")
    out.seek(0)
    return out


def photo_to_show(
    orchard, by, *, size=(120, 80), content=None, links=None, **fields
) -> Photo:
    """Keep a photo with all that a talk asks for."""
    photo = photos.store(
        content or picture(*size),
        orchard=orchard,
        by=by,
        now=NOW,
        **(links or {}),
    )
    words = {
        "caption": f"Photo number {photo.pk}",
        "alt_text": "A plain colour",
        "credit": "Vera of the orchard",
        "audience": "talks",
        "people": "nobody",
        "taken_at": NOW,
    }
    Photo.objects.filter(pk=photo.pk).update(**{**words, **fields})
    photo.refresh_from_db()
    return photo
