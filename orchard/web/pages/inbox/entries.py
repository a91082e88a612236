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

from orchard.services.errors import Refused
from orchard.services.inbox import Admission, Entry, EntryKind
from orchard.services.inspections import Submission
from orchard.web.pages.inspections import InspectionForm

VERSION = 1
MOST_TEXT = 256 * 1024
# A phone that has lost its clock says 1970; what lies further off is no clock.
YEARS = range(1970, 2090)


def read(text: str, file: UploadedFile[Any] | None) -> Entry:
    """Read an entry and hash it, so that a second sending is known for the same.

    Raises:
        Refused (damaged_entry): it is not an entry of this version.
    """
    if len(text) > MOST_TEXT:
        raise Refused(
            _("This entry is longer than a record can be."), code="damaged_entry"
        )
    try:
        entry = json.loads(text)
        if entry["version"] != VERSION:
            raise Refused(
                _("This page is of another version. Reload it, then send again."),
                code="damaged_entry",
            )
        fields = entry["fields"]
        return Entry(
            key=uuid.UUID(entry["key"]),
            kind=EntryKind(entry["kind"]),
            orchard=text_of(entry["orchard"]),
            person=int(entry["person"]),
            made_at=moment(entry["made_at"]),
            sent_at=moment(entry["sent_at"]),
            body_hash=body_hash(entry, file),
            tree=text_of(fields.get("tree", "")),
            look=int(fields["look"]) if fields.get("look") else None,
            harvest=int(fields["harvest"]) if fields.get("harvest") else None,
            treatment=int(fields["treatment"]) if fields.get("treatment") else None,
            task=int(fields["task"]) if fields.get("task") else None,
            form=tuple(
                (str(name), str(value)) for name, value in fields.get("form", [])
            ),
            parent=uuid.UUID(fields["inspection"])
            if fields.get("inspection")
            else None,
            sign=text_of(fields.get("finding_sign", "")),
            round=int(fields["round"]) if fields.get("round") else None,
            photos_follow=bool(fields.get("photos_follow")),
            taken_at=moment(fields["taken_at"]) if fields.get("taken_at") else None,
            file=file,
        )
    except Refused:
        raise
    except (
        ArithmeticError,
        AttributeError,
        LookupError,
        RecursionError,
        TypeError,
        ValueError,
    ):
        raise Refused(
            _("This entry is damaged. Save it as a file and enter it again."),
            code="damaged_entry",
        ) from None


def moment(text: Any) -> datetime:
    """Read a moment with its zone; anything else is a ValueError."""
    read_moment = parse_datetime(str(text))
    if read_moment is None or read_moment.tzinfo is None:
        raise ValueError(text)
    if read_moment.year not in YEARS:
        raise ValueError(text)
    return read_moment


def text_of(value: Any) -> str:
    """Read a name to look up; what no database can hold is a ValueError."""
    text = str(value)
    if "\x00" in text:
        raise ValueError(text)
    return text


def body_hash(entry: Mapping[str, Any], file: UploadedFile[Any] | None) -> str:
    """Return the hash of all that an entry says, the moment of sending left out."""
    body = {name: value for name, value in entry.items() if name != "sent_at"}
    text = json.dumps(body, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    digest = hashlib.sha256(text.encode())
    if file is not None:
        for chunk in file.chunks():
            digest.update(chunk)
        file.seek(0)
    return digest.hexdigest()


def submission(admission: Admission, now: datetime) -> Submission:
    """Read the form of an entry as the look that it brings, by our clock.

    Raises:
        Refused (bad_form): fields cannot be what they are; the message tells them all.
    """
    entry = admission.entry
    if admission.tree is None:
        raise Refused(_("An inspection needs its tree."), code="unknown_tree")
    offset = admission.offset(now)
    post = QueryDict(mutable=True)
    for name, value in entry.form:
        post.appendlist(name, value)
    post["made_at"] = entry.made_at.isoformat()
    # What it was kept under is the entry's own key.
    post.pop("key", None)
    form = InspectionForm(
        post,
        tree=admission.tree,
        now=now,
        # Seen when it was written down, by the phone's own clock.
        seen_at=admission.made_at(now) - offset,
        clock_offset=offset,
    )
    if not form.is_valid():
        raise Refused(" ".join(form.faults), code="bad_form")
    return form.submission
