"""The one door to objects: who may see what, and who may do what.

Everything of an orchard is reached through a membership. An outsider learns nothing,
not even that the thing exists: `NotThere` becomes a 404. A member with too small a role
gets `MayNot`, which becomes a 403.
"""

from __future__ import annotations

from enum import StrEnum
from typing import TypeVar
from uuid import UUID

from django.utils.translation import gettext as _

from orchard.records.models import (
    Block,
    Crown,
    Finding,
    Happening,
    Horizon,
    Inspection,
    Invitation,
    Kind,
    Membership,
    Photo,
    Reading,
    RipenessTest,
    Round,
    Spot,
    StageNote,
    Station,
    Task,
    Tree,
    User,
    Watering,
)
from orchard.services.errors import MayNot, NotThere, Refused

Role = Membership.Role
Row = TypeVar("Row")


class Deed(StrEnum):
    """What can be done in an orchard, as far as roles differ in it."""

    SEE = "see"
    INSPECT = "inspect"
    WORK = "work"
    HAND_OVER = "hand_over"
    HAND_OUT = "hand_out"
    SECOND_LOOK = "second_look"
    SEE_PRIVATE = "see_private"
    CORRECT_OTHERS = "correct_others"
    KEEP_TREES = "keep_trees"
    KEEP_REGISTER = "keep_register"
    KEEP_PHOTOS = "keep_photos"
    KEEP_WEATHER = "keep_weather"
    KEEP_PEOPLE = "keep_people"
    KEEP_RULES = "keep_rules"
    READ_LEDGER = "read_ledger"


EVERYBODY = frozenset(Role)
HANDS = frozenset({Role.VOLUNTEER, Role.LEAD, Role.EDUCATOR, Role.COORDINATOR})
LEADING = frozenset({Role.LEAD, Role.COORDINATOR})
COORDINATOR = frozenset({Role.COORDINATOR})

MAY: dict[Deed, frozenset[Role]] = {
    Deed.SEE: EVERYBODY,
    Deed.INSPECT: HANDS,
    Deed.WORK: HANDS,
    Deed.HAND_OVER: LEADING,
    Deed.HAND_OUT: LEADING,
    Deed.SECOND_LOOK: LEADING,
    Deed.SEE_PRIVATE: LEADING,
    Deed.CORRECT_OTHERS: LEADING,
    Deed.KEEP_TREES: LEADING,
    Deed.KEEP_REGISTER: COORDINATOR,
    Deed.KEEP_PHOTOS: LEADING | {Role.EDUCATOR},
    Deed.KEEP_WEATHER: LEADING,
    Deed.KEEP_PEOPLE: COORDINATOR,
    Deed.KEEP_RULES: COORDINATOR,
    Deed.READ_LEDGER: COORDINATOR | {Role.OFFICE},
}


def may(member: Membership, deed: Deed) -> bool:
    """Tell whether a member's role allows a deed."""
    return Role(member.role) in MAY[deed]


def require(member: Membership, deed: Deed) -> None:
    """Raise MayNot unless the member's role allows the deed."""
    if not may(member, deed):
        roles = ", ".join(str(role.label) for role in Role if role in MAY[deed])
        raise MayNot(_("This is for: %(roles)s.") % {"roles": roles})


def require_own(
    member: Membership,
    record: Inspection
    | Happening
    | StageNote
    | Reading
    | Watering
    | Crown
    | Horizon
    | RipenessTest,
) -> None:
    """Raise MayNot unless the member recorded it or may correct what others did."""
    if record.by_id != member.user_id and not may(member, Deed.CORRECT_OTHERS):
        raise MayNot(
            _("Only who recorded it, a crew lead or the coordinator can change it.")
        )


def member_for(user: User, slug: str) -> Membership:
    """Return the person's membership of an orchard, with the orchard.

    Raises:
        NotThere: there is no such orchard, or the person is no member of it.
    """
    member = (
        Membership.objects.standing()
        .select_related("orchard", "user")
        .filter(user=user, orchard__slug=slug)
        .first()
    )
    return _there(member)


def orchards_of(user: User) -> list[Membership]:
    """Return the person's memberships, by name of orchard."""
    return list(
        Membership.objects.standing()
        .select_related("orchard")
        .filter(user=user)
        .order_by("orchard__name", "orchard_id")
    )


def fellow_for(member: Membership, number: int) -> Membership:
    """Return a standing membership of the member's orchard."""
    fellow = (
        Membership.objects.standing()
        .of(member.orchard)
        .select_related("user", "orchard")
        .filter(pk=number)
        .first()
    )
    return _there(fellow)


def invitation_for(member: Membership, number: int) -> Invitation:
    """Return an invitation to the member's orchard."""
    invitation = (
        Invitation.objects.filter(orchard=member.orchard, pk=number)
        .select_related("orchard", "invited_by")
        .first()
    )
    return _there(invitation)


def tree_for(member: Membership, code: str) -> Tree:
    """Return a tree of the member's orchard by its code, removed ones included."""
    tree = (
        Tree.objects.of(member.orchard)
        .select_related("kind", "spot__block", "orchard")
        .filter(code__iexact=code)
        .first()
    )
    return _there(tree)


def tree_typed(member: Membership, code: str) -> Tree:
    """Return the tree whose code somebody typed into the field `tree`.

    Raises:
        Refused (unknown_tree): nothing was typed, or no tree of the orchard has this
            code.
    """
    code = code.strip()
    if not code:
        raise Refused(
            _("Say which tree: its code is on its tag."),
            code="unknown_tree",
            field="tree",
        )
    try:
        return tree_for(member, code)
    except NotThere:
        raise Refused(
            _("There is no tree %(code)s here. Look at its tag.") % {"code": code},
            code="unknown_tree",
            field="tree",
        ) from None


def block_for(member: Membership, code: str) -> Block:
    """Return a block of the member's orchard by its code."""
    block = Block.objects.filter(orchard=member.orchard, code__iexact=code).first()
    return _there(block)


def kind_for(member: Membership, number: int) -> Kind:
    """Return a kind of the member's orchard."""
    kind = Kind.objects.filter(orchard=member.orchard, pk=number).first()
    return _there(kind)


def task_for(member: Membership, number: int) -> Task:
    """Return a task of the member's orchard; private ones only to those who lead."""
    tasks = Task.objects.of(member.orchard).select_related(
        "tree__kind", "block", "taken_by", "orchard", "finding"
    )
    if not may(member, Deed.SEE_PRIVATE):
        tasks = tasks.not_private()
    task = tasks.filter(pk=number).first()
    return _there(task)


def inspection_for(member: Membership, number: int) -> Inspection:
    """Return an inspection of the member's orchard, corrected ones included."""
    inspection = (
        Inspection.objects.of(member.orchard)
        .select_related("tree__kind", "tree__spot__block", "by", "orchard")
        .filter(pk=number)
        .first()
    )
    return _there(inspection)


def happening_for(member: Membership, number: int) -> Happening:
    """Return what was noted as having happened in the member's orchard."""
    happening: Happening | None = (
        Happening.objects.filter(orchard=member.orchard, pk=number)
        .select_related("tree", "orchard", "by")
        .first()
    )
    return _there(happening)


def stage_for(member: Membership, number: int) -> StageNote:
    """Return a growth stage noted in the member's orchard."""
    stage: StageNote | None = (
        StageNote.objects.filter(orchard=member.orchard, pk=number)
        .select_related("tree", "orchard", "by")
        .first()
    )
    return _there(stage)


def finding_for(member: Membership, number: int) -> Finding:
    """Return a finding of the member's orchard that the member may see."""
    finding = (
        Finding.objects.of(member.orchard)
        .select_related("inspection__by", "inspection__orchard", "tree__kind")
        .filter(pk=number)
        .first()
    )
    if finding is None or not sees(member, finding):
        raise NotThere()
    return finding


def sees(member: Membership, private_thing: Finding | Photo) -> bool:
    """Tell whether a member may see a finding or photo that may be private.

    A suspected regulated pest is seen by those who lead and by whoever recorded it.
    """
    if not private_thing.private or may(member, Deed.SEE_PRIVATE):
        return True
    recorded_by = (
        private_thing.by_id
        if isinstance(private_thing, Photo)
        else private_thing.inspection.by_id
    )
    return recorded_by == member.user_id


def photo_for(member: Membership, name: UUID) -> Photo:
    """Return a photo that the member may see; withdrawn ones only to its keepers."""
    photo = (
        Photo.objects.of(member.orchard)
        .select_related("tree", "by", "orchard")
        .filter(name=name)
        .first()
    )
    if photo is None or not sees(member, photo):
        raise NotThere()
    if photo.withdrawn_at and not may(member, Deed.KEEP_PHOTOS):
        raise NotThere()
    return photo


def stray_for(member: Membership, name: UUID) -> Photo:
    """Return a photo that the member may say the tree of."""
    photo = photo_for(member, name)
    if photo.by_id != member.user_id and not may(member, Deed.KEEP_PHOTOS):
        raise MayNot(
            _("Only who took the photo, a crew lead or staff can say where it belongs.")
        )
    return photo


def round_for(member: Membership, number: int) -> Round:
    """Return a round of the member's orchard."""
    row = (
        Round.objects.of(member.orchard)
        .select_related("orchard", "made_by", "taken_by", "closed_by")
        .filter(pk=number)
        .first()
    )
    return _there(row)


def spot_for(member: Membership, number: int) -> Spot:
    """Return a spot of the member's orchard."""
    spot = (
        Spot.objects.filter(block__orchard=member.orchard, pk=number)
        .select_related("block__orchard")
        .first()
    )
    return _there(spot)


def watering_for(member: Membership, number: int) -> Watering:
    """Return a watering noted in the member's orchard."""
    row: Watering | None = (
        Watering.objects.of(member.orchard)
        .select_related("tree", "orchard", "by")
        .filter(pk=number)
        .first()
    )
    return _there(row)


def ripeness_test_for(member: Membership, number: int) -> RipenessTest:
    """Return a test of fruit noted in the member's orchard."""
    row: RipenessTest | None = (
        RipenessTest.objects.of(member.orchard)
        .select_related("tree__kind", "tree__spot__block", "orchard", "by")
        .filter(pk=number)
        .first()
    )
    return _there(row)


def crown_for(member: Membership, number: int) -> Crown:
    """Return a measurement of a crown in the member's orchard."""
    row: Crown | None = (
        Crown.objects.of(member.orchard)
        .select_related("tree", "orchard", "by")
        .filter(pk=number)
        .first()
    )
    return _there(row)


def horizon_for(member: Membership, number: int) -> Horizon:
    """Return a survey of a spot's horizon in the member's orchard."""
    row: Horizon | None = (
        Horizon.objects.of(member.orchard)
        .select_related("spot__block", "orchard", "by")
        .filter(pk=number)
        .first()
    )
    return _there(row)


def reading_for(member: Membership, number: int) -> Reading:
    """Return a reading of the thermometer of the member's orchard."""
    reading = (
        Reading.objects.of(member.orchard)
        .select_related("orchard", "by", "spot__block")
        .filter(pk=number)
        .first()
    )
    return _there(reading)


def station_for(member: Membership, number: int) -> Station:
    """Return a station that the member's orchard takes weather from."""
    station = Station.objects.filter(orchard=member.orchard, pk=number).first()
    return _there(station)


def _there(row: Row | None) -> Row:
    """Return a row that was found; refuse one that is not there for this member."""
    if row is None:
        raise NotThere()
    return row
