"""The one door to objects: who may see what, and who may do what.

Everything of an orchard is reached through a membership. An outsider learns nothing,
not even that the thing exists: `NotThere` becomes a 404. A member with too small a role
gets `MayNot`, which becomes a 403.

Every lookup `…_for` takes the member and what the address names the thing by, and
returns the thing as far as this member may see it; else it raises `NotThere`.
"""

from __future__ import annotations

from datetime import date
from enum import StrEnum
from typing import Any, TypeVar
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db.models import Model, QuerySet
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from orchard.records.models import (
    Block,
    BulkChange,
    Case,
    Crown,
    DryCheck,
    Finding,
    Happening,
    Harvest,
    HarvestShare,
    Horizon,
    Inspection,
    Invitation,
    Kind,
    LeafTest,
    Membership,
    Orchard,
    Photo,
    PhotoConsent,
    PracticeAnswer,
    Product,
    Reading,
    Recall,
    RipenessTest,
    Round,
    SecondLook,
    Slide,
    Spot,
    StageNote,
    Station,
    TalkSet,
    Task,
    TaskRequest,
    TreatedTree,
    Treatment,
    Tree,
    User,
    Watering,
    WetSpell,
)
from orchard.science.codes import plain_code
from orchard.services.errors import MayNot, NotThere, Refused

Role = Membership.Role
Row = TypeVar("Row", bound=Model)
Private = TypeVar("Private", Finding, Photo)


class Deed(StrEnum):
    """What can be done in an orchard, as far as roles differ in it."""

    SEE = "see"
    INSPECT = "inspect"
    WORK = "work"
    HAND_OVER = "hand_over"
    PLAN_WORK = "plan_work"
    HAND_OUT = "hand_out"
    SECOND_LOOK = "second_look"
    SEE_PRIVATE = "see_private"
    CORRECT_OTHERS = "correct_others"
    WRITE_FOR_OTHERS = "write_for_others"
    PLAN_TREATMENTS = "plan_treatments"
    RELEASE_FRUIT = "release_fruit"
    KEEP_TREES = "keep_trees"
    KEEP_REGISTER = "keep_register"
    KEEP_PHOTOS = "keep_photos"
    KEEP_TALKS = "keep_talks"
    WRITE_STORIES = "write_stories"
    KEEP_WEATHER = "keep_weather"
    KEEP_PEOPLE = "keep_people"
    KEEP_RULES = "keep_rules"
    READ_LEDGER = "read_ledger"
    SEE_MIX_UPS = "see_mix_ups"


EVERYBODY = frozenset(Role)
HANDS = frozenset({Role.VOLUNTEER, Role.LEAD, Role.EDUCATOR, Role.COORDINATOR})
LEADING = frozenset({Role.LEAD, Role.COORDINATOR})
COORDINATOR = frozenset({Role.COORDINATOR})

MAY: dict[Deed, frozenset[Role]] = {
    Deed.SEE: EVERYBODY,
    Deed.INSPECT: HANDS,
    Deed.WORK: HANDS,
    Deed.HAND_OVER: LEADING,
    Deed.PLAN_WORK: LEADING,
    Deed.HAND_OUT: LEADING,
    Deed.SECOND_LOOK: LEADING,
    Deed.SEE_PRIVATE: LEADING,
    Deed.CORRECT_OTHERS: LEADING,
    Deed.WRITE_FOR_OTHERS: LEADING,
    Deed.PLAN_TREATMENTS: LEADING,
    Deed.RELEASE_FRUIT: COORDINATOR,
    Deed.KEEP_TREES: LEADING,
    Deed.KEEP_REGISTER: COORDINATOR,
    Deed.KEEP_PHOTOS: LEADING | {Role.EDUCATOR},
    Deed.KEEP_TALKS: COORDINATOR | {Role.EDUCATOR, Role.OFFICE},
    Deed.WRITE_STORIES: COORDINATOR | {Role.EDUCATOR},
    Deed.KEEP_WEATHER: LEADING,
    Deed.KEEP_PEOPLE: COORDINATOR,
    Deed.KEEP_RULES: COORDINATOR,
    Deed.READ_LEDGER: COORDINATOR | {Role.OFFICE},
    Deed.SEE_MIX_UPS: COORDINATOR,
}


def may(member: Membership, deed: Deed) -> bool:
    """Tell whether a member's role allows a deed."""
    return Role(member.role) in MAY[deed]


def require(member: Membership, deed: Deed) -> None:
    """Raise MayNot unless the member's role allows the deed."""
    if not may(member, deed):
        roles = ", ".join(str(role.label) for role in Role if role in MAY[deed])
        raise MayNot(_("This is for: %(roles)s.") % {"roles": roles})


Owned = (
    Inspection
    | Happening
    | StageNote
    | Reading
    | Watering
    | Crown
    | Horizon
    | RipenessTest
    | LeafTest
    | TaskRequest
    | Treatment
    | Harvest
    | HarvestShare
    | Product
    | DryCheck
    | WetSpell
)


def is_own(member: Membership, record: Owned) -> bool:
    """Tell whether the member recorded it or may correct what others did."""
    return record.by_id == member.user_id or may(member, Deed.CORRECT_OTHERS)


def require_own(member: Membership, record: Owned) -> None:
    """Refuse a change by anybody but who recorded it and those who lead.

    Raises:
        MayNot (not_yours): the member is neither.
    """
    if not is_own(member, record):
        raise MayNot(
            _(
                "Only the person who recorded it, a crew lead or the coordinator can "
                "change it."
            ),
            code="not_yours",
        )


def member_for(user: User, slug: str) -> Membership:
    """Return the person's membership of an orchard, with the orchard.

    Raises:
        NotThere: there is no such orchard, or the person is no member of it.
    """
    members = Membership.objects.standing().select_related("orchard")
    member = _find(members, user=user, orchard__slug=slug)
    member.user = user
    return member


def leaders_of(orchard: Orchard) -> list[Membership]:
    """Return who may see what is private to those who lead: coordinators first."""
    rows = Membership.objects.standing().in_orchard(orchard).select_related("user")
    rows = rows.filter(role__in=MAY[Deed.SEE_PRIVATE])
    return sorted(
        rows.order_by("user__name", "id"), key=lambda row: row.role not in COORDINATOR
    )


def coordinators_of(orchard: Orchard) -> list[User]:
    """Return the people who run an orchard, by name."""
    members = Membership.objects.standing().in_orchard(orchard)
    members = members.filter(role=Role.COORDINATOR).select_related("user")
    return [member.user for member in members.order_by("user__name", "id")]


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
    rows = (
        Membership.objects.standing()
        .in_orchard(member.orchard)
        .select_related("user", "orchard")
    )
    return _find(rows, pk=number)


def written_for(member: Membership, number: int) -> User:
    """Return somebody for whom the member may write down what they saw or did.

    That they belonged to the orchard on the day is asked when it is known:
    `check_was_member`.
    """
    require(member, Deed.WRITE_FOR_OTHERS)
    rows = Membership.objects.in_orchard(member.orchard).select_related("user")
    return _find(rows, user=number).user


def people_to_write_for(member: Membership) -> list[Membership]:
    """List those who looked or worked here at any time, by name."""
    require(member, Deed.WRITE_FOR_OTHERS)
    rows = Membership.objects.in_orchard(member.orchard).filter(role__in=HANDS)
    return list(rows.select_related("user").order_by("user__name", "id"))


def check_was_member(orchard: Orchard, person: User, *, on: date) -> None:
    """Refuse a record by somebody who did not look or work here on a day.

    Raises:
        Refused (no_member_then): they came later, had left, or only read.
    """
    zone = ZoneInfo(orchard.time_zone)
    member = Membership.objects.in_orchard(orchard).filter(user=person).first()
    words = {"name": person.name, "day": date_format(on, "j M Y")}
    if member is None or Role(member.role) not in HANDS:
        text = _("%(name)s doesn't inspect or work here. Choose another person.")
    elif on < member.joined_at.astimezone(zone).date():
        words["day"] = date_format(member.joined_at.astimezone(zone), "j M Y")
        text = _("%(name)s only joined on %(day)s. Check the person and the day.")
    elif member.left_at and on > member.left_at.astimezone(zone).date():
        words["day"] = date_format(member.left_at.astimezone(zone), "j M Y")
        text = _("%(name)s left on %(day)s. Check the person and the day.")
    else:
        return
    raise Refused(text % words, code="no_member_then", field="person")


def invitation_for(member: Membership, number: int) -> Invitation:
    """Return an invitation to the member's orchard."""
    rows = Invitation.objects.filter(orchard=member.orchard).select_related(
        "orchard", "invited_by"
    )
    return _find(rows, pk=number)


def tree_for(member: Membership, code: str) -> Tree:
    """Return a tree of the member's orchard by its code, removed ones included."""
    rows = Tree.objects.in_orchard(member.orchard).select_related(
        "kind", "spot__block", "orchard"
    )
    return _find(rows.with_code(code))


def block_for(member: Membership, code: str) -> Block:
    """Return a block of the member's orchard by its code."""
    rows = Block.objects.filter(orchard=member.orchard)
    return _find(rows, code__iexact=plain_code(code))


def spot_for(member: Membership, number: int) -> Spot:
    """Return a spot of the member's orchard."""
    rows = Spot.objects.filter(block__orchard=member.orchard).select_related(
        "block__orchard"
    )
    return _find(rows, pk=number)


def kind_for(member: Membership, number: int) -> Kind:
    """Return a kind of the member's orchard."""
    rows = Kind.objects.filter(orchard=member.orchard)
    return _find(rows, pk=number)


def task_for(member: Membership, number: int) -> Task:
    """Return a task of the member's orchard; private ones only to those who lead."""
    rows = Task.objects.in_orchard(member.orchard).select_related(
        "tree__kind", "block", "taken_by", "orchard", "finding", "request__by"
    )
    if not may(member, Deed.SEE_PRIVATE):
        rows = rows.not_private()
    return _find(rows, pk=number)


def task_request_for(member: Membership, number: int) -> TaskRequest:
    """Return what somebody asked for by hand in the member's orchard."""
    rows = TaskRequest.objects.filter(orchard=member.orchard).select_related("by")
    return _find(rows, pk=number)


def bulk_change_for(member: Membership, number: int) -> BulkChange:
    """Return what the member did to many tasks of the orchard at once."""
    rows = BulkChange.objects.filter(orchard=member.orchard, by=member.user)
    return _find(rows, pk=number)


def round_for(member: Membership, number: int) -> Round:
    """Return a round of the member's orchard."""
    rows = Round.objects.in_orchard(member.orchard).select_related(
        "orchard", "made_by", "taken_by", "closed_by"
    )
    return _find(rows, pk=number)


def inspection_for(member: Membership, number: int) -> Inspection:
    """Return an inspection of the member's orchard, corrected ones included."""
    rows = Inspection.objects.in_orchard(member.orchard).select_related(
        "tree__kind", "tree__spot__block", "by", "written_by", "orchard"
    )
    return _find(rows, pk=number)


def inspection_kept_as(member: Membership, key: UUID) -> Inspection:
    """Return the inspection that a phone kept under a key."""
    rows = Inspection.objects.in_orchard(member.orchard).select_related(
        "tree", "by", "orchard"
    )
    return _find(rows, key=key)


def finding_for(member: Membership, number: int) -> Finding:
    """Return a finding of the member's orchard that the member may see."""
    rows = Finding.objects.in_orchard(member.orchard).select_related(
        "inspection__by", "inspection__orchard", "tree__kind"
    )
    return _visible(member, _find(rows, pk=number))


def second_look_for(member: Membership, number: int) -> SecondLook:
    """Return a second look at a finding that the member may see."""
    rows = SecondLook.objects.filter(orchard=member.orchard).select_related(
        "finding__inspection__by",
        "finding__inspection__orchard",
        "finding__inspection__tree__kind",
        "finding__tree__kind",
        "finding__tree__orchard",
        "finding__tree__spot__block",
        "answered_by",
        "orchard",
    )
    second_look = _find(rows, pk=number)
    _visible(member, second_look.finding)
    return second_look


def case_for(member: Membership, number: int) -> Case:
    """Return a case of the member's orchard, to those who see what is private."""
    if not may(member, Deed.SEE_PRIVATE):
        raise NotThere()
    rows = Case.objects.in_orchard(member.orchard).select_related(
        "tree__kind", "finding__inspection__by", "closed_by"
    )
    return _find(rows, pk=number)


def photo_for(member: Membership, name: UUID) -> Photo:
    """Return a photo that the member may see; withdrawn ones only to its keepers."""
    photos = Photo.objects.in_orchard(member.orchard).select_related("by", "orchard")
    photo = _visible(member, _find(photos.prefetch_related("trees"), name=name))
    if photo.withdrawn_at and not may(member, Deed.KEEP_PHOTOS):
        raise NotThere()
    return photo


def consent_for(member: Membership, name: UUID, number: int) -> PhotoConsent:
    """Return what somebody agreed to about a photo, to those who keep the photos."""
    require(member, Deed.KEEP_PHOTOS)
    rows = PhotoConsent.objects.filter(photo=photo_for(member, name))
    return _find(rows.select_related("photo__orchard"), pk=number)


def stray_for(member: Membership, name: UUID) -> Photo:
    """Return a photo that the member may say the tree of."""
    photo = photo_for(member, name)
    if photo.by_id != member.user_id and not may(member, Deed.KEEP_PHOTOS):
        raise MayNot(
            _(
                "Only the person who took the photo, a crew lead or staff can say "
                "where it belongs."
            )
        )
    return photo


def talk_set_for(member: Membership, number: int) -> TalkSet:
    """Return a talk set of the member's orchard; removed ones only to its keepers."""
    rows = TalkSet.objects.in_orchard(member.orchard).select_related("orchard", "by")
    if not may(member, Deed.KEEP_TALKS):
        rows = rows.there()
    return _find(rows, pk=number)


def slide_for(member: Membership, talk_set: int, number: int) -> Slide:
    """Return a slide of a talk set that the member sees, removed ones included."""
    rows = Slide.objects.filter(talk_set=talk_set_for(member, talk_set))
    return _find(rows.select_related("talk_set__orchard"), pk=number)


def practice_answer_for(member: Membership, number: int) -> PracticeAnswer:
    """Return what the member answered in practice; nobody else's is there."""
    rows = PracticeAnswer.objects.given_by(member.user, member.orchard)
    return _find(rows.select_related("photo"), pk=number)


def happening_for(member: Membership, number: int) -> Happening:
    """Return an event noted in the member's orchard."""
    rows = Happening.objects.filter(orchard=member.orchard).select_related(
        "tree", "orchard", "by"
    )
    return _find(rows, pk=number)


def stage_for(member: Membership, number: int) -> StageNote:
    """Return a growth stage noted in the member's orchard."""
    rows = StageNote.objects.filter(orchard=member.orchard).select_related(
        "tree", "orchard", "by"
    )
    return _find(rows, pk=number)


def watering_for(member: Membership, number: int) -> Watering:
    """Return a watering noted in the member's orchard."""
    rows = Watering.objects.in_orchard(member.orchard).select_related(
        "tree", "orchard", "by"
    )
    watering: Watering = _find(rows, pk=number)
    return watering


def crown_for(member: Membership, number: int) -> Crown:
    """Return a measurement of a crown in the member's orchard."""
    rows = Crown.objects.in_orchard(member.orchard).select_related(
        "tree", "orchard", "by"
    )
    crown: Crown = _find(rows, pk=number)
    return crown


def horizon_for(member: Membership, number: int) -> Horizon:
    """Return a survey of a spot's horizon in the member's orchard."""
    rows = Horizon.objects.in_orchard(member.orchard).select_related(
        "spot__block", "orchard", "by"
    )
    horizon: Horizon = _find(rows, pk=number)
    return horizon


def ripeness_test_for(member: Membership, number: int) -> RipenessTest:
    """Return a test of fruit noted in the member's orchard."""
    rows = RipenessTest.objects.in_orchard(member.orchard).select_related(
        "tree__kind", "tree__spot__block", "orchard", "by"
    )
    test: RipenessTest = _find(rows, pk=number)
    return test


def leaf_test_for(member: Membership, number: int) -> LeafTest:
    """Return a leaf analysis of the member's orchard, corrected ones included."""
    rows = LeafTest.objects.in_orchard(member.orchard).select_related(
        "tree", "block", "kind", "orchard", "by", "corrects"
    )
    test: LeafTest = _find(rows, pk=number)
    return test


def product_for(member: Membership, number: int) -> Product:
    """Return a product of the member's orchard, earlier readings included."""
    rows = Product.objects.in_orchard(member.orchard).select_related("orchard", "by")
    product: Product = _find(rows, pk=number)
    return product


def treatment_for(member: Membership, number: int) -> Treatment:
    """Return a treatment of the member's orchard, corrected ones included."""
    rows = Treatment.objects.in_orchard(member.orchard).select_related(
        "orchard", "by", "written_by", "closure__task"
    )
    treatment: Treatment = _find(rows, pk=number)
    return treatment


def reached_for(member: Membership, treatment: int, code: str) -> TreatedTree:
    """Return a tree that a treatment of the member's orchard reached, by its code."""
    rows = TreatedTree.objects.filter(treatment=treatment_for(member, treatment))
    rows = rows.select_related("tree", "treatment__orchard", "orchard")
    return _find(rows, tree=tree_for(member, code))


def dry_check_for(member: Membership, treatment: int, number: int) -> DryCheck:
    """Return a check that a treatment of the member's orchard had dried."""
    rows = DryCheck.objects.filter(treatment=treatment_for(member, treatment))
    rows = rows.select_related("orchard", "treatment__orchard", "by")
    check: DryCheck = _find(rows, pk=number)
    return check


def harvest_for(member: Membership, number: int) -> Harvest:
    """Return a lot picked in the member's orchard, corrected ones included."""
    rows = Harvest.objects.in_orchard(member.orchard).select_related(
        "orchard", "by", "written_by"
    )
    harvest: Harvest = _find(rows, pk=number)
    return harvest


def harvest_share_for(member: Membership, number: int) -> HarvestShare:
    """Return where a part of a lot of the member's orchard went."""
    rows = HarvestShare.objects.in_orchard(member.orchard).select_related(
        "orchard", "by", "harvest__orchard"
    )
    share: HarvestShare = _find(rows, pk=number)
    return share


def recall_for(member: Membership, number: int) -> Recall:
    """Return a recall of the member's orchard."""
    rows = Recall.objects.filter(orchard=member.orchard).select_related(
        "orchard", "harvest", "treatment", "opened_by", "closed_by"
    )
    return _find(rows, pk=number)


def reading_for(member: Membership, number: int) -> Reading:
    """Return a reading of the thermometer of the member's orchard."""
    rows = Reading.objects.in_orchard(member.orchard).select_related(
        "orchard", "by", "spot__block"
    )
    return _find(rows, pk=number)


def station_for(member: Membership, number: int) -> Station:
    """Return a station that the member's orchard takes weather from."""
    rows = Station.objects.filter(orchard=member.orchard)
    return _find(rows, pk=number)


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


def _find(rows: QuerySet[Row], **lookup: Any) -> Row:
    """Return the row there is; refuse when this member has none like it."""
    # No `first`: there is one at most, and to order it costs more than to find it.
    for row in rows.filter(**lookup)[:1]:
        return row
    raise NotThere()


def _visible(member: Membership, private_thing: Private) -> Private:
    """Return a thing that the member may see; to others it is not there."""
    if not sees(member, private_thing):
        raise NotThere()
    return private_thing
