"""What a form about a tree says, whichever way it arrives: from a page or an outbox.

Names of the fields, which must stay: key, made_at, units, seen_day, seen_time,
all_well, condition, bbch, note, round, task, photos, sign (the last three several); and
for each sign KEY the answers KEY:FACT, KEY:unsure, KEY:part, KEY:note, KEY:photo.
"""

from __future__ import annotations

import uuid
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from django.core.files.uploadedfile import UploadedFile
from django.http import QueryDict
from django.utils.datastructures import MultiValueDict
from django.utils.dateparse import parse_date, parse_datetime, parse_time
from django.utils.translation import gettext as _

from orchard.records.models import Orchard
from orchard.science import guide
from orchard.science.guide import Fact
from orchard.science.units import Scale, scale_of
from orchard.science.words import Part
from orchard.services import photos
from orchard.services.errors import Refused
from orchard.services.inspections import SeenSign

UNANSWERED = ("", "?")
YES, NO = "yes", "no"
MOST_PHOTOS = 20
NOTE_LENGTH = 4000


@dataclass(frozen=True, slots=True)
class Fields:
    """Everything one form says, ready for `inspections.record`."""

    key: uuid.UUID
    seen_at: datetime | None
    made_at: datetime | None
    findings: tuple[SeenSign, ...]
    all_well: bool
    condition: int | None
    bbch: int | None
    note: str
    done_tasks: tuple[int, ...]
    files: int

    pictures: tuple[photos.Picture, ...] = ()
    # The number of the round it was seen on, when it says one.
    round: int | None = None

    def said(self, *, now: datetime) -> dict[str, Any]:
        """Return the arguments of `inspections.look_of` and `record`."""
        made_at = self.made_at or now
        return {
            # A form sent at once was seen now; one from an outbox when it was made.
            "seen_at": self.seen_at or min(made_at, now),
            "made_at": made_at,
            "findings": self.findings,
            "all_well": self.all_well,
            "condition": self.condition,
            "bbch": self.bbch,
            "note": self.note,
            "done_tasks": self.done_tasks,
            "pictures": self.pictures,
        }

    def corrected(self) -> dict[str, Any]:
        """Return the arguments of `inspections.correct`."""
        return {
            "seen_at": self.seen_at,
            "findings": self.findings,
            "all_well": self.all_well and not self.findings,
            "condition": self.condition,
            "note": self.note,
            "pictures": self.pictures,
        }


def read(
    post: QueryDict,
    files: MultiValueDict[str, UploadedFile] | None = None,
    *,
    orchard: Orchard,
    now: datetime,
) -> Fields:
    """Read a form, its photos included when files are given.

    Raises:
        Refused (bad_form): a field cannot be read; the message says which.
        Refused (bad_picture): a file is no photo that can be kept.
    """
    files = files if files is not None else MultiValueDict()
    if sum(len(files.getlist(name)) for name in files) > MOST_PHOTOS:
        raise Refused(
            _("At most %(count)d photos go with one record. Send the rest later.")
            % {"count": MOST_PHOTOS},
            code="bad_form",
            field="photos",
        )
    units = units_of(post, orchard)
    return Fields(
        key=_key(post.get("key", "")),
        seen_at=_seen_at(post, ZoneInfo(orchard.time_zone), now),
        made_at=_moment(post.get("made_at", "")),
        findings=tuple(
            _seen(key, post, files, units)
            for key in dict.fromkeys(post.getlist("sign"))
            if key
        ),
        all_well=bool(post.get("all_well")),
        condition=_whole(post, "condition", _("condition")),
        bbch=_whole(post, "bbch", _("growth stage")),
        note=_text(post, "note"),
        done_tasks=tuple(_numbers(post.getlist("task"))),
        files=len(files),
        pictures=_pictures(files.getlist("photos")),
        round=round_of(post),
    )


def round_of(post: QueryDict) -> int | None:
    """Return the number of the round a form belongs to; a damaged one costs nothing."""
    text = post.get("round", "")
    return int(text) if text.isascii() and text.isdigit() and len(text) < 16 else None


def units_of(post: QueryDict, orchard: Orchard) -> str:
    """Return the units a form was written in; one that does not say has the usual."""
    units = post.get("units", "")
    return units if units in Orchard.Units.values else orchard.units


def _key(text: str) -> uuid.UUID:
    if not text:
        return uuid.uuid4()
    try:
        return uuid.UUID(text)
    except ValueError:
        raise Refused(
            _("This form is damaged. Open a new one."), code="bad_form"
        ) from None


def _pictures(files: Iterable[UploadedFile]) -> tuple[photos.Picture, ...]:
    return tuple(photos.read_picture(file) for file in files)


def _seen(
    key: str, post: QueryDict, files: MultiValueDict[str, UploadedFile], units: str
) -> SeenSign:
    answers, typed = answers_of(key, post, units)
    part = post.get(f"{key}:part", "")
    if part and part not in set(Part):
        raise Refused(_("Choose a part of the tree from the list."), code="bad_form")
    return SeenSign(
        sign=key,
        answers=answers,
        typed=typed,
        part=part,
        sure=not post.get(f"{key}:unsure"),
        note=_text(post, f"{key}:note"),
        pictures=_pictures(files.getlist(f"{key}:photo")),
    )


def answers_of(
    key: str, post: QueryDict, units: str
) -> tuple[dict[str, Any], dict[str, Any]]:
    """Return the answers about a sign in SI units, and those typed in another unit."""
    answers: dict[str, Any] = {}
    typed: dict[str, Any] = {}
    for name, fact in guide.load().facts.items():
        text = post.get(f"{key}:{name}", "").strip()
        if text in UNANSWERED:
            continue
        if fact.kind == "yes_no":
            answers[name] = _yes_no(text)
        elif fact.kind == "choice":
            answers[name] = text
        else:
            scale = scale_of(fact.unit, units)
            answers[name] = _number(text, fact, scale)
            if scale.unit != fact.unit:
                typed[name] = {"value": text, "unit": scale.unit}
    return answers, typed


def _yes_no(text: str) -> bool:
    if text not in (YES, NO):
        raise Refused(_("Answer yes, no, or cannot tell."), code="bad_form")
    return text == YES


def _number(text: str, fact: Fact, scale: Scale) -> float | int:
    try:
        number = float(text.replace(",", ".").removesuffix("%").strip())
    except ValueError:
        raise Refused(
            _("“%(text)s” is not a number. For %(fact)s write figures only.")
            % {"text": text[:40], "fact": fact.words},
            code="bad_form",
        ) from None
    value = round(scale.stored(number), 4)
    if fact.whole and value == int(value):
        return int(value)
    return value


def _whole(post: QueryDict, name: str, label: str) -> int | None:
    text = post.get(name, "").strip()
    if text in UNANSWERED:
        return None
    if not text.isascii() or not text.isdigit() or len(text) > 3:
        raise Refused(
            _("“%(text)s” will not do for the %(field)s.")
            % {"text": text[:40], "field": label},
            code="bad_form",
            field=name,
        )
    return int(text)


def _numbers(texts: Iterable[str]) -> Iterable[int]:
    for text in texts:
        if not text.isascii() or not text.isdigit() or len(text) > 15:
            raise Refused(
                _("A ticked task cannot be read. Tick it again."), code="bad_form"
            )
        yield int(text)


def _text(post: QueryDict, name: str) -> str:
    text = post.get(name, "").replace("\x00", "").strip()
    if len(text) > NOTE_LENGTH:
        raise Refused(
            _("A note is longer than %(count)d letters. Shorten it.")
            % {"count": NOTE_LENGTH},
            code="bad_form",
            field=name,
        )
    return text


def _moment(text: str) -> datetime | None:
    """Read the phone's clock; one that cannot be read is as good as none."""
    try:
        made = parse_datetime(text)
    except ValueError:
        return None
    return made if made is not None and made.tzinfo is not None else None


def _seen_at(post: QueryDict, zone: ZoneInfo, now: datetime) -> datetime | None:
    """Read day and time of the look, if it was not just now."""
    day_text, time_text = post.get("seen_day", ""), post.get("seen_time", "")
    if not day_text and not time_text:
        return None
    if not day_text:
        raise Refused(
            _("Give the day as well as the time."), code="bad_form", field="seen_at"
        )
    try:
        day = parse_date(day_text)
        at = parse_time(time_text or "12:00")
    except ValueError:
        day = at = None
    if day is None or at is None or not 1900 <= day.year <= 2999:
        raise Refused(
            _("That day or time is in no calendar."), code="bad_form", field="seen_at"
        )
    seen_at = datetime.combine(day, at.replace(tzinfo=None), zone)
    is_today = day == now.astimezone(zone).date()
    # Today without a time: noon may still be ahead.
    return min(seen_at, now) if is_today and not time_text else seen_at
