"""The library: photos narrowed by what they show, and found by everyday words."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, fields
from datetime import date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django.db.models import QuerySet

from orchard.records.models import Finding, Inspection, Membership, Orchard, Photo, Tree
from orchard.science.windows import first_month
from orchard.science.words import Season
from orchard.services.paging import Page, page_by_key
from orchard.services.permissions import Deed, may
from orchard.services.photos.depicting import Depicted, depicted
from orchard.services.photos.everyday import fitting_words

PAGE = 24
CONDITIONS = {"poor": (1, 2), "fair": (3,), "good": (4, 5)}


@dataclass(frozen=True, slots=True)
class PhotoFilters:
    """What the library is narrowed to; what is left empty narrows nothing."""

    words: str = ""
    tree: str = ""
    kind: int | None = None
    sign: str = ""
    part: str = ""
    verdict: str = ""
    sureness: str = ""
    condition: str = ""
    season: str = ""
    view: str = ""
    by: int | None = None
    since: date | None = None
    until: date | None = None
    # What it is free for, or "people" where nobody said who is in view.
    use: str = ""
    # Came into the book on this day or later.
    received_since: date | None = None

    @property
    def count(self) -> int:
        """Count what narrows the library beside the words."""
        every = (getattr(self, field.name) for field in fields(self))
        return sum(bool(value) for value in every) - bool(self.words)


def library(
    member: Membership, filters: PhotoFilters, *, after: str = ""
) -> Page[Depicted]:
    """Return a page of the photos that fit, those that came last first."""
    rows = photos_that_fit(member, filters).select_related("by")
    page = page_by_key(rows, "-received_at", "-id", after=after, size=PAGE)
    return Page(depicted(page.rows, member), page.next_key)


def photos_seen_by(member: Membership) -> QuerySet[Photo]:
    """Return the photos of the library that a member may see.

    Those without a record are shown to who keeps the photos: they may turn out to be
    private.
    """
    found = Photo.objects.current().in_orchard(member.orchard)
    if not may(member, Deed.SEE_PRIVATE):
        found = found.open_to_all()
    if not may(member, Deed.KEEP_PHOTOS):
        found = found.assigned_to("tree", "closure")
    return found


def chosen_photos(member: Membership, numbers: Iterable[int]) -> tuple[Depicted, ...]:
    """Return the photos of these numbers that a member may see, in the order given."""
    order = {number: place for place, number in enumerate(numbers)}
    found = photos_seen_by(member).filter(pk__in=order).select_related("by", "orchard")
    return depicted(sorted(found, key=lambda photo: order[photo.pk]), member)


def photographers(orchard: Orchard) -> list[tuple[int, str]]:
    """Return who may have brought photos: all who ever belonged here, by name."""
    rows = Membership.objects.in_orchard(orchard).order_by("user__name", "id")
    return list(rows.values_list("user_id", "user__name"))


def photos_that_fit(member: Membership, filters: PhotoFilters) -> QuerySet[Photo]:
    """Return the photos that fit all that is asked for, in no order."""
    found: Any = photos_seen_by(member)
    found = _by_finding(found, member, filters)
    if filters.condition:
        steps = CONDITIONS[filters.condition]
        looks = Inspection.objects.current().filter(condition__in=steps)
        found = found.of_looks(looks)
    trees = Tree.objects.in_orchard(member.orchard)
    if filters.tree:
        found = found.of_trees(trees.with_code(filters.tree))
    if filters.kind:
        found = found.of_trees(trees.filter(kind=filters.kind))
    if filters.view:
        found = found.filter(view=filters.view)
    if filters.by:
        found = found.filter(by=filters.by)
    found = _by_time(found, member, filters)
    if filters.use == Photo.People.UNKNOWN:
        found = found.filter(people=Photo.People.UNKNOWN)
    elif filters.use:
        found = found.free_to_show(filters.use)
    fitting: QuerySet[Photo] = found.filter(
        fitting_words(filters.words, member.orchard)
    )
    return fitting


def _by_finding(found: Any, member: Membership, filters: PhotoFilters) -> Any:
    """Narrow to photos of one finding that fits all that is asked of findings."""
    asked = (filters.sign, filters.part, filters.verdict, filters.sureness)
    if not any(asked):
        return found
    findings: Any = Finding.objects.current().in_orchard(member.orchard)
    if filters.sign:
        findings = findings.filter(sign=filters.sign)
    if filters.part:
        findings = findings.filter(part=filters.part)
    if filters.verdict:
        findings = findings.with_verdict(filters.verdict)
    if filters.sureness:
        sees = may(member, Deed.SEE_PRIVATE)
        findings = findings.with_sureness(with_cases=sees)
        findings = findings.filter(sureness=filters.sureness)
    # The orchard's own picture of a sign needs no finding.
    confirmed = "" if any(asked[1:]) else filters.sign
    return found.of_findings(findings, confirmed=confirmed)


def _by_time(found: Any, member: Membership, filters: PhotoFilters) -> Any:
    zone = ZoneInfo(member.orchard.time_zone)

    def midnight(day: date) -> datetime:
        return datetime.combine(day, time(), zone)

    if filters.received_since:
        found = found.filter(received_at__gte=midnight(filters.received_since))
    if filters.season:
        months = months_of(Season(filters.season), float(member.orchard.latitude))
        found = found.from_months(months, zone)
    if filters.since or filters.until:
        found = found.from_between(
            midnight(filters.since) if filters.since else None,
            midnight(filters.until + timedelta(days=1)) if filters.until else None,
        )
    return found


def months_of(season: Season, latitude: float) -> list[int]:
    """Return the calendar months of a season at a latitude, in degrees."""
    first = first_month(latitude) + 3 * list(Season).index(season)
    return [(first + more - 1) % 12 + 1 for more in range(3)]
