"""What a phone sends to the inbox: one entry, read strictly."""

from __future__ import annotations

import hashlib
import json
import uuid
from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django.core.files.uploadedfile import UploadedFile
from django.http import QueryDict
from django.utils.dateparse import parse_datetime
from django.utils.translation import gettext as _

from orchard.records.models import Orchard
from orchard.services.errors import Refused
from orchard.services.inbox import Entry, Kind
from orchard.web.pages import inspections

VERSION = 1
MOST_TEXT = 256 * 1024


def read(text: str, file: UploadedFile | None) -> Entry:
    """Read an entry and hash it, so that a second sending is known for the same.

    Raises:
        Refused (damaged_entry): it is not an entry of this version.
    """
    if len(text) > MOST_TEXT:
        raise Refused(
            _("This entry is longer than a record can be."), code="damaged_entry"
        )
    try:
        said = json.loads(text)
        if said["version"] != VERSION:
            raise Refused(
                _("This page is of another version. Reload it, then send again."),
                code="damaged_entry",
            )
        fields = said["fields"]
        return Entry(
            key=uuid.UUID(said["key"]),
            kind=Kind(said["kind"]),
            orchard=str(said["orchard"]),
            person=int(said["person"]),
            made_at=moment(said["made_at"]),
            sent_at=moment(said["sent_at"]),
            body_hash=body_hash(said, file),
            tree=str(fields.get("tree", "")),
            form=tuple(
                (str(name), str(value)) for name, value in fields.get("form", [])
            ),
            parent=uuid.UUID(fields["inspection"])
            if fields.get("inspection")
            else None,
            sign=str(fields.get("finding_sign", "")),
            round=int(fields["round"]) if fields.get("round") else None,
            taken_at=moment(fields["taken_at"]) if fields.get("taken_at") else None,
            file=file,
        )
    except Refused:
        raise
    except (KeyError, TypeError, ValueError, AttributeError, RecursionError):
        raise Refused(
            _("This entry is damaged. Save it as a file and write it down anew."),
            code="damaged_entry",
        ) from None


def moment(text: Any) -> datetime:
    """Read a moment with its zone; anything else is a ValueError."""
    read_moment = parse_datetime(str(text))
    if read_moment is None or read_moment.tzinfo is None:
        raise ValueError(text)
    return read_moment


def body_hash(said: Mapping[str, Any], file: UploadedFile | None) -> str:
    """Return the hash of all that an entry says, the moment of sending left out."""
    body = {name: value for name, value in said.items() if name != "sent_at"}
    text = json.dumps(body, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    digest = hashlib.sha256(text.encode())
    if file is not None:
        for chunk in file.chunks():
            digest.update(chunk)
        file.seek(0)
    return digest.hexdigest()


def look(entry: Entry, orchard: Orchard, now: datetime) -> Mapping[str, Any]:
    """Return the arguments of `inspections.record` that an entry's form says."""
    post = QueryDict(mutable=True)
    for name, value in entry.form:
        post.appendlist(name, value)
    post["made_at"] = entry.made_at.isoformat()
    fields = inspections.read(post, orchard=orchard, now=now)
    said = dict(fields.said(now=now))
    if fields.seen_at is None:
        # Seen when it was written down, by the phone's own clock.
        said["seen_at"] = entry.made_at
    return said
