"""The cast: invented people who keep the two demonstration orchards."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from orchard.demonstration.scene import Scene
from orchard.records.models import Membership, Orchard, User
from orchard.services import accounts

Role = Membership.Role

# For trying the book on one's own machine; nobody real is behind these addresses.
PASSWORD = "under-40-yuzu-crowns"  # noqa: S105


@dataclass(frozen=True, slots=True)
class Part:
    """One person of the cast, and how many days before the present they joined."""

    name: str
    email: str
    role: Role
    joined: int = 10_000
    left: int | None = None


FIRST = (
    Part("Ilda Marrow", "ilda@example.org", Role.COORDINATOR),
    Part("Tomas Pereval", "tomas@example.org", Role.LEAD),
    Part("Ruth Oakenfell", "ruth@example.org", Role.LEAD),
    Part("Benny Castorel", "benny@example.org", Role.EDUCATOR, 700),
    Part("Greta Lindqvale", "greta@example.org", Role.OFFICE, 860),
    Part("Ana Solmarin", "ana@example.org", Role.VOLUNTEER),
    Part("Jorn Tavelle", "jorn@example.org", Role.VOLUNTEER),
    Part("Mei Harrowan", "mei@example.org", Role.VOLUNTEER),
    Part("Pedro Quillas", "pedro@example.org", Role.VOLUNTEER, 900),
    Part("Noor Vandersee", "noor@example.org", Role.VOLUNTEER, 640),
    Part("Silvio Brantano", "silvio@example.org", Role.VOLUNTEER, 905, left=210),
    Part("Wilhelmina Featherstonedale", "mina@example.org", Role.VOLUNTEER, 500),
    Part("Kofi Adderley", "kofi@example.org", Role.VOLUNTEER, 330),
    Part("Lucia Penhallar", "lucia@example.org", Role.VOLUNTEER, 120),
)
SECOND = (
    Part("Dawn Kettleby", "dawn@example.org", Role.COORDINATOR),
    Part("Arlo Nettlewood", "arlo@example.org", Role.VOLUNTEER),
    Part("Ruth Oakenfell", "ruth@example.org", Role.LEAD),
)
INVITED = "new.hand@example.org"


def first_person(part: Part, *, now: datetime) -> User:
    """Return the person who founds an orchard: nobody is there yet to invite them."""
    known = User.objects.filter(email=part.email).first()
    if known is not None:
        return known
    user = accounts.enrol(email=part.email, name=part.name, now=now)
    accounts.set_first_password(user, password=PASSWORD, now=now)
    return user


def join(scene: Scene, part: Part, day: date) -> None:
    """Let the coordinator invite a person, and the person accept an hour later."""
    now = scene.at(day, 18)
    coordinator = _coordinator(scene.orchard)
    invited = accounts.invite(
        scene.orchard, email=part.email, role=part.role, by=coordinator, now=now
    )
    known = User.objects.filter(email=part.email).first()
    later = min(now + timedelta(hours=1), scene.now)
    member = accounts.accept_invitation(
        invited.invitation,
        now=later,
        user=known,
        name="" if known else part.name,
        password="" if known else PASSWORD,
    )
    scene.people[part.name] = member.user


def leave(scene: Scene, part: Part, day: date) -> None:
    """Let a person leave the orchard; their records stay."""
    member = scene.member(part.name)
    accounts.leave(member, by=scene.people[part.name], now=scene.at(day, 19))
    del scene.people[part.name]


def _coordinator(orchard: Orchard) -> User:
    return (
        Membership.objects.standing()
        .of(orchard)
        .filter(role=Role.COORDINATOR)
        .select_related("user")
        .order_by("id")[0]
        .user
    )
