"""Questions: which sign is asked next, how hard, and among which others."""

from __future__ import annotations

import random
import uuid
from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from orchard.records.days import day_in
from orchard.records.models import (
    Finding,
    Membership,
    Orchard,
    Photo,
    PracticeAnswer,
    SecondLook,
)
from orchard.science import guide, practice, windows
from orchard.science.figures import figure
from orchard.science.guide import Sign
from orchard.science.words import PracticeLevel
from orchard.services import trees

# Makes the choices of the kept page the same whenever it is made.
_ON_PHONES = uuid.UUID("6d0a6f0e-6f0d-4d1c-9a54-2f1f7f9b6c11")


@dataclass(frozen=True, slots=True)
class PracticeQuestion:
    """A sign to be recognised, its photo where there is one, and what to choose from.

    Under its key it is answered once, however often it is sent.
    """

    key: uuid.UUID
    sign: Sign
    level: PracticeLevel
    photo: Photo | None
    choices: tuple[Sign, ...]


@dataclass(frozen=True, slots=True)
class TakenQuestion:
    """A sign that a phone asks by itself: the box it lies in, and its choices.

    Drawings come along and no photos, so the hardest are its look-alikes.
    """

    sign: Sign
    box: int
    # From which box on each is asked; the last that fits is.
    choices: Mapping[int, PracticeQuestion]

    @property
    def asked_from(self) -> int:
        return max(box for box in self.choices if box <= self.box)


@dataclass(frozen=True, slots=True)
class Progress:
    """How far somebody has come: signs by box, those due, and those never asked."""

    boxes: tuple[int, ...]
    due: int
    fresh: int

    @property
    def met(self) -> int:
        return sum(self.boxes)


@dataclass(frozen=True, slots=True)
class _Card:
    """Where a sign lies for a person, and from when it is asked again."""

    box: int
    due_on: date


def progress_of(member: Membership, *, today: date) -> Progress:
    """Return how far the member has come; it is shown to nobody else."""
    cards = _cards(member)
    signs = _signs_in_order(member.orchard, today)
    counts = Counter(cards[sign.key].box for sign in signs if sign.key in cards)
    last = round(figure("practice_boxes").value)
    return Progress(
        boxes=tuple(counts[box] for box in range(1, last + 1)),
        due=sum(
            sign.key in cards and cards[sign.key].due_on <= today for sign in signs
        ),
        fresh=sum(sign.key not in cards for sign in signs),
    )


def next_question(
    member: Membership, *, today: date, key: uuid.UUID | None = None
) -> PracticeQuestion:
    """Ask the member what comes next.

    First what is due, the lowest box first; then a sign not met yet, the commonest
    first; with none of these, the one that is due soonest.
    """
    key = key or uuid.uuid4()
    cards = _cards(member)
    signs = _signs_in_order(member.orchard, today)
    sign = _in_turn(signs, cards, today)[0]
    level = practice.level_of(_box(sign, cards))
    return _question(sign, level, member.orchard, signs, key)


def questions_to_take(
    member: Membership, *, today: date, most: int
) -> tuple[TakenQuestion, ...]:
    """Return the questions that a phone keeps for where there is no signal.

    Those that come next for the member, each as easy and as hard as a phone can ask it:
    which of the two it asks goes by what is answered there.
    """
    cards = _cards(member)
    signs = _signs_in_order(member.orchard, today)
    alike_from = round(figure("practice_alike_from_box").value)
    levels = {1: PracticeLevel.DRAWING, alike_from: PracticeLevel.ALIKE}
    return tuple(
        TakenQuestion(
            sign,
            _box(sign, cards),
            {
                box: _question(
                    sign, level, member.orchard, signs,
                    uuid.uuid5(_ON_PHONES, f"{sign.key} {level}"),
                )
                for box, level in levels.items()
            },
        )
        for sign in _in_turn(signs, cards, today)[:most]
    )  # fmt: skip


def told_apart_by(sign: Sign, other: Sign) -> str:
    """Return the one difference between two signs, by which the guide tells them."""
    for shown, mistaken in ((sign, other), (other, sign)):
        for alike in shown.alike:
            if alike.sign == mistaken.key:
                return alike.tell
    return ""


def _in_turn(
    signs: Sequence[Sign], cards: Mapping[str, _Card], today: date
) -> list[Sign]:
    """List signs as they are asked: those due, those not met, the others by day."""
    met = [sign for sign in signs if sign.key in cards]
    met.sort(key=lambda sign: cards[sign.key].due_on)
    fresh = [sign for sign in signs if sign.key not in cards]
    due = [sign for sign in met if cards[sign.key].due_on <= today]
    later = [sign for sign in met if cards[sign.key].due_on > today]
    due.sort(key=lambda sign: cards[sign.key].box)
    return [*due, *fresh, *later]


def _box(sign: Sign, cards: Mapping[str, _Card]) -> int:
    return cards[sign.key].box if sign.key in cards else 1


def _cards(member: Membership) -> dict[str, _Card]:
    """Return where each sign lies that the member was asked, by all answers in turn."""
    rows = PracticeAnswer.objects.given_by(member.user, member.orchard)
    given: dict[str, list[tuple[bool, date]]] = defaultdict(list)
    for sign, taken_for, at in rows.order_by("answered_at", "id").values_list(
        "sign", "taken_for", "answered_at"
    ):
        on = day_in(at, member.orchard.time_zone)
        given[sign].append((taken_for == sign, on))
    cards = {}
    for sign, answers in given.items():
        box = practice.box_after(is_right for is_right, _on in answers)
        wait = timedelta(days=practice.days_until_asked(box))
        cards[sign] = _Card(box, answers[-1][1] + wait)
    return cards


def _signs_in_order(orchard: Orchard, today: date) -> list[Sign]:
    """List the signs of what grows here: the common, those of the season, others."""
    hosts = trees.hosts_grown(orchard) or {"citrus"}
    month = windows.season_month(today, float(orchard.latitude))
    here = [
        sign
        for sign in guide.load().signs.values()
        if any(sign.fits(host) for host in hosts)
    ]
    return sorted(
        here,
        key=lambda sign: (
            sign.common is None,
            sign.common or 0,
            month not in sign.usual_sm,
        ),
    )


def _question(
    sign: Sign,
    level: PracticeLevel,
    orchard: Orchard,
    signs: Sequence[Sign],
    key: uuid.UUID,
) -> PracticeQuestion:
    # No secret hangs on it: the same question shall only look the same again.
    chance = random.Random(str(key))  # noqa: S311
    photo = None
    if level is PracticeLevel.PHOTO:
        found = photos_of(sign, orchard)
        photo = chance.choice(found) if found else None
        level = level if photo else PracticeLevel.ALIKE
    alike = _alike(sign, {row.key: row for row in signs})
    others = [row for row in signs if row is not sign and row not in alike]
    chance.shuffle(others)
    if level is not PracticeLevel.DRAWING:
        # Of the same part of the tree before others: those are mistaken for it sooner.
        others.sort(key=lambda row: not set(row.parts) & set(sign.parts))
        others = [*alike, *others]
    most = round(figure("practice_choices").value)
    choices = sorted((sign, *others[: most - 1]), key=lambda row: row.name)
    return PracticeQuestion(key, sign, level, photo, tuple(choices))


def _alike(sign: Sign, signs: Mapping[str, Sign]) -> list[Sign]:
    """List the signs that are mistaken for one, said of it or of them."""
    own = [row.sign for row in sign.alike]
    theirs = [
        row.key
        for row in signs.values()
        if any(alike.sign == sign.key for alike in row.alike)
    ]
    return [signs[key] for key in dict.fromkeys((*own, *theirs)) if key in signs]


def photos_of(sign: Sign, orchard: Orchard) -> list[Photo]:
    """List the photos that surely show a sign, and that all members may see.

    The orchard's confirmed pictures, and those of findings that a second look agreed
    to; never one that hangs on something private, or on a case without an answer.
    """
    agreed = Finding.objects.current().filter(
        sign=sign.key, private=False, second_look__answer=SecondLook.Answer.AGREED
    )
    photos = Photo.objects.current().in_orchard(orchard).free_of_suspicion()
    return list(photos.of_findings(agreed, confirmed=sign.key).order_by("id"))
