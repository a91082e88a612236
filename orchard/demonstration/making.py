"""Making: run the days of each demonstration orchard one after the other."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import partial
from itertools import groupby
from random import Random
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db import transaction

from orchard.demonstration import (
    album,
    cast,
    crews,
    harvesting,
    plan,
    skies,
    story,
    tasting,
    walks,
    year,
)
from orchard.demonstration.cast import FIRST, INVITED, PASSWORD, SECOND, CastMember
from orchard.demonstration.ground import (
    PLOTS,
    SAPLINGS,
    SMALL,
    SOUTH_PLOTS,
    SOUTH_SAPLINGS,
    SOUTH_SMALL,
    lay_out,
)
from orchard.demonstration.scene import Say, Scene
from orchard.records.models import Membership, Orchard, Tag, User
from orchard.services import accounts, audit, care_plan, house_rules, orchards, photos
from orchard.services.batches import no_looking_for_cycles
from orchard.services.trees import TagChoice, make_tags, trees_for_tags

# For how long the crews have come every week.
FIRST_RECENT, SECOND_RECENT = timedelta(days=200), timedelta(days=90)
AUTHORITY = "Plant health office of the province (invented)"
EMERGENCY = (
    "Call the emergency number of the country, then the coordinator. First-aid box and "
    "eye wash are in the shed, left of the door."
)
VISITING = (
    "Open every Saturday from 10 to 13. Wear shoes that may get wet, and leave the "
    "picking to us: on open days there is fruit to taste at the shed."
)


@dataclass(frozen=True, slots=True)
class DemonstrationSignIn:
    """How one person of the cast signs in, for trying the book."""

    role: str
    name: str
    email: str
    password: str
    orchards: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class StoryEvent:
    """Something that is to happen at a moment; `place` orders those of one day."""

    on: date
    place: int
    tell: Callable[[date], object]


def build(
    *,
    now: datetime,
    seed: int = 11,
    small: bool = False,
    say: Say = lambda text: None,
) -> tuple[Orchard, Orchard]:
    """Make both orchards, all of it or nothing, ending at the present moment.

    The same seed and day tell the same story; only tokens and file names differ.
    """
    # Laid down so far, should all have to be taken back.
    laid: list[UUID] = []
    try:
        with no_looking_for_cycles(), transaction.atomic():
            first = _first(now, Random(seed), laid, small, say)
            second = _second(now, Random(seed + 1), laid, small, say)
    except BaseException:
        photos.take_away(laid)
        raise
    return first.orchard, second.orchard


def _first(
    now: datetime, dice: Random, laid: list[UUID], small: bool, say: Say
) -> Scene:
    zone = ZoneInfo("Europe/Lisbon")
    starts_on = now.astimezone(zone).date() - timedelta(days=62 if small else 913)
    began = datetime.combine(starts_on, datetime.min.time(), zone).replace(hour=9)
    founder = cast.first_person(FIRST[0], now=began)
    say("The Old Cistern Orchard in Solvarra: people, blocks and trees")
    orchard = orchards.found(
        name="The Old Cistern Orchard",
        slug="old-cistern",
        place="Solvarra (invented)",
        time_zone="Europe/Lisbon",
        latitude="38.41",
        longitude="-8.62",
        region="med_europe",
        elevation_m=140,
        frost_from="SM9-10",
        frost_to="SM1-10",
        coordinator=founder,
        now=began,
        authority_name=AUTHORITY,
        authority_contact="plant-health@example.org",
        authority_phone="+351 555 0199",
        report_name=FIRST[0].name,
        report_phone="+351 555 0101",
        record_profile="eu",
        public_use="with_notice",
        ambulance_phone="+351 555 0112",
        poison_phone="+351 555 0180",
        environment_phone="+351 555 0170",
        hospital="Solvarra clinic, Rua do Moinho 4",
        access_point="The lower gate, beside the cistern",
        responsible_person="Tomas Pereval, +351 555 0102",
        public_page=True,
        visiting_words=VISITING,
        emergency_note=EMERGENCY,
        crew_hours=24,
    )
    people = {FIRST[0].name: founder}
    scene = Scene(orchard, dice, now, starts_on, FIRST_RECENT, laid, people)
    rows = tuple(row for row in SAPLINGS if not small or row.code in SMALL)
    lay_out(scene, PLOTS, rows, by=founder, day=starts_on)
    _confirm_pests(scene, by=founder, day=starts_on)
    plan.settle(scene, by=founder, now=scene.at(starts_on, 12), today=starts_on)
    _tags(scene, founder)
    skies.begin(scene, founder)
    album.plan(scene, share=0.1 if small else 1.0)
    dice_of_skies = _own_dice(scene)
    still = dict(skies.quiet_mondays(scene, dice_of_skies))
    educator = FIRST[3].name
    events = [
        *_people(scene, FIRST),
        *_seasons(scene, FIRST[0].name),
        *_portraits(scene, FIRST[1].name if small else educator),
        *_weeks(scene, say, still, trees=6 if small else 8, hands=8 if small else 34),
        StoryEvent(
            _ago(scene, 1),
            10,
            partial(walks.hand_out, scene, lead=FIRST[1].name, walker="Ana Solmarin"),
        ),
        *(
            StoryEvent(day, 5, partial(turn.tell, scene))
            for day, turn in story.turns_of(scene)
        ),
        *_harvest(scene),
        *_older_portraits(scene, FIRST[1].name),
        StoryEvent(_ago(scene, 7), 7, partial(album.write_stories, scene, educator)),
        StoryEvent(_ago(scene, 6), 7, partial(album.confirm, scene, educator)),
        StoryEvent(
            _ago(scene, 6), 8, partial(album.portrait_of_confirmed, scene, educator)
        ),
        StoryEvent(_ago(scene, 6), 9, partial(album.describe_work, scene, educator)),
        StoryEvent(_ago(scene, 5), 8, partial(album.give_talk, scene, educator)),
        StoryEvent(_ago(scene, 3), 7, partial(_invite, scene, FIRST[0].name)),
        *_skies(scene, still, dice_of_skies, FIRST[1].name),
    ]
    _run(events)
    days = skies.SOME_MONTHS if small else skies.TWO_YEARS
    skies.finish(scene, _own_dice(scene), name=FIRST[0].name, crowns=30, days=days)
    return scene


def _second(
    now: datetime, dice: Random, laid: list[UUID], small: bool, say: Say
) -> Scene:
    zone = ZoneInfo("Australia/Adelaide")
    starts_on = now.astimezone(zone).date() - timedelta(days=62 if small else 150)
    began = datetime.combine(starts_on, datetime.min.time(), zone).replace(hour=9)
    founder = cast.first_person(SECOND[0], now=began)
    say("The Long Paddock Orchard in Kelloway Bend: people, blocks and trees")
    orchard = orchards.found(
        name="The Long Paddock Orchard",
        slug="long-paddock",
        place="Kelloway Bend (invented)",
        time_zone="Australia/Adelaide",
        latitude="-34.52",
        longitude="138.96",
        region="south_australia",
        elevation_m=85,
        frost_from="SM9-10",
        frost_to="SM1-20",
        coordinator=founder,
        now=began,
        authority_name=AUTHORITY,
        authority_contact="biosecurity@example.org",
        authority_phone="+61 555 0199",
        report_name=SECOND[0].name,
        report_phone="+61 555 0101",
        record_profile="au",
        emergency_note=EMERGENCY,
        crew_hours=10,
    )
    people = {SECOND[0].name: founder}
    scene = Scene(orchard, dice, now, starts_on, SECOND_RECENT, laid, people)
    rows = tuple(r for r in SOUTH_SAPLINGS if not small or r.code in SOUTH_SMALL)
    lay_out(scene, SOUTH_PLOTS, rows, by=founder, day=starts_on)
    _confirm_pests(scene, by=founder, day=starts_on)
    plan.settle(scene, by=founder, now=scene.at(starts_on, 12), today=starts_on)
    _tags(scene, founder)
    skies.begin(scene, founder)
    album.plan(scene, share=0.0 if small else 0.1)
    dice_of_skies = _own_dice(scene)
    still = dict(skies.quiet_mondays(scene, dice_of_skies))
    events = [
        *_people(scene, SECOND),
        *_seasons(scene, SECOND[0].name),
        *([] if small else _portraits(scene, SECOND[0].name)),
        *_weeks(scene, say, still, trees=3, hands=7),
        *_skies(scene, still, dice_of_skies, SECOND[0].name),
    ]
    _run(events)
    days = skies.SOME_MONTHS if small else skies.TWO_YEARS
    skies.finish(scene, _own_dice(scene), name=SECOND[0].name, crowns=8, days=days)
    return scene


def _ago(scene: Scene, days: int) -> date:
    return scene.ends_on - timedelta(days=days)


def _run(events: list[StoryEvent]) -> None:
    # Inside the one transaction of `build`: rows and lines stand or fall together. No
    # event asks the ledger what another of its month has written.
    in_order = sorted(events, key=lambda event: (event.on, event.place))
    for _month, of_month in groupby(
        in_order, key=lambda event: event.on.replace(day=1)
    ):
        with audit.written_together():
            for event in of_month:
                event.tell(event.on)


def _confirm_pests(scene: Scene, *, by: User, day: date) -> None:
    """Set how pests stand, as a coordinator does after a call to the authority."""
    orchard = scene.orchard
    house_rules.confirm_pests(
        orchard,
        statuses=house_rules.suggested_status(orchard.region),
        source=f"{AUTHORITY}, by telephone",
        by=by,
        now=scene.at(day, 11),
    )


def _people(scene: Scene, parts: tuple[CastMember, ...]) -> list[StoryEvent]:
    """Let people join when their time has come, and leave when it is over."""
    earliest = scene.starts_on + timedelta(days=1)
    events = []
    for part in parts[1:]:
        on = max(earliest, scene.ends_on - timedelta(days=part.joined))
        off = scene.ends_on - timedelta(days=part.left) if part.left else None
        if off is not None and off <= on:
            continue
        events.append(StoryEvent(on, 1, partial(cast.join, scene, part)))
        if off is not None:
            events.append(StoryEvent(off, 9, partial(cast.leave, scene, part)))
    return events


def _seasons(scene: Scene, name: str) -> list[StoryEvent]:
    return [
        StoryEvent(note.on, 2, partial(year.write, scene, note, by=name))
        for note in year.notes_of(scene, sorted(scene.trees))
    ]


def _portraits(scene: Scene, name: str) -> list[StoryEvent]:
    return [
        StoryEvent(day, 6, partial(album.portrait, scene, code, motif, name=name))
        for day, code, motif in album.portraits_due(scene)
    ]


def _older_portraits(scene: Scene, name: str) -> list[StoryEvent]:
    """List portraits with dice of their own, so that they change nothing else."""
    return [
        StoryEvent(
            day,
            6,
            partial(
                album.portrait, scene, code, motif, name=name,
                dice=Random(day.toordinal()),
            ),
        )
        for day, code, motif in album.older_portraits_due(scene)
    ]  # fmt: skip


def _own_dice(scene: Scene) -> Random:
    """Return dice of the weather's own, so that it changes nothing of the story."""
    return Random(round(scene.latitude * 100))


def _skies(
    scene: Scene, still: Mapping[date, float], dice: Random, name: str
) -> list[StoryEvent]:
    """List the still nights that were measured, litres noted, and fruit tested."""
    mornings = scene.mornings()
    return [
        *(
            StoryEvent(day, 8, partial(tasting.test_all, scene, tested, dice, name))
            for day, tested in tasting.due(scene, mornings).items()
        ),
        *(
            StoryEvent(day, 5, partial(skies.still_night, scene, low, dice, name))
            for day, low in still.items()
        ),
        *(
            StoryEvent(day, 9, partial(skies.waterings, scene, dice))
            for day in mornings
        ),
        *(
            StoryEvent(day, 9, partial(skies.pots, scene, name))
            for day in mornings[-26:]
        ),
    ]


def _harvest(scene: Scene) -> list[StoryEvent]:
    """List the crates that were picked, and the one that was called back."""
    events = []
    for picking in harvesting.pickings(scene, scene.mornings()):
        pick = partial(harvesting.pick, scene, picking)
        events.append(StoryEvent(picking.on, 11, pick))
        if picking.is_called_back:
            called = partial(harvesting.call_back, scene, picking.on)
            events.append(StoryEvent(picking.on + harvesting.REPORT_AFTER, 11, called))
    return events


def _weeks(
    scene: Scene, say: Say, still: Mapping[date, float], *, trees: int, hands: int
) -> list[StoryEvent]:
    """List the mornings of the story: the plan opens on Mondays, crews come midweek.

    `trees` are looked at and `hands` tasks done in a week. Before a still night the
    forecast that is noted on the Monday opens the plan, and today what the skies bring.
    """
    opens = partial(_open_next, scene)
    events = []
    for place, day in enumerate(scene.mornings()):
        weeks = scene.rhythm(day).days // 7
        visit = partial(crews.visit, scene, trees=trees * weeks, hands=hands * weeks)
        events.append(StoryEvent(day, 4, visit))
        monday = day - timedelta(days=2)
        if monday not in still:
            events.append(StoryEvent(monday, 0, opens))
        if place % 8 == 0:
            events.append(StoryEvent(day, 3, partial(_tell_month, scene, say)))
    # The day before today one lead comes alone, with the board in hand.
    eve = scene.ends_on - timedelta(days=1)
    events += [
        StoryEvent(eve, 0, opens),
        StoryEvent(eve, 8, partial(crews.clear_the_board, scene)),
        StoryEvent(eve, 9, partial(crews.take_in_hand, scene)),
    ]
    return events


def _tell_month(scene: Scene, say: Say, day: date) -> None:
    say(f"{scene.orchard.name}: {day:%B %Y}")


def _open_next(scene: Scene, day: date) -> None:
    care_plan.open_next(scene.orchard, now=scene.at(day, 3), today=day)


def _tags(scene: Scene, by: User) -> None:
    standing = trees_for_tags(scene.orchard, TagChoice())
    make_tags(standing, by=by, now=scene.at(scene.starts_on, 15))


def _invite(scene: Scene, name: str, day: date) -> None:
    """Invite somebody who has not answered yet."""
    accounts.invite(
        scene.orchard,
        email=INVITED,
        role=Membership.Role.VOLUNTEER,
        by=scene.people[name],
        now=scene.at(day, 17),
    )


def sign_ins() -> list[DemonstrationSignIn]:
    """Tell how the cast signs in: those who are members today, one line for each."""
    found = []
    for part in (*FIRST, *SECOND[:2]):
        rows = (
            Membership.objects.standing()
            .filter(user__email=part.email)
            .select_related("orchard", "user")
            .order_by("orchard_id")
        )
        if rows:
            found.append(
                DemonstrationSignIn(
                    role=str(Membership.Role(rows[0].role).label),
                    name=part.name,
                    email=part.email,
                    password=PASSWORD,
                    orchards=tuple(row.orchard.name for row in rows),
                )
            )
    return found


def tag_token() -> str | None:
    """Return the token of one valid tag of the demonstration, or None."""
    tags = Tag.objects.filter(retired_at=None, tree__orchard__slug="old-cistern")
    return tags.order_by("tree__code").values_list("token", flat=True).first()
