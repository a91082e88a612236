"""A place under quarantine: what is picked there doesn't leave it."""

from __future__ import annotations

from datetime import date

from django.utils.formats import date_format
from django.utils.translation import gettext as _

from orchard.records.models import HarvestShare, Orchard
from orchard.services.errors import Refused

# What takes fruit past the gate; the rest stays on the place.
LEAVING = frozenset(
    {
        HarvestShare.Use.GIVEN_AWAY,
        HarvestShare.Use.SHOW,
        HarvestShare.Use.VOLUNTEERS,
    }
)


def quarantine_words(orchard: Orchard, *, on: date) -> str:
    """Say since when nothing leaves the place and what the authority wrote; "" if free.

    A quarantine that begins later says nothing yet.
    """
    since = orchard.quarantine_from
    if since is None or on < since:
        return ""
    return _(
        "Under quarantine since %(day)s: no fruit, leaves or wood leave this place. "
        "%(authority)s: “%(words)s”"
    ) % {
        "day": date_format(since, "j M Y"),
        "authority": orchard.authority_name or _("The authority"),
        "words": orchard.quarantine_words,
    }


def refuse_to_leave(row: HarvestShare) -> None:
    """Refuse a part of a lot that leaves a place under quarantine.

    Raises:
        Refused (quarantine): as its name says.
    """
    words = quarantine_words(row.harvest.orchard, on=row.given_on)
    if words and row.use in LEAVING:
        raise Refused(
            _("%(why)s It may be tasted here, composted or destroyed here.")
            % {"why": words},
            code="quarantine",
            field="use",
        )
