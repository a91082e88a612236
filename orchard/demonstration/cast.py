"""The cast: invented people who keep the two demonstration orchards."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from orchard.demonstration.scene import Scene
from orchard.records.models import Membership, Orchard, User
from orchard.services import accounts, audit
from orchard.services.audit import Verb

Role = Membership.Role

# For trying the book on one's own machine; nobody real is behind these addresses.
PASSWORD = "under-40-yuzu-crowns"  # noqa: S105


@dataclass(frozen=True, slots=True)
class CastMember:
    """One person of the cast, and how many days before the present they joined."""

    name: str
    email: str
    role: Role
    joined: int = 10_000
    left: int | None = None
    phone: str = ""


FIRST = (
    CastMember(
        "Ilda Marrow", "ilda@example.org", Role.COORDINATOR, phone="+351 555 0101"
    ),
    CastMember("Tomas Pereval", "tomas@example.org", Role.LEAD, phone="+351 555 0102"),
    CastMember("Ruth Oakenfell", "ruth@example.org", Role.LEAD),
    CastMember("Benny Castorel", "benny@example.org", Role.EDUCATOR, 700),
    CastMember("Greta Lindqvale", "greta@example.org", Role.OFFICE, 860),
    CastMember("Ana Solmarin", "ana@example.org", Role.VOLUNTEER),
    CastMember("Jorn Tavelle", "jorn@example.org", Role.VOLUNTEER),
    CastMember("Mei Harrowan", "mei@example.org", Role.VOLUNTEER),
    CastMember("Pedro Quillas", "pedro@example.org", Role.VOLUNTEER, 900),
    CastMember("Noor Vandersee", "noor@example.org", Role.VOLUNTEER, 640),
    CastMember("Silvio Brantano", "silvio@example.org", Role.VOLUNTEER, 905, left=210),
    CastMember("Wilhelmina Featherstonedale", "mina@example.org", Role.VOLUNTEER, 500),
    CastMember("Kofi Adderley", "kofi@example.org", Role.VOLUNTEER, 330),
    CastMember("Lucia Penhallar", "lucia@example.org", Role.VOLUNTEER, 120),
)
SECOND = (
    CastMember(
        "Dawn Kettleby", "dawn@example.org", Role.COORDINATOR, phone="+61 555 0101"
    ),
    CastMember("Arlo Nettlewood", "arlo@example.org", Role.VOLUNTEER),
    CastMember("Ruth Oakenfell", "ruth@example.org", Role.LEAD),
)
INVITED = "new.hand@example.org"


def first_person(part: CastMember, *, now: datetime) -> User:
    """Return the person who founds an orchard: nobody is there yet to invite them."""
    existing = User.objects.filter(email=part.email).first()
    if existing is not None:
        return existing
    # Who founds the second orchard finds the first one there.
    before = User.objects.filter(email=FIRST[0].email).first()
    user = accounts.enrol(email=part.email, name=part.name, now=now)
    if before is None:
        accounts.set_first_password(user, password=PASSWORD, now=now)
    else:
        _set_password(user, like=before, by=user, now=now)
    return _with_number(user, part, now=now)


def _with_number(user: User, part: CastMember, *, now: datetime) -> User:
    """Let those who lead write down the number under which they are rung."""
    if not part.phone:
        return user
    return accounts.correct_own_details(user, name=user.name, phone=part.phone, now=now)


def join(scene: Scene, part: CastMember, day: date) -> None:
    """Let the coordinator invite a person, and the person accept an hour later."""
    now = scene.at(day, 18)
    coordinator = _coordinator(scene.orchard)
    invited = accounts.invite(
        scene.orchard, email=part.email, role=part.role, by=coordinator, now=now
    )
    later = min(now + timedelta(hours=1), scene.now)
    person = accounts.enrol(email=part.email, name=part.name, now=later)
    accounts.accept_invitation(invited.invitation, now=later, user=person)
    if not person.has_usable_password():
        _set_password(person, like=coordinator, by=coordinator, now=later)
    person = _with_number(person, part, now=later)
    scene.people[part.name] = person


def leave(scene: Scene, part: CastMember, day: date) -> None:
    """Let a person leave the orchard; their records stay."""
    member = scene.member(part.name)
    accounts.leave(member, by=scene.people[part.name], now=scene.at(day, 19))
    del scene.people[part.name]


def _set_password(person: User, *, like: User, by: User, now: datetime) -> None:
    """Give a person the password that the whole cast has, as somebody has it.

    To hash it takes a quarter of a second; the first one's hash serves again.
    """
    person.password = like.password
    person.save(update_fields=["password"])
    audit.write(Verb.SET_PASSWORD, person, by=by, now=now, orchard=None)


def _coordinator(orchard: Orchard) -> User:
    return (
        Membership.objects.standing()
        .in_orchard(orchard)
        .filter(role=Role.COORDINATOR)
        .select_related("user")
        .order_by("id")[0]
        .user
    )
