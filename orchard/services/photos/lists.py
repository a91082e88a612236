"""Lists of photos: the newest that everybody in the orchard may see."""

from __future__ import annotations

from datetime import date, datetime, time
from zoneinfo import ZoneInfo

from django.db.models import QuerySet

from orchard.records.models import Orchard, Photo


def photos_for_all(orchard: Orchard, *, since: date | None = None) -> QuerySet[Photo]:
    """Return the photos with a record that is open to all, the newest first.

    `since` leaves out what came before that day.
    """
    photos = Photo.objects.current().in_orchard(orchard).open_to_all()
    # What has no record yet may turn out to be private.
    photos = photos.assigned_to("tree", "closure").prefetch_related("trees")
    if since is not None:
        midnight = datetime.combine(since, time(), ZoneInfo(orchard.time_zone))
        photos = photos.filter(received_at__gte=midnight)
    return photos.order_by("-received_at", "-id")
