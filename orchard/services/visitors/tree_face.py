"""What a tag tells anybody who scans it: the tree, and nothing about people."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date, datetime

from orchard.records.days import day_in
from orchard.records.models import (
    Closure,
    GrowingTree,
    Kind,
    Photo,
    Tag,
    Task,
    Tree,
)
from orchard.science import guide, windows
from orchard.science.figures import days, figure
from orchard.science.guide import CareJob, Sign
from orchard.science.words import HoldKind, JobRole
from orchard.services import care_plan, ripeness
from orchard.services.care_plan import Context
from orchard.services.errors import NotThere
from orchard.services.holds import holds_of
from orchard.services.visitors.findings import (
    PublicFinding,
    findings_now,
    signs_for_all,
)
from orchard.services.visitors.pictures import picture_of
from orchard.services.weather import frost_risk


@dataclass(frozen=True, slots=True)
class Promise:
    """What is done for a tree, because its orchard's care plan has it."""

    text: str
    covers: bool


@dataclass(frozen=True, slots=True)
class DoneLately:
    """Work done at a tree, by its everyday name."""

    what: str
    done_on: date


@dataclass(frozen=True, slots=True)
class FruitNow:
    """How near the fruit of a tree is: ripe, picked, in season, or its next season."""

    state: str
    first: date | None
    last: date | None


@dataclass(frozen=True, slots=True)
class PublicFace:
    """A tree as its tag shows it; no position, no person, no suspicion."""

    orchard_name: str
    # Its page for visitors; empty where it has none.
    orchard_slug: str
    code: str
    kind: str
    believed: bool
    planted_year: int | None
    rootstock: str
    own_roots: bool
    state: str
    # None until somebody lets everybody see one.
    picture: Photo | None
    story: str
    kind_story: str
    ripe_months: tuple[int, ...]
    hang_weeks: int
    ripening: FruitNow | None
    findings: tuple[PublicFinding, ...]
    done: tuple[DoneLately, ...]
    promises: tuple[Promise, ...]
    tender: guide.Tenderness | None
    cover_at_c: float
    units: str
    is_retired: bool
    removed_year: int | None
    # What nobody may do there after a treatment; never what is suspected.
    closed: tuple[str, ...]
    # The tree that stands in its place, and its tag; empty while there is none.
    successor: str
    successor_token: str

    @property
    def is_covered(self) -> bool:
        """Whether the plan has it covered before a frost."""
        return any(promise.covers for promise in self.promises)


def tag_for(token: str) -> Tag:
    """Return a tag by its token, retired ones included, with tree and orchard.

    Raises:
        NotThere: no tag ever had this token.
    """
    if not re.fullmatch(r"[\w-]{1,32}", token, re.ASCII):
        raise NotThere()
    tag = (
        Tag.objects.select_related("tree__kind", "tree__orchard", "tree__spot")
        .filter(token=token)
        .first()
    )
    if tag is None:
        raise NotThere()
    return tag


def public_face(tag: Tag, *, now: datetime) -> PublicFace:
    """Return what anybody may know of the tree of a tag."""
    tree = tag.tree
    orchard, kind = tree.orchard, tree.kind
    cultivar = guide.load().cultivars.get(kind.guide_key)
    months = cultivar.ripe_months if cultivar else ()
    today = day_in(now, orchard.time_zone)
    newer = _tag_of_successor(tree)
    first = windows.first_month(float(orchard.latitude))
    # Without holds: what a case forbids changes nothing here.
    context = care_plan.gather_context(orchard, today=today, holds={}, tree=tree.pk)
    growing = context.growing(tree.pk)
    signs = signs_for_all(orchard, today) if tree.is_standing else {}
    return PublicFace(
        orchard_name=orchard.name,
        orchard_slug=orchard.slug if orchard.public_page else "",
        code=tree.code,
        kind=kind.name,
        believed=tree.believed,
        planted_year=tree.planted_on.year if tree.planted_on else None,
        rootstock=tree.rootstock,
        own_roots=tree.own_roots,
        state=tree.state,
        picture=picture_of(tree),
        story=tree.story,
        kind_story=kind.story,
        ripe_months=tuple((first - 1 + month - 1) % 12 + 1 for month in months),
        hang_weeks=cultivar.hang_weeks if cultivar else 0,
        ripening=_ripening(growing, context) if growing else None,
        findings=findings_now(tree, signs) if growing else (),
        done=_done_lately(tree, signs, today) if tree.is_standing else (),
        promises=_promises(growing, context) if growing else (),
        tender=_tenderness(kind),
        cover_at_c=frost_risk(
            tree, 0.0, today, soft_growth=False, fruit_hanging=False
        ).cover_at_c,
        units=orchard.units,
        is_retired=tag.retired_at is not None,
        removed_year=tree.removed_on.year if tree.removed_on else None,
        closed=_closed(tree, today, now) if tree.is_standing else (),
        successor=newer.tree.code if newer else "",
        successor_token=newer.token if newer else "",
    )


def _ripening(tree: GrowingTree, context: Context) -> FruitNow | None:
    """Return how near its fruit is; None where it bears none, as far as is known."""
    rows = ripeness.ripeness_of_kinds(
        context.orchard, today=context.today, context=context
    )
    row = next((row for row in rows if tree in row.trees), None)
    if row is None or row.season is None:
        return None
    first, last = row.season
    if row.picked:
        return FruitNow("picked", first, last)
    if row.is_ready:
        return FruitNow("ripe", first, last)
    return FruitNow("season" if first <= context.today else "later", first, last)


def _promises(tree: GrowingTree, context: Context) -> tuple[Promise, ...]:
    """List what the plan has for a tree, as far as visitors are told of it."""
    return tuple(
        Promise(job.for_visitors, covers=JobRole.COVER_ON in job.roles)
        for job in care_plan.jobs_for(tree, context)
        if job.for_visitors
    )


def _done_lately(
    tree: Tree, signs: dict[str, Sign], today: date
) -> tuple[DoneLately, ...]:
    """List what was done at a tree, newest first: each work once, and only open work.

    Of what a person asked for, only what is a job of the guide.
    """
    names = {key: sign.name for key, sign in signs.items()}
    jobs: dict[str, CareJob] = {
        key: job for key, job in guide.load().jobs.items() if job.for_visitors
    }
    rows = (
        Closure.objects.filter(
            task__tree=tree,
            task__private=False,
            task__kind__in=(*Task.OF_A_JOB, Task.Kind.ACT),
            how=Closure.How.DONE,
            undone_at=None,
            done_on__gt=today - days("visitors_back_days"),
            done_on__lte=today,
        )
        .order_by("-done_on", "-pk")
        .values_list("task__kind", "task__key", "done_on")
    )
    found: dict[str, date] = {}
    for kind, key, done_on in rows:
        if kind == Task.Kind.ACT:
            what = names.get(key, "")
        else:
            what = jobs[key].name if key in jobs else ""
        if what:
            found.setdefault(what, done_on)
    most = round(figure("visitors_lately_most").value)
    return tuple(DoneLately(what, on) for what, on in list(found.items())[:most])


def _closed(tree: Tree, today: date, now: datetime) -> tuple[str, ...]:
    found = holds_of(tree.orchard, [tree.pk], today=today, now=now)
    public = (HoldKind.ENTRY, HoldKind.HARVEST)
    return tuple(hold.reason for hold in found.get(tree.pk, ()) if hold.kind in public)


def _tag_of_successor(tree: Tree) -> Tag | None:
    """Return the tag on the tree that stands now where a removed one stood."""
    if tree.removed_on is None:
        return None
    newer = Tree.objects.filter(replaces=tree).first()
    while newer is not None and newer.removed_on is not None:
        newer = Tree.objects.filter(replaces=newer).first()
    if newer is None:
        return None
    tags = Tag.objects.filter(tree=newer, retired_at=None)
    return tags.select_related("tree").order_by("-id").first()


def _tenderness(kind: Kind) -> guide.Tenderness | None:
    return guide.load().tenderness.get(kind.tender_class)
