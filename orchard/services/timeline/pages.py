"""All of a tree's life in one view, newest first, page by page."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass, replace
from datetime import date
from typing import Any
from zoneinfo import ZoneInfo

from django.db.models import Exists, Min, OuterRef, Subquery

from orchard.records.models import (
    Case,
    Closure,
    Happening,
    HarvestedTree,
    Inspection,
    LeafTest,
    Membership,
    Photo,
    PhotoLink,
    RipenessTest,
    Stay,
    Task,
    TreatedTree,
    Tree,
)
from orchard.science import events
from orchard.science.words import Lane
from orchard.services import permissions
from orchard.services.permissions import Deed
from orchard.services.timeline import doings, looks, traces
from orchard.services.timeline.doings import Kin
from orchard.services.timeline.shapes import (
    Event,
    Mark,
    Rank,
    Scope,
    Seen,
    Shot,
    Timeline,
)
from orchard.services.timeline.traces import DoneBefore, done_before

__all__ = [
    "DoneBefore",
    "Event",
    "Kin",
    "Lane",
    "Mark",
    "Past",
    "Rank",
    "Seen",
    "Shot",
    "Timeline",
    "done_before",
    "open_tasks",
    "past_scores",
    "best_photo",
    "timeline_of",
]

ALL_LANES = frozenset(Lane)


@dataclass(frozen=True, slots=True)
class Past:
    """What a tree's page needs before its timeline: kin, cases, first record."""

    kin: Kin
    cases: tuple[Case, ...]
    first_on: date | None
    # Of what most trees have nothing, what is on record of this one.
    has: frozenset[Rank]

    @property
    def open_cases(self) -> tuple[Case, ...]:
        return tuple(case for case in self.cases if case.closed_at is None)


def past_scores(tree: Tree) -> Past:
    """Return what stands on record of a tree, as far as its page must know it first."""
    mine = OuterRef("pk")

    def earliest(rows: type, field: str, link: str = "tree", **only: Any) -> Subquery:
        days = rows.objects.filter(**{link: mine}, **only).values(link)  # type: ignore[attr-defined]
        return Subquery(days.annotate(day=Min(field)).values("day"))

    seldom = {
        Rank.SHIFTED: traces.moved().filter(tree=mine),
        Rank.PHOTO: PhotoLink.objects.filter(tree=mine),
        Rank.LEAVES: LeafTest.objects.filter(tree=mine),
        Rank.TESTED: RipenessTest.objects.filter(tree=mine),
        Rank.TREATED: TreatedTree.objects.filter(tree=mine),
        Rank.PICKED: HarvestedTree.objects.filter(tree=mine),
        Rank.CASE_OPENED: Case.objects.filter(tree=mine),
    }
    row = (
        Tree.objects.filter(pk=tree.pk)
        .annotate(
            **{rank.name: Exists(rows) for rank, rows in seldom.items()},
            first_look=earliest(Inspection, "seen_on"),
            first_event=earliest(Happening, "happened_on"),
            first_work=earliest(
                Closure, "done_on", "task__tree", task__closed_at__isnull=False
            ),
        )
        .values(
            *(rank.name for rank in seldom),
            "first_look",
            "first_event",
            "first_work",
            "born_on",
            "planted_on",
            "replaces__code",
            "replaced_by__code",
            "replaced_by__id",
            "replaced_by__planted_on",
            "replaced_by__planted_precision",
        )
        .get()
    )
    days = (
        row["first_look"],
        row["first_event"],
        row["first_work"],
        row["born_on"],
        row["planted_on"],
    )
    has = frozenset(rank for rank in seldom if row[rank.name])
    cases = Case.objects.filter(tree_id=tree.pk).order_by("id")
    return Past(
        kin=Kin(
            before=row["replaces__code"] or "",
            after=row["replaced_by__code"] or "",
            after_id=row["replaced_by__id"] or 0,
            after_planted_on=row["replaced_by__planted_on"],
            after_precision=row["replaced_by__planted_precision"] or "",
        ),
        cases=tuple(cases.select_related("opened_by", "closed_by"))
        if Rank.CASE_OPENED in has
        else (),
        first_on=min((day for day in days if day), default=None),
        has=has,
    )


def best_photo(tree: Tree, past: Past) -> Shot | None:
    """Return the picture that shows a tree best: of all of it before a part of it.

    The newest of its own, else the newest of an inspection or a task; none that only
    some may see.
    """
    if Rank.PHOTO not in past.has:
        return None
    links = PhotoLink.objects.filter(tree_id=tree.pk).values("photo_id")
    of_part = PhotoLink.objects.of_photo().about("inspection", "finding", "closure")
    row = (
        Photo.objects.current()
        .open_to_all()
        .filter(pk__in=links)
        .annotate(shows_part=Exists(of_part))
        .order_by("shows_part", "-received_at", "-id")
        .values(*looks.SHOT)
        .first()
    )
    return looks.shot_of(dict(row)) if row else None


def open_tasks(tree: Tree, member: Membership) -> list[Task]:
    """Return what is to be done at a tree, as far as the member may see it."""
    tasks = Task.objects.filter(tree_id=tree.pk, closed_at=None)
    if not permissions.may(member, Deed.SEE_PRIVATE):
        tasks = tasks.filter(private=False)
    tasks = tasks.select_related("taken_by", "finding__inspection", "request")
    rows = list(tasks.order_by("due_on", "rank", "id"))
    for task in rows:
        task.tree = tree
    return rows


def timeline_of(
    tree: Tree,
    member: Membership,
    *,
    today: date,
    before: Mark | None = None,
    lanes: Collection[Lane] | None = None,
    year: int | None = None,
    undone: bool = False,
    size: int = 50,
    past: Past | None = None,
) -> Timeline:
    """Return what happened to a tree, newest first, as the member may see it.

    Every source is asked for one row more than fits, and only for rows that come after
    `before`; so the next page begins where this one ends, whatever was added meanwhile,
    and the number of queries does not depend on how long the tree has lived.
    """
    lanes = ALL_LANES if not lanes else frozenset(lanes)
    past = past or past_scores(tree)
    scope = Scope(
        tree=tree,
        member=member,
        zone=ZoneInfo(tree.orchard.time_zone),
        sees_private=permissions.may(member, Deed.SEE_PRIVATE),
        before=before,
        year=year,
        undone=undone,
        size=size + 1,
    )
    found = sorted(
        _gathered(scope, lanes, past), key=lambda event: event.mark, reverse=True
    )
    page = found[:size]
    return Timeline(
        events=tuple(_with_photos_together(_filled(scope, page))),
        older=page[-1].mark if len(found) > size else None,
        years=_years(past.first_on, tree.removed_on or today),
    )


def _gathered(scope: Scope, lanes: Collection[Lane], past: Past) -> list[Event]:
    found: list[Event] = []
    if Lane.LOOKS in lanes:
        found += looks.inspections(scope)
        if Rank.SHIFTED in past.has:
            found += traces.moves(scope)
        found += looks.cases(scope, past.cases)
    if Lane.WORK in lanes:
        found += doings.closures(scope)
        if Rank.LEAVES in past.has:
            found += doings.leaf_tests(scope)
        if Rank.TESTED in past.has:
            found += doings.ripeness_tests(scope)
        if Rank.TREATED in past.has:
            found += doings.treatments(scope)
        if Rank.PICKED in past.has:
            found += doings.picks(scope)
    if Lane.LIFE in lanes:
        stays = Stay.objects.filter(tree_id=scope.tree.pk).select_related("spot__block")
        found += doings.life(scope, list(stays.order_by("id")), past.kin)
    if events.kinds_in(lanes):
        found += doings.happenings(scope, lanes)
    if Lane.WEATHER in lanes:
        found += looks.stages(scope)
    if Lane.PHOTOS in lanes and Rank.PHOTO in past.has:
        found += looks.photos(scope, lanes)
    return found


def _filled(scope: Scope, page: Iterable[Event]) -> list[Event]:
    """Put findings and photos to the looks, and photos to the work, of a page."""
    page = list(page)
    seen_at = [event.mark.id for event in page if event.mark.rank is Rank.LOOK]
    done_at = [event.mark.id for event in page if event.mark.rank is Rank.WORK]
    seen = looks.findings(scope, seen_at) if seen_at else {}
    of_looks, of_work = (
        looks.attached(scope, seen_at, done_at) if seen_at or done_at else ({}, {})
    )
    again = traces.done_before(
        (number for event in page for number in event.ticked_again),
        sees_private=scope.sees_private,
    )
    filled = []
    for event in page:
        number = event.mark.id
        if event.mark.rank is Rank.LOOK:
            event = replace(
                event,
                seen=tuple(seen.get(number, ())),
                shots=tuple(of_looks.get(number, ())),
                private=any(finding.private for finding in seen.get(number, ())),
                done_before=tuple(
                    again[task].text for task in event.ticked_again if task in again
                ),
            )
        elif event.mark.rank is Rank.WORK:
            shots = tuple(of_work.get(number, ()))
            event = replace(event, shots=shots, unproven=event.unproven and not shots)
        filled.append(event)
    return filled


def _with_photos_together(page: Iterable[Event]) -> list[Event]:
    """Join loose photos that one person brought on one day into one line."""
    joined: list[Event] = []
    for event in page:
        last = joined[-1] if joined else None
        if (
            last is not None
            and event.mark.rank is Rank.PHOTO is last.mark.rank
            and (event.on, event.by_id) == (last.on, last.by_id)
            and not (event.undone or last.undone)
        ):
            joined[-1] = replace(last, shots=last.shots + event.shots)
        else:
            joined.append(event)
    return joined


def _years(first: date | None, last: date) -> tuple[int, ...]:
    """Return the years in which something may have happened, the latest first."""
    if first is None:
        return (last.year,)
    return tuple(range(max(last.year, first.year), first.year - 1, -1))
