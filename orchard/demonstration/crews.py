"""Crews: what happens in the orchard on a Wednesday morning."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from uuid import UUID

from orchard.demonstration import album, walks
from orchard.demonstration.ground import DECLINING, RECOVERING
from orchard.demonstration.habits import seen_now
from orchard.demonstration.scene import Scene
from orchard.records.models import (
    Closure,
    Membership,
    Round,
    Task,
    Tree,
    User,
)
from orchard.science.words import JobRole
from orchard.services import inspections
from orchard.services.facts import Site, read_site
from orchard.services.inspections import Arrival, Submission, TreeLook
from orchard.services.tasks import Ending, close_all, hand_over_task, take_task

How = Closure.How
Kind = Task.Kind
Role = Membership.Role
HEAT = (4, 5, 6)
# Late tasks that stay on the board at the end of the story.
LEFT_LATE = 15
# How long a task lies after it was due: most not at all, a few for weeks.
PUT_OFF = ((0.76, (0, 0)), (0.88, (1, 10)), (0.95, (12, 24)), (1.0, (30, 62)))
WELL = ("", "", "", "", "Looks happy.", "Clean all over.", "Good colour.")
POOR = ("Thin at the top again.", "Hardly any new growth.", "Much bare wood inside.")
DONE = {
    "sucker_round": ("None found.", "One green one, pulled.", "Two off, south side."),
    "whitewash": ("Two coats, down to the soil.", "One coat, afternoon side."),
    "monthly_look": ("Ring free, ties loose.", "Loosened one tie by a finger's width."),
    "mulch": ("Two barrows, a hand free at the trunk.", "One barrow was enough."),
    "drip_check": ("All run.", "One blocked dripper changed.", "Two emitters cleaned."),
    "feed_1": ("By the label's dose, watered in.",),
    "feed_2": ("By the label's dose, watered in.",),
    "feed_3": ("Small dose, watered in.",),
    "water_new": ("Twenty litres, slowly.", "Fifteen litres, soil was still moist."),
    "rodent_guard": ("Guard sits well.", "Guard loosened."),
    "deadwood": ("A few twigs only.", "One dead limb out, cut at the collar."),
    "skirt": ("Raised to knee height.",),
    "shoulders": ("Shoulders just at the surface.", "Topped up a centimetre."),
    "repot": ("Roots trimmed, fresh mix, same pot.",),
}  # fmt: skip
ACTED = {
    "sucker": (
        "Pulled off flush.",
        "Cut flush with the small saw.",
        "Snapped off green.",
    ),
    "aphids": ("Washed off with water.", "Rubbed off, ants kept down."),
    "ants_trunk": ("Band renewed, bridge branch cut.", "Band cleaned."),
    "overripe": ("Picked, two crates.", "Ground cleared."),
    "young_crop": ("All fruitlets off.",),
    "water_sprout": ("Taken out at the base.",),
    "weeds_ring": ("Weeded by hand, a metre round.",),
    "fruit_split": ("Split fruit picked and binned.",),
    "salt_tips": ("Flushed with three pot volumes.",),
    "leafminer": ("Kept off the feed, leaves left on.",),
}
SKIPPED = (
    "Under water after the rain, not walked on.",
    "Too hot to do it safely this month.",
    "Nobody with the training was there.",
    "Done by the town's gardeners in the meantime.",
)


@dataclass(frozen=True, slots=True)
class TreeVisit:
    """A look at a tree as its form is sent, who saw it, and pictures of its signs."""

    look: TreeLook
    seen_by: User
    pictures: tuple[bytes | None, ...]


@dataclass(frozen=True, slots=True)
class FinishedWork:
    """A piece of work that was done: how it ends, who did it, a picture of it."""

    ending: Ending
    by: User
    picture: bytes | None = None


def visit(scene: Scene, day: date, *, trees: int, hands: int) -> None:
    """Let the crew look at some trees and do what is due, on one morning."""
    crew = _crew(scene)
    hot = scene.month(day) in HEAT
    chosen = _round(scene, day, size=trees - 2 if hot else trees)
    open_tasks: dict[int, list[Task]] = defaultdict(list)
    for task in _in_order(Task.objects.in_orchard(scene.orchard).open().filter(
        tree__in=[tree.pk for tree in chosen], opens_on__lte=day, private=False
    )):  # fmt: skip
        open_tasks[task.tree_id or 0].append(task)
    walk = None
    if walks.are_handed_out(scene, day):
        lead = _hands(scene, Role.LEAD, Role.COORDINATOR)[0]
        walk = walks.begin(scene, day, chosen, lead=lead, walker=crew[-1])
    visits = []
    for turn, tree in enumerate(chosen):
        seen_at = scene.at(day, 8 if hot else 9, 5 + turn * 13 % 55)
        by = scene.dice.choice(crew)
        visits.append(
            _visited(scene, tree, day, seen_at, by, open_tasks[tree.pk], walk)
        )
    _record(scene, visits, read_site(scene.orchard, day))
    if walk is not None:
        walks.end(scene, walk, day)
    chores(scene, day, crew, hands=hands - 6 if hot else hands)


def _visited(
    scene: Scene,
    tree: Tree,
    day: date,
    seen_at: datetime,
    by: User,
    tasks: Sequence[Task],
    walk: Round | None,
) -> TreeVisit:
    """Look at one tree, and tick the work off that was done there."""
    findings = seen_now(scene, tree, day)
    ticked = [task for task in tasks if _is_ticked(scene, task, day)]
    condition = _condition(scene, tree, day) if scene.chance(0.6) else None
    thrives = scene.standing[tree.code] > 2.7
    # A few are entered only days later, at home.
    delay = timedelta(days=2) if scene.chance(0.015) else timedelta(minutes=6)
    look = TreeLook(
        tree,
        Submission(
            seen_at=seen_at,
            findings=tuple(findings),
            all_well=not findings and thrives,
            condition=condition,
            note="" if findings else scene.dice.choice(WELL if thrives else POOR),
            done_tasks=tuple(task.pk for task in ticked),
        ),
        by=walk.taken_by if walk and walk.taken_by else by,
        now=min(seen_at + delay, scene.now),
        key=UUID(int=scene.dice.getrandbits(128), version=4),
        arrival=Arrival(round=walk),
    )
    pictures = tuple(album.of_sign(scene, seen.sign, seen_at) for seen in findings)
    return TreeVisit(look, by, pictures)


def _record(scene: Scene, visits: Sequence[TreeVisit], site: Site) -> None:
    """Record the looks of a morning, with their pictures."""
    recorded = inspections.submit_all([visit.look for visit in visits], site=site)
    for visit, logged in zip(visits, recorded, strict=True):
        at = visit.look.submission.seen_at
        for finding, picture in zip(logged.findings, visit.pictures, strict=True):
            if picture is not None:
                album.store_of_finding(scene, picture, finding, by=visit.seen_by, at=at)


def chores(scene: Scene, day: date, crew: list[User], *, hands: int) -> None:
    """Do tasks that are late or due before the crew is back, as hands allow."""
    back = day + scene.rhythm(day) + timedelta(days=2)
    due = Task.objects.in_orchard(scene.orchard).open().filter(
        opens_on__lte=day, due_on__lte=back, private=False
    )  # fmt: skip
    done: list[FinishedWork] = []
    # Entered together, in the shed.
    now = scene.at(day, 11, scene.dice.randrange(0, 55))
    for task in _in_order(due):
        if len(done) >= hands:
            break
        if task.kind == Kind.LOOK or _waits(scene, task, day):
            continue
        done.append(_do(scene, task, day, now, scene.dice.choice(crew)))
    _close(scene, done, day)


def clear_the_board(scene: Scene, day: date) -> None:
    """Let a lead alone bring what is late down to what a real board shows."""
    by = next(user for user in _hands(scene, Role.LEAD, Role.COORDINATOR))
    late = _in_order(
        Task.objects.in_orchard(scene.orchard)
        .open()
        .filter(opens_on__lte=day, due_on__lt=scene.ends_on, private=False)
    )
    # The longest late stay, with some of the fresh ones: that is what boards look like.
    oldest = min(LEFT_LATE * 3 // 5, len(late))
    fresh = range(oldest, len(late))
    kept = {
        *range(oldest),
        *scene.dice.sample(fresh, min(LEFT_LATE - oldest, len(fresh))),
    }
    for place, task in enumerate(late):
        if place in kept:
            continue
        if task.kind == Kind.LOOK and task.tree_id is not None:
            tree = Tree.objects.select_related("kind", "spot__block").get(
                pk=task.tree_id
            )
            tree.orchard = scene.orchard
            _look_well(scene, tree, day, by, task)
        else:
            task.refresh_from_db(fields=["closed_at"])
            # A look at its tree may have closed it.
            if task.closed_at is None:
                now = scene.at(day, 11, scene.dice.randrange(0, 55))
                _close(scene, [_do(scene, task, day, now, by)], day)


def take_in_hand(scene: Scene, day: date) -> None:
    """Let some people take work for the next morning, and a lead hand some out."""
    people = _hands(scene, Role.VOLUNTEER, Role.LEAD)
    tasks = _in_order(
        Task.objects.in_orchard(scene.orchard)
        .open()
        .filter(opens_on__lte=day, private=False)
    )
    some = scene.dice.sample(tasks, min(len(tasks), len(tasks) // 8 + 2))
    lead = _hands(scene, Role.LEAD, Role.COORDINATOR)[0]
    for place, task in enumerate(some):
        person = scene.dice.choice(people)
        now = scene.at(day, 19, place)
        if place % 3:
            take_task(task, by=person, now=now)
        else:
            hand_over_task(task, to=person, by=lead, now=now)


def _do(scene: Scene, task: Task, day: date, now: datetime, by: User) -> FinishedWork:
    """Do a task, or now and then leave it undone for a reason."""
    if scene.chance(0.012):
        reason = scene.dice.choice(SKIPPED)
        return FinishedWork(
            Ending(task, by, now, day, how=How.SKIPPED, reason=reason), by
        )
    sentences = (DONE if task.kind == Kind.CARE else ACTED).get(task.key, ("Done.",))
    evidence = scene.dice.choice(sentences) if scene.chance(0.85) else ""
    cut = 10 if task.has_role(JobRole.CUT_TEST) else None
    ending = Ending(
        task, by, now, day, evidence=evidence, fruit_cut=cut, fruit_spoilt=cut and 0
    )
    return FinishedWork(ending, by, album.of_work(scene, task, now))


def _close(scene: Scene, done: Sequence[FinishedWork], day: date) -> None:
    """Close what was done on a morning, and keep the pictures of it."""
    closures = close_all([work.ending for work in done], today=day)
    for work, closure in zip(done, closures, strict=True):
        if work.picture is not None:
            at = work.ending.now
            album.store_of_work(scene, work.picture, closure, by=work.by, at=at)


def _look_well(scene: Scene, tree: Tree, day: date, by: User, task: Task) -> None:
    inspections.record(
        tree,
        by=by,
        now=scene.at(day, 11, 40),
        seen_at=scene.at(day, 11, 30),
        all_well=True,
        key=UUID(int=scene.dice.getrandbits(128), version=4),
        done_tasks=[task.pk],
    )


def _crew(scene: Scene) -> list[User]:
    hands = _hands(scene, Role.VOLUNTEER, Role.LEAD)
    return scene.dice.sample(hands, min(len(hands), scene.dice.randint(3, 6)))


def _hands(scene: Scene, *roles: Role) -> list[User]:
    """List the members of some roles, those of the first role first."""
    members = (
        Membership.objects.standing()
        .in_orchard(scene.orchard)
        .filter(role__in=roles)
        .select_related("user")
        .order_by("user__email")
    )
    return [
        member.user
        for member in sorted(members, key=lambda member: member.role != roles[0])
    ]


def _round(scene: Scene, day: date, *, size: int) -> list[Tree]:
    """Choose the trees of a morning: those to be looked at again, then the unseen."""
    growing = Tree.objects.in_orchard(scene.orchard).looked_after()
    lately = {
        pk: (seen_on or date.min, code)
        for pk, seen_on, code in growing.filter(planted_on__lte=day).values_list(
            "pk", "last_seen_on", "code"
        )
    }
    again = dict.fromkeys(
        Task.objects.in_orchard(scene.orchard)
        .open()
        .filter(kind=Kind.LOOK, opens_on__lte=day, private=False)
        .order_by("due_on", "tree__code", "key")
        .values_list("tree_id", flat=True)
    )
    first = [pk for pk in again if pk in lately][: size * 2 // 3]
    rest = sorted(lately.keys() - set(first), key=lately.__getitem__)
    chosen = first + rest[: size - len(first)]
    trees = list(
        growing.filter(pk__in=chosen)
        .select_related("kind", "spot__block")
        .order_by("code")
    )
    for tree in trees:
        tree.orchard = scene.orchard
    return trees


def _in_order(tasks) -> list[Task]:  # type: ignore[no-untyped-def]
    """Order tasks by what stands on them, so that a seed tells one story.

    Whoever closes or takes one reads the rest of it.
    """
    columns = tasks.only("kind", "key", "due_on", "opens_on", "tree", "orchard")
    return list(columns.order_by("due_on", "kind", "key", "tree__code", "block__code"))


def _is_ticked(scene: Scene, task: Task, day: date) -> bool:
    if task.kind == Kind.LOOK:
        return True
    if task.has_role(JobRole.CUT_TEST):
        return False
    return not _waits(scene, task, day) and scene.chance(0.85)


def _waits(scene: Scene, task: Task, day: date) -> bool:
    """Say whether somebody still lets a task lie; most are done in time, some late."""
    if task.pk not in scene.put_off:
        draw = scene.dice.random()
        least, most = next(days for share, days in PUT_OFF if draw < share)
        scene.put_off[task.pk] = scene.dice.randint(least, most)
    days = scene.put_off[task.pk]
    return days > 0 and day < task.due_on + timedelta(days=days)


def _condition(scene: Scene, tree: Tree, day: date) -> int:
    """Score a tree: its standing drifts slowly, and every eye is a little different."""
    code = tree.code
    drift = DECLINING.get(code, 0.0) + RECOVERING.get(code, 0.0)
    years = (day - scene.scored.get(code, scene.starts_on)).days / 365.25
    scene.scored[code] = day
    now = scene.standing[code] + drift * years + scene.dice.uniform(-0.06, 0.06)
    scene.standing[code] = min(4.9, max(1.3, now))
    return min(5, max(1, round(scene.standing[code] + scene.dice.uniform(-0.3, 0.3))))
