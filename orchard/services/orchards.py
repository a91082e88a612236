"""Orchards: found one, correct its details, keep it in step with the guide."""

from __future__ import annotations

import unicodedata
from datetime import datetime
from decimal import Decimal, InvalidOperation
from difflib import get_close_matches
from typing import Any
from zoneinfo import available_timezones

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils.text import slugify
from django.utils.translation import gettext as _

from orchard.records.days import day_in
from orchard.records.models import Membership, Orchard, User
from orchard.science import guide
from orchard.science.windows import is_north, read_spans
from orchard.services import accounts, audit, care_plan, house_rules
from orchard.services.audit import Verb
from orchard.services.errors import Refused
from orchard.services.guide_sync import bring_up_to_date, review_care_plan

__all__ = [
    "all_orchards",
    "bring_up_to_date",
    "check_degrees",
    "check_time_zone",
    "correct_details",
    "found",
    "turns_hemisphere",
    "zones_like",
]

# The first words of our addresses, with a few that browsers and servers ask for.
RESERVED = frozenset(
    {
        "account", "admin", "api", "app", "guide", "help", "inbox", "join", "look",
        "manifest", "media", "offline", "outbox", "password", "photos", "sign-in",
        "sign-out", "static", "t", "up", "visit", "worker", "manifest.webmanifest",
        "words.json", "worker.js",
    }
)  # fmt: skip

# Control characters, and what parts lines and paragraphs.
BREAKS = frozenset({"Cc", "Zl", "Zp"})
ON_ONE_LINE = frozenset(
    {
        "name", "place", "authority_name", "report_name", "hospital", "access_point",
        "responsible_person",
    }
)  # fmt: skip
PHONES = (
    "authority_phone", "report_phone", "ambulance_phone", "poison_phone",
    "environment_phone",
)  # fmt: skip
DETAILS = frozenset(
    {
        "elevation_m", "frost_from", "frost_to", "fruit_fly_area", "authority_name",
        "authority_contact", "authority_phone", "report_name", "report_phone",
        "emergency_note", "maturity_standard", "region", "crew_hours", "record_profile",
        "public_use", "ambulance_phone", "poison_phone", "hospital", "access_point",
        "responsible_person", "environment_phone", "quarantine_from",
        "quarantine_words", "public_page", "visiting_words",
    }
)  # fmt: skip
CHANGEABLE = DETAILS | {
    "name", "place", "time_zone", "latitude", "longitude", "units",
}  # fmt: skip


def all_orchards() -> list[Orchard]:
    """Return every orchard of the book, by its short name."""
    return list(Orchard.objects.order_by("slug"))


def found(
    *,
    name: str,
    place: str,
    time_zone: str,
    latitude: Decimal | float | str,
    longitude: Decimal | float | str,
    coordinator: User,
    now: datetime,
    slug: str = "",
    units: str = "metric",
    **details: Any,
) -> Orchard:
    """Found an orchard with its coordinator and all that the guide brings to it.

    The address is made from the name unless a slug is given. Kinds, pest statuses
    and the care plan are filled from the guide.

    Raises:
        Refused (bad_details): a detail cannot be meant, or the address is taken.
    """
    _refuse_other_details(details, DETAILS)
    values = {
        "name": name,
        "place": place,
        "time_zone": time_zone,
        "latitude": latitude,
        "longitude": longitude,
        "units": units,
        **details,
    }
    orchard = Orchard(
        slug=_address(slug or name, given=bool(slug)),
        founded_at=now,
        **_read(values),
    )
    with transaction.atomic():
        _check(orchard)
        audit.save(Verb.FOUND, orchard, by=coordinator, now=now)
        member = Membership(
            user=coordinator,
            orchard=orchard,
            role=Membership.Role.COORDINATOR,
            joined_at=now,
        )
        audit.save(Verb.JOIN, member, by=coordinator, now=now, fields=("role",))
        bring_up_to_date(orchard, now)
    return orchard


def correct_details(
    orchard: Orchard, *, by: User, now: datetime, **changes: Any
) -> Orchard:
    """Change details of an orchard; what happened before keeps its dates.

    Work that the plan no longer asks for falls away; where north becomes south, the
    windows of seasonal care start anew from today. Where another region takes the place
    of one, how pests stand is asked anew.

    Raises:
        Refused (bad_details): a detail cannot be meant.
    """
    _refuse_other_details(changes, CHANGEABLE)
    with transaction.atomic():
        row = Orchard.objects.select_for_update(no_key=True).get(pk=orchard.pk)
        before = audit.snapshot(row, *sorted(changes))
        was_at, was_in = float(row.latitude), row.region
        for field, value in _read(changes).items():
            setattr(row, field, value)
        _check(row)
        after = audit.snapshot(row, *sorted(changes))
        if after == before:
            return row
        fields = sorted(changes)
        audit.save(
            Verb.CORRECT_DETAILS, row, by=by, now=now, fields=fields, before=before
        )
        review_care_plan(row, now)
        today = day_in(now, row.time_zone)
        turns = is_north(float(row.latitude)) is not is_north(was_at)
        if turns:
            care_plan.turn_seasons(row, by=by, now=now, today=today)
        if was_in not in ("", row.region):
            house_rules.ask_pests_anew(row, by=by, now=now)
    care_plan.cancel_outgrown(row, now=now, today=today, by=by)
    if turns:
        care_plan.open_after(row, now=now, today=today)
    return row


def turns_hemisphere(orchard: Orchard, latitude: Decimal | float | str) -> bool:
    """Say whether a new latitude would swap spring and autumn for an orchard."""
    degrees = check_degrees("latitude", latitude)
    return is_north(float(degrees)) is not is_north(float(orchard.latitude))


def zones_like(text: str) -> list[str]:
    """Return up to five time zones that a person may have meant."""
    zones = sorted(available_timezones())
    wanted = text.strip().lower().replace(" ", "_")
    if not wanted:
        return []
    exact = [zone for zone in zones if zone.lower() == wanted]
    city = [zone for zone in zones if wanted in zone.lower().split("/")[-1]]
    by_end = {zone.lower().split("/")[-1]: zone for zone in zones}
    by_name = {zone.lower(): zone for zone in zones}
    near = [by_name[found] for found in get_close_matches(wanted, by_name, 5, 0.7)]
    near += [by_end[found] for found in get_close_matches(wanted, by_end, 5, 0.7)]
    return list(dict.fromkeys([*exact, *city, *near]))[:5]


def check_time_zone(text: str) -> str:
    """Return the name of a time zone; refuse any other word, naming near ones."""
    if text in available_timezones():
        return text
    near = zones_like(text)
    if near:
        message = _("“%(text)s” isn't a time zone. Did you mean %(near)s?")
        raise Refused(
            message % {"text": text, "near": ", ".join(near)},
            code="bad_details",
            field="time_zone",
        )
    message = _("“%(text)s” isn't a time zone. Write it like Europe/Lisbon.")
    raise Refused(
        message % {"text": text or "—"}, code="bad_details", field="time_zone"
    )


def check_degrees(field: str, value: Decimal | float | str) -> Decimal:
    """Return a latitude or longitude in degrees; refuse what is not on Earth."""
    limit = 90 if field == "latitude" else 180
    try:
        degrees = Decimal(str(value).strip().replace(",", "."))
    except InvalidOperation:
        degrees = Decimal("NaN")
    if not degrees.is_finite() or abs(degrees) > limit:
        message = (
            _("The latitude is a number from -90 to 90; south is below zero.")
            if field == "latitude"
            else _("The longitude is a number from -180 to 180; west is below zero.")
        )
        raise Refused(message, code="bad_details", field=field)
    # Five places are about a metre; more would only pretend.
    return degrees.quantize(Decimal("0.00001"))


def _read(values: dict[str, Any]) -> dict[str, Any]:
    read = dict(values)
    for field, value in values.items():
        if isinstance(value, str):
            read[field] = value.strip()
        if field in ON_ONE_LINE:
            _refuse_breaks(field, read[field])
        if field in ("latitude", "longitude"):
            read[field] = check_degrees(field, value)
        if field == "time_zone":
            read[field] = check_time_zone(str(value).strip())
    return read


def _refuse_breaks(field: str, text: str) -> None:
    """Refuse a name that goes over several lines: it stands in headings and mails."""
    if any(unicodedata.category(letter) in BREAKS for letter in text):
        message = _("Write it on one line, without line breaks or tabs.")
        raise Refused(message, code="bad_details", field=field)


def _address(text: str, *, given: bool) -> str:
    slug = slugify(text)[:60].strip("-")
    if given and slug != text:
        message = _("Write the short name in small letters, digits and hyphens only.")
        raise Refused(message, code="bad_details", field="slug")
    if not slug:
        message = _("No address can be made from this name; give a short name as well.")
        raise Refused(message, code="bad_details", field="slug")
    if slug in RESERVED:
        message = _("The short name “%(slug)s” is reserved. Choose another.")
        raise Refused(message % {"slug": slug}, code="bad_details", field="slug")
    if Orchard.objects.filter(slug=slug).exists():
        message = _(
            "There is already an orchard at “%(slug)s”; take another short name."
        )
        raise Refused(message % {"slug": slug}, code="bad_details", field="slug")
    return slug


def _check(orchard: Orchard) -> None:
    if bool(orchard.frost_from) is not bool(orchard.frost_to):
        message = _("Give both ends of the frost season, or neither.")
        raise Refused(message, code="bad_details", field="frost_from")
    if orchard.frost_from:
        try:
            read_spans(f"{orchard.frost_from}..{orchard.frost_to}")
        except ValueError:
            message = _(
                "Write the ends of the frost season like SM9-01: month 9, day 1."
            )
            raise Refused(message, code="bad_details", field="frost_from") from None
    if orchard.region and orchard.region not in guide.load().regions:
        names = ", ".join(guide.load().regions)
        message = _("“%(region)s” isn't a region here. Choose one of: %(names)s.")
        raise Refused(
            message % {"region": orchard.region, "names": names},
            code="bad_details",
            field="region",
        )
    if bool(orchard.quarantine_from) is not bool(orchard.quarantine_words):
        message, field = (
            (_("Write what the authority ordered, in its words."), "quarantine_words")
            if orchard.quarantine_from
            else (_("Enter since when, or empty its words as well."), "quarantine_from")
        )
        raise Refused(message, code="bad_details", field=field)
    for field in PHONES:
        number = getattr(orchard, field)
        accounts.check_phone(number, code="bad_details", field=field)
    try:
        orchard.full_clean()
    except ValidationError as error:
        field, messages = next(iter(error.message_dict.items()))
        label = "" if field == "__all__" else _label(field)
        raise Refused(
            f"{label}{messages[0]}", code="bad_details", field=field
        ) from None


def _label(field: str) -> str:
    name = str(Orchard._meta.get_field(field).verbose_name)  # type: ignore[union-attr]
    return f"{name[:1].upper()}{name[1:]}: "


def _refuse_other_details(given: dict[str, Any], allowed: frozenset[str]) -> None:
    strange = sorted(set(given) - allowed)
    if strange:
        raise TypeError(f"an orchard has no detail {strange[0]!r} to set")
