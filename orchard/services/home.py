"""What needs a member today, by what the member is here for."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import partial
from typing import Any

from django.db.models import Count, Q, QuerySet

from orchard.records.models import (
    Block,
    Case,
    Change,
    Closure,
    Inspection,
    Membership,
    Orchard,
    Photo,
    Round,
    SecondLook,
    Tag,
    Tree,
)
from orchard.science import guide, windows
from orchard.science.figures import days
from orchard.science.words import JobRole, WorkKind
from orchard.services import inspections, photos, talks, tasks, trees, weather
from orchard.services.audit import Verb
from orchard.services.counts import count_together
from orchard.services.frost import Brief, Covered, brief_of_tonight, covers_on
from orchard.services.holds import TreeHold, holds_of, reasons_for
from orchard.services.inspections import Period
from orchard.services.permissions import Deed, may
from orchard.services.photos import PhotoFilters
from orchard.services.rounds import Walk, on_the_way
from orchard.services.tasks import (
    BoardRow,
    FirstTasks,
    GroupLine,
    LateInBlock,
    first_tasks,
)
from orchard.services.trees import TreeFilters
from orchard.services.weather import Outside

Role = Membership.Role
FEW = 3
# A phone shows the first page in a screen and a half.
OWN_TASKS = 2
PICTURES = 3
NEW_PHOTOS_FOR = timedelta(days=7)
ANSWERS_FOR = timedelta(days=30)
LINKS_TOLD_FOR = timedelta(days=7)
UNSEEN = TreeFilters(
    state=Tree.State.GROWING, unseen_days=int(days("unseen_days").days)
)
FALLING = TreeFilters(state=Tree.State.GROWING, condition="falling")
SEEN_THIS_MONTH = TreeFilters(state="all", seen_this_month=True)


@dataclass(frozen=True, slots=True)
class Ripening:
    """A kind that is usually ripe in this month, and its growing trees."""

    kind_id: int
    name: str
    trees: int


@dataclass(frozen=True, slots=True)
class FirstStep:
    """One step of a new orchard, and whether it is done."""

    name: str
    done: bool


@dataclass(frozen=True, slots=True)
class HeatAhead:
    """Hot days that are forecast, the job that prepares for them, and its tasks."""

    first_on: date
    highest_c: float
    caution: str
    line: GroupLine | None


@dataclass(frozen=True, slots=True)
class MonthFigures:
    """What was done since the first of the month."""

    inspections: int
    trees_seen: int
    closures: int
    members: int


@dataclass(frozen=True, slots=True)
class Home:
    """The first page of an orchard for one member; None where a part is not theirs."""

    role: str
    works: bool
    trees: int
    steps: tuple[FirstStep, ...] | None
    frost: Brief | None
    covers: tuple[Covered, ...]
    heat: HeatAhead | None
    # The open case that has stood longest, and how many are open.
    case: Case | None
    cases: int | None
    # Links for a new password that were made for a coordinator, newest first.
    links: tuple[Change, ...]
    rounds: tuple[Walk, ...]
    mine: tuple[BoardRow, ...]
    free: tuple[BoardRow, ...]
    # How many tasks the board lists, each by the filter that opens it.
    figures: Mapping[str, int]
    minutes_this_week: int | None
    answered: tuple[SecondLook, ...]
    waiting_for_answer: int
    second_looks: int | None
    came_in: int | None
    late_by_block: tuple[LateInBlock, ...] | None
    unseen: int | None
    falling: int | None
    photos: tuple[Photo, ...] | None
    new_photos: int
    talk_sets: int | None
    ripening: tuple[Ripening, ...] | None
    month: MonthFigures | None

    @property
    def is_urgent(self) -> bool:
        """Tell whether anything stands above all else."""
        return bool(self.frost or self.covers or self.cases or self.heat or self.links)

    @property
    def awaits_answers(self) -> bool:
        """Tell whether second looks of a member who gives none were asked for."""
        return self.second_looks is None and bool(
            self.answered or self.waiting_for_answer
        )

    @property
    def seen_on_rounds(self) -> int:
        return sum(walk.seen for walk in self.rounds)

    @property
    def trees_on_rounds(self) -> int:
        return sum(walk.trees for walk in self.rounds)


def home_today(member: Membership, *, now: datetime, today: date) -> Home:
    """Gather a member's first page: only what the role asks for is asked for."""
    role = Role(member.role)
    orchard = member.orchard
    leads = may(member, Deed.SEE_PRIVATE)
    runs = may(member, Deed.KEEP_RULES)
    works = may(member, Deed.WORK)
    shows = role == Role.EDUCATOR
    holds = holds_of(orchard, today=today) if works else None
    outside = weather.ahead(orchard, today) if works else None
    first = FirstTasks()
    if role == Role.VOLUNTEER:
        first = first_tasks(
            member,
            today=today,
            mine=OWN_TASKS,
            unassigned=FEW,
            holds=holds or {},
            outside=outside,
        )
    totals = tasks.totals_for(member, today=today) if leads else None
    listed = tasks.lists_for(member, today=today)
    counted = count_together(
        orchard, {**listed, **_lists(member, now=now, today=today)}
    )
    return Home(
        role=role.value,
        works=works,
        trees=counted["trees"],
        steps=_first_steps(orchard) if runs and not counted["any_look"] else None,
        frost=brief_of_tonight(orchard, now=now, today=today, holds=holds),
        covers=_late_covers(orchard, now, today) if works else (),
        heat=_heat(member, outside, today),
        case=_oldest_case(orchard) if counted.get("cases") else None,
        cases=counted.get("cases"),
        links=_links(orchard, now) if runs else (),
        rounds=on_the_way(member, today=today) if works else (),
        mine=first.mine,
        figures={name: counted[name] for name in listed},
        free=first.unassigned,
        minutes_this_week=totals.minutes_this_week if totals else None,
        answered=inspections.answers_for(member, since=now - ANSWERS_FOR)
        if works
        else (),
        waiting_for_answer=counted.get("waiting_for_answer", 0),
        second_looks=counted.get("second_looks"),
        came_in=counted.get("came_in"),
        late_by_block=tasks.late_by_block(orchard, totals) if runs and totals else None,
        unseen=counted.get("unseen"),
        falling=counted.get("falling"),
        photos=_newest_photos(member) if shows else None,
        new_photos=counted.get("new_photos", 0),
        talk_sets=counted.get("talk_sets"),
        ripening=_ripening(orchard, today, holds or {}) if shows else None,
        month=MonthFigures(**{name: counted[name] for name in MonthFigures.__slots__})
        if role == Role.OFFICE
        else None,
    )


def _lists(
    member: Membership, *, now: datetime, today: date
) -> dict[str, QuerySet[Any]]:
    """Return what a member's first page counts beside the tasks, by name."""
    orchard = member.orchard
    fitting = partial(trees.trees_that_fit, orchard, today=today)
    seen = partial(inspections.list_inspections, orchard, now=now, today=today)
    lists: dict[str, QuerySet[Any]] = {
        "trees": Tree.objects.in_orchard(orchard).standing()
    }
    if may(member, Deed.KEEP_RULES):
        lists |= {
            "any_look": Inspection.objects.in_orchard(orchard).order_by()[:1],
            "unseen": fitting(filters=UNSEEN),
            "falling": fitting(filters=FALLING),
        }
    if may(member, Deed.WORK):
        asked = inspections.asked_by(member)
        lists["waiting_for_answer"] = asked.filter(answered_at=None)
    if may(member, Deed.SEE_PRIVATE):
        lists |= {
            "second_looks": inspections.open_second_looks(orchard),
            "came_in": seen(Period.TODAY),
            "cases": Case.objects.in_orchard(orchard).open(),
        }
    role = Role(member.role)
    if role == Role.EDUCATOR:
        lately = PhotoFilters(received_since=today - NEW_PHOTOS_FOR)
        lists |= {
            "new_photos": photos.photos_that_fit(member, lately),
            "talk_sets": talks.sets_there(orchard),
        }
    if role == Role.OFFICE:
        lists |= {
            "inspections": seen(Period.MONTH),
            "trees_seen": fitting(filters=SEEN_THIS_MONTH),
            "closures": _closures(orchard, today),
            "members": Membership.objects.in_orchard(orchard).standing(),
        }
    return lists


def _newest_photos(member: Membership) -> tuple[Photo, ...]:
    rows = photos.photos_that_fit(member, PhotoFilters()).prefetch_related("trees")
    return tuple(rows.order_by("-received_at", "-id")[:PICTURES])


def _first_steps(orchard: Orchard) -> tuple[FirstStep, ...]:
    """List what a new orchard needs, until its first tree was looked at."""
    members = Membership.objects.in_orchard(orchard).standing()
    return (
        FirstStep("details", bool(orchard.report_calls)),
        FirstStep("blocks", Block.objects.filter(orchard=orchard).exists()),
        FirstStep("trees", Tree.objects.in_orchard(orchard).exists()),
        FirstStep("tags", Tag.objects.filter(tree__orchard=orchard).exists()),
        FirstStep("people", members[1:2].exists()),
        FirstStep("rounds", Round.objects.in_orchard(orchard).exists()),
    )


def _late_covers(orchard: Orchard, now: datetime, today: date) -> tuple[Covered, ...]:
    """Find the trees that are still under cloth after ten in the morning."""
    return tuple(
        cover for cover in covers_on(orchard, now=now, today=today) if cover.late
    )


def _heat(member: Membership, outside: Outside | None, today: date) -> HeatAhead | None:
    """Tell the hot days that are forecast, and what prepares the trees for them."""
    if outside is None or not outside.hot_days:
        return None
    job = guide.load().job(JobRole.HEAT)
    return HeatAhead(
        first_on=outside.hot_days[0][0],
        highest_c=max(high for _day, high in outside.hot_days),
        caution=job.caution,
        line=tasks.open_line(member, job.key, today=today),
    )


def _oldest_case(orchard: Orchard) -> Case | None:
    cases = Case.objects.in_orchard(orchard).open().select_related("tree")
    return cases.order_by("opened_at", "id").first()


def _links(orchard: Orchard, now: datetime) -> tuple[Change, ...]:
    """Find the links lately made for a new password of somebody who runs the orchard.

    Whoever has such a link can become that person: all who run it are told.
    """
    running = Membership.objects.in_orchard(orchard).standing()
    lines = Change.objects.in_orchard(orchard).written_from(now - LINKS_TOLD_FOR)
    lines = lines.about("user").filter(
        verb=Verb.MAKE_LINK,
        subject_id__in=running.filter(role=Role.COORDINATOR).values("user"),
    )
    return tuple(lines.order_by("-at", "-id")[:FEW])


def _closures(orchard: Orchard, today: date) -> QuerySet[Closure]:
    return Closure.objects.filter(
        task__orchard=orchard,
        # A figure counts what its list shows to everybody.
        task__private=False,
        how=Closure.How.DONE,
        undone_at=None,
        done_on__gte=today.replace(day=1),
        done_on__lte=today,
    )


def _ripening(
    orchard: Any, today: date, holds: Mapping[int, tuple[TreeHold, ...]]
) -> tuple[Ripening, ...]:
    """List the kinds usually ripe this month, as the guide has it.

    A kind of which no tree may be picked is left out.
    """
    month = windows.season_month(today, float(orchard.latitude))
    cultivars = guide.load().cultivars
    trees = Tree.objects.in_orchard(orchard).looked_after()
    left_alone = {
        tree_id
        for tree_id, on_tree in holds.items()
        if reasons_for(on_tree, work=[WorkKind.PICKING])
    }
    kinds = (
        trees.order_by("kind__name")
        .values_list("kind", "kind__name", "kind__guide_key")
        .annotate(number=Count("pk"), free=Count("pk", filter=~Q(pk__in=left_alone)))
    )
    found = []
    for kind_id, name, key, number, free in kinds:
        cultivar = cultivars.get(key)
        if free and cultivar is not None and month in cultivar.ripe_months:
            found.append(Ripening(kind_id, name, number))
    return tuple(found)
