"""What needs a member today, by what the member is here for."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, time
from typing import Any
from zoneinfo import ZoneInfo

from django.db.models import Count, F, OuterRef, Q, Subquery

from orchard.records.models import (
    Case,
    Closure,
    Inspection,
    Membership,
    Orchard,
    Photo,
    SecondLook,
    Task,
    Tree,
)
from orchard.science import guide, windows
from orchard.science.figures import days
from orchard.science.words import WorkKind
from orchard.services import inspections
from orchard.services.frost import Brief, Covered, brief_of_tonight, covers_on
from orchard.services.holds import TreeHold, holds_of, reasons_for
from orchard.services.permissions import Deed, may
from orchard.services.rounds import Walk, on_the_way
from orchard.services.tasks import (
    BlockTally,
    BoardRow,
    FirstTasks,
    first_tasks,
    tallies_for,
)

Role = Membership.Role
FEW = 5


@dataclass(frozen=True, slots=True)
class Ripening:
    """A kind that is usually ripe in this month, and its trees."""

    name: str
    trees: int


@dataclass(frozen=True, slots=True)
class Home:
    """The first page of an orchard for one member; None where a part is not theirs."""

    role: str
    works: bool
    rounds: tuple[Walk, ...]
    mine: tuple[BoardRow, ...]
    free: tuple[BoardRow, ...]
    late: int
    due_soon: int
    looks: tuple[SecondLook, ...] | None
    came_in: tuple[Inspection, ...] | None
    came_in_count: int
    cases: tuple[Case, ...] | None
    tallies: tuple[BlockTally, ...] | None
    unseen: tuple[Tree, ...] | None
    unseen_count: int
    declining: tuple[Tree, ...] | None
    members: int | None
    photos: tuple[Photo, ...] | None
    ripening: tuple[Ripening, ...] | None
    inspections_this_month: int | None
    closures_this_month: int | None
    trees_seen_this_month: int | None
    trees: int
    covers: tuple[Covered, ...]
    frost: Brief | None


def home_today(member: Membership, *, now: datetime, today: date) -> Home:
    """Gather a member's first page: only what the role asks for is asked for."""
    role = Role(member.role)
    orchard = member.orchard
    leads = may(member, Deed.SEE_PRIVATE)
    runs = may(member, Deed.KEEP_RULES)
    counts = role in (Role.OFFICE, Role.COORDINATOR)
    shows = role in (Role.EDUCATOR, Role.COORDINATOR)
    works = may(member, Deed.WORK)
    midnight = datetime.combine(today, time(), ZoneInfo(orchard.time_zone))
    month = midnight.replace(day=1)
    tasks = Task.objects.in_orchard(orchard).open()
    if not leads:
        tasks = tasks.not_private()
    arrived = _current(orchard).filter(received_at__gte=midnight)
    unseen = _unseen(orchard, today)
    seen = _current(orchard).filter(seen_at__gte=month, seen_at__lte=now)
    holds = holds_of(orchard, today=today) if works or shows else None
    first = FirstTasks()
    if works:
        first = first_tasks(
            member, today=today, mine=8, unassigned=FEW, holds=holds or {}
        )
    return Home(
        role=role.value,
        works=works,
        rounds=on_the_way(member, today=today) if works else (),
        mine=first.mine,
        free=first.unassigned,
        late=tasks.overdue(today).count(),
        due_soon=tasks.filter(due_on__gte=today, due_on__lte=today + days("soon_days"))
        .begun(today)
        .count(),
        looks=tuple(inspections.open_second_looks(orchard)) if leads else None,
        came_in=tuple(_last(arrived)) if leads else None,
        came_in_count=arrived.count() if leads else 0,
        cases=_cases(orchard) if leads else None,
        tallies=tallies_for(member, today=today) if runs else None,
        unseen=tuple(unseen[:FEW]) if runs else None,
        unseen_count=unseen.count() if runs else 0,
        declining=_declining(orchard) if runs else None,
        members=Membership.objects.in_orchard(orchard).standing().count()
        if counts
        else None,
        photos=_photos(orchard) if shows else None,
        ripening=_ripening(orchard, today, holds or {}) if shows else None,
        inspections_this_month=seen.count() if counts else None,
        closures_this_month=_closures(orchard, today) if counts else None,
        trees_seen_this_month=seen.values("tree").distinct().count()
        if counts
        else None,
        trees=Tree.objects.in_orchard(orchard).standing().count(),
        covers=_late_covers(orchard, now, today) if works else (),
        frost=brief_of_tonight(orchard, now=now, today=today, holds=holds),
    )


def _late_covers(orchard: Orchard, now: datetime, today: date) -> tuple[Covered, ...]:
    """Find the trees that are still under cloth after ten in the morning."""
    return tuple(
        cover for cover in covers_on(orchard, now=now, today=today) if cover.late
    )


def _current(orchard: Any) -> Any:
    return (
        Inspection.objects.current()
        .in_orchard(orchard)
        .select_related("tree__kind", "by")
    )


def _last(arrived: Any) -> Any:
    """Take the newest few, each with what was found."""
    return arrived.prefetch_related("findings").order_by("-received_at", "-id")[:8]


def _cases(orchard: Any) -> tuple[Case, ...]:
    cases = Case.objects.in_orchard(orchard).open().select_related("tree", "opened_by")
    return tuple(cases.order_by("opened_at", "id"))


def _unseen(orchard: Any, today: date) -> Any:
    """Find growing trees that nobody has looked at for long, the longest first."""
    long_ago = today - days("unseen_days")
    return (
        Tree.objects.in_orchard(orchard)
        .looked_after()
        .filter(Q(last_seen_on=None) | Q(last_seen_on__lt=long_ago))
        .select_related("kind")
        .order_by(F("last_seen_on").asc(nulls_first=True), "code", "id")
    )


def _declining(orchard: Any) -> tuple[Tree, ...]:
    """Find growing trees whose last score is below the one before it."""
    scores = (
        Inspection.objects.current()
        .filter(tree=OuterRef("pk"), condition__isnull=False)
        .order_by("-seen_at", "-id")
        .values("condition")
    )
    trees = (
        Tree.objects.in_orchard(orchard)
        .looked_after()
        .select_related("kind")
        .annotate(score=Subquery(scores[:1]), score_before=Subquery(scores[1:2]))
        .filter(score__lt=F("score_before"))
        .order_by("score", "code", "id")
    )
    return tuple(trees)


def _photos(orchard: Any) -> tuple[Photo, ...]:
    photos = Photo.objects.current().in_orchard(orchard).open_to_all()
    # What has no record yet may turn out to be private.
    photos = photos.assigned_to("tree", "closure").prefetch_related("trees")
    return tuple(photos.order_by("-received_at", "-id")[:6])


def _closures(orchard: Any, today: date) -> int:
    return Closure.objects.filter(
        task__orchard=orchard,
        how=Closure.How.DONE,
        undone_at=None,
        done_on__gte=today.replace(day=1),
        done_on__lte=today,
    ).count()


def _ripening(
    orchard: Any, today: date, holds: Mapping[int, tuple[TreeHold, ...]]
) -> tuple[Ripening, ...]:
    """List the kinds usually ripe this month, as the guide has it."""
    month = windows.season_month(today, float(orchard.latitude))
    cultivars = guide.load().cultivars
    trees = Tree.objects.in_orchard(orchard).looked_after()
    left_alone = {
        tree_id
        for tree_id, on_tree in holds.items()
        if reasons_for(on_tree, work=[WorkKind.PICKING])
    }
    kinds = (
        trees.exclude(pk__in=left_alone)
        .order_by("kind__name")
        .values_list("kind__name", "kind__guide_key")
        .annotate(number=Count("pk"))
    )
    found = []
    for name, key, number in kinds:
        cultivar = cultivars.get(key)
        if cultivar is not None and month in cultivar.ripe_months:
            found.append(Ripening(name, number))
    return tuple(found)
