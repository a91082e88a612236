"""The signs of the inspection form: each with its question and its verdicts."""

from __future__ import annotations

import json
from collections.abc import Collection, Container, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from functools import lru_cache
from typing import Any

from django.forms import BoundField
from django.forms.utils import ErrorList
from django.http import QueryDict
from django.template.loader import render_to_string
from django.templatetags.static import static
from django.urls import reverse
from django.utils.functional import Promise
from django.utils.safestring import SafeString
from django.utils.translation import get_language, pgettext_lazy
from django.utils.translation import gettext as _

from orchard.records.models import Orchard, Photo
from orchard.science import guide
from orchard.science.guide import Sign
from orchard.science.units import in_text, scale_of
from orchard.science.verdict import VerdictStep, steps_for, the_work
from orchard.science.words import Part, Verdict
from orchard.services import inspections
from orchard.services.facts import Ground
from orchard.services.holds import with_holds
from orchard.services.inspections import Judged
from orchard.web.pages.inspections import arrangement
from orchard.web.pages.inspections.arrangement import ALONE, Standing
from orchard.web.pages.inspections.forms import FindingForm, units_of

OPEN = ("chosen", "again", "found")
# So many of those noted before stand in a row on a phone, as in `steps.js`.
NOTED_SHOWN = 3
# Translated when they are read: a page of photos asks for one of them at a time.
_PARTS: dict[str, Promise] = {
    Part.WHOLE_TREE: pgettext_lazy("part", "whole tree"),
    Part.CANOPY: pgettext_lazy("part", "canopy"),
    Part.LEAF: pgettext_lazy("part", "leaf"),
    Part.SHOOT: pgettext_lazy("part", "shoot"),
    Part.BUD: pgettext_lazy("part", "bud"),
    Part.FLOWER: pgettext_lazy("part", "flower"),
    Part.FRUIT: pgettext_lazy("part", "fruit"),
    Part.LIMB: pgettext_lazy("part", "limb"),
    Part.TRUNK: pgettext_lazy("part", "trunk"),
    Part.GRAFT: pgettext_lazy("part", "graft"),
    Part.ROOT: pgettext_lazy("part", "root"),
    Part.SOIL: pgettext_lazy("part", "soil"),
    Part.CONTAINER: pgettext_lazy("part", "container"),
    Part.SITE: pgettext_lazy("part", "site"),
}


@dataclass(frozen=True, slots=True)
class Option:
    value: str
    label: str
    checked: bool


@dataclass(frozen=True, slots=True)
class Question:
    """One question of a sign, as the page shows it."""

    name: str
    fact: str
    label: str
    is_number: bool
    is_yes_no: bool
    options: tuple[Option, ...]
    value: str
    unit: str
    whole: bool
    low: float
    high: float
    step: float
    zero: float
    own: bool
    field: BoundField | None


@dataclass(frozen=True, slots=True)
class SignThumbnail:
    """A picture of a sign; a drawing has no `alt` of its own beside the sign's name."""

    url: str
    alt: str
    is_photo: bool


@dataclass(frozen=True, slots=True)
class LookAlike:
    name: str
    tell: str
    key: str
    picture: SignThumbnail | None


@dataclass(frozen=True, slots=True)
class ShownVerdict:
    """A verdict with its days, as the form shows it."""

    verdict: str
    due_on: date | None
    recheck_on: date | None
    because: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class PlanShown:
    """What is to be done where the verdict is one of those that ask for it."""

    place: int
    steps: tuple[VerdictStep, ...]
    cautions: tuple[str, ...]
    is_chosen: bool
    # A hold on the tree forbids the work.
    is_put_off: bool
    # Another sign to look for, where this tree can have it, and its name.
    opens: str
    opens_name: str


@dataclass(frozen=True, slots=True)
class SignBlock:
    """A sign on the form with all that belongs to it."""

    sign: Sign
    checked: bool
    questions: tuple[Question, ...]
    # None on a page that only asks the sign's questions.
    picture: SignThumbnail | None
    alikes: tuple[LookAlike, ...]
    plans: tuple[PlanShown, ...]
    reasons: str
    parts: tuple[Option, ...]
    unsure: bool
    done: bool
    note: str
    again_on: date | None
    standing: Standing = ALONE
    verdict: ShownVerdict | None = None
    # What was sent of it, with its faults; None where it was not ticked.
    form: FindingForm | None = None

    @property
    def faults_unasked(self) -> ErrorList:
        """Return what is wrong with answers to questions that the page does not ask."""
        asked = {question.fact for question in self.questions}
        return ErrorList(
            [
                str(message)
                for name, messages in (self.form.errors.items() if self.form else ())
                if name in guide.load().facts and name not in asked
                for message in messages
            ]
        )

    @property
    def drawing(self) -> str:
        """Return the address of the drawing of the sign."""
        return drawing_of(self.sign)


@dataclass(frozen=True, slots=True)
class UntouchedSign:
    """A sign that nobody has chosen: its drawing and name, written already."""

    sign: Sign
    html: SafeString
    checked: bool = False


@dataclass(frozen=True, slots=True)
class Group:
    """Signs that stand together on the form."""

    key: str
    title: str
    open: bool
    blocks: list[SignBlock | UntouchedSign] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class SignDrawing:
    """A sign that was noted on a tree before: its drawing and the short of its name."""

    sign: Sign

    @property
    def drawing(self) -> str:
        return drawing_of(self.sign)

    @property
    def name(self) -> str:
        return self.sign.name.partition(" (")[0]


def drawing_of(sign: Sign) -> str:
    """Return the address of the drawing of a sign."""
    return static(f"img/signs/{sign.key}.svg")


def noted_before(ground: Ground, asked: Container[str]) -> list[SignDrawing]:
    """Return the signs noted on the tree before, of those asked, newest first."""
    noted = [
        (last.seen_on, key)
        for key in ground.earlier
        if key in asked and (last := ground.last(guide.load().signs[key]))
    ]
    noted.sort(key=lambda pair: pair[0], reverse=True)
    return [SignDrawing(guide.load().signs[key]) for _on, key in noted[:NOTED_SHOWN]]


def part_words() -> dict[str, str]:
    """Return the parts of a tree in words."""
    return {part: str(word) for part, word in _PARTS.items()}


def part_word(part: str) -> str:
    """Return the word for a part of a tree, or nothing where none was named."""
    return str(_PARTS.get(part, ""))


def group_titles() -> dict[str, str]:
    """Return the groups of the form in words, in their order."""
    return {
        "chosen": _("What you chose"),
        "again": _("Noted on this tree before"),
        "found": _("Signs that fit your words"),
        **arrangement.place_titles(),
    }


def pictures_of(
    orchard: Orchard, photos: Mapping[str, Photo]
) -> dict[str, SignThumbnail]:
    """Return a picture of every sign: the orchard's own photo before the drawing."""
    pictures = {
        key: SignThumbnail(static(f"img/signs/{key}.svg"), "", is_photo=False)
        for key in guide.load().signs
    }
    for key, photo in photos.items():
        url = reverse("photo-file", args=[orchard.slug, photo.name, "small"])
        alt = photo.caption or _("Confirmed photo of this orchard")
        pictures[key] = SignThumbnail(url, alt, is_photo=True)
    return pictures


def block_of(
    ground: Ground,
    sign: Sign,
    outcome: Mapping[str, Any],
    typed: QueryDict,
    pictures: Mapping[str, SignThumbnail],
    *,
    standing: Standing = ALONE,
    judged: Judged | None = None,
    form: FindingForm | None = None,
) -> SignBlock:
    """Return the block of one sign with what was typed in it."""
    key = sign.key
    last = ground.last(sign)
    part = typed.get(f"{key}:part", "")
    words = part_words()
    return SignBlock(
        sign=sign,
        checked=key in typed.getlist("sign"),
        questions=tuple(_questions(ground, sign, outcome, typed, form)),
        picture=pictures.get(key),
        alikes=tuple(
            LookAlike(alike.name, alike.tell, alike.sign, pictures.get(alike.sign))
            for alike in sign.alike
        ),
        plans=plans_of(ground, sign, judged),
        reasons=json.dumps(
            [in_text(rule.because, ground.tree.orchard.units) for rule in sign.rules]
        ),
        parts=tuple(Option(row, words[row], row == part) for row in sign.parts)
        if len(sign.parts) > 1
        else (),
        unsure=bool(typed.get(f"{key}:unsure")),
        done=bool(typed.get(f"{key}:done")),
        note=typed.get(f"{key}:note", ""),
        again_on=last.seen_on if last else None,
        standing=standing,
        verdict=shown_verdict(judged, ground.on) if judged else None,
        form=form,
    )


def untouched(ground: Ground, sign: Sign, standing: Standing) -> UntouchedSign:
    """Return a sign that nobody has chosen; all else comes when somebody does."""
    last = ground.last(sign)
    html = _write_untouched(
        ground.tree.orchard.units,
        get_language() or "",
        guide.load().edition,
        sign.key,
        last.seen_on if last else None,
        standing,
    )
    return UntouchedSign(sign, html)


@lru_cache(maxsize=8192)
def _write_untouched(
    units: str,
    language: str,
    edition: str,
    key: str,
    again_on: date | None,
    standing: Standing,
) -> SafeString:
    """Write a sign once for all trees on which it stands alike.

    A form has more than a hundred signs, of which a look touches one or two.
    """
    block = SignBlock(
        sign=guide.load().signs[key],
        checked=False,
        questions=(),
        picture=None,
        alikes=(),
        plans=(),
        reasons="",
        parts=(),
        unsure=False,
        done=False,
        note="",
        again_on=again_on,
        standing=standing,
    )
    page = {"block": block, "orchard": {"units": units}}
    html = render_to_string("inspections/_sign.html", page)
    # A hundred times the same blanks would be sent to every phone.
    return SafeString(" ".join(html.split()))


def plans_of(
    ground: Ground, sign: Sign, judged: Judged | None = None
) -> tuple[PlanShown, ...]:
    """Return what is to be done about a sign on a tree, should it come to that."""
    facts = {
        key: value
        for key, value in ground.facts(sign).items()
        if not isinstance(value, dict)
    }
    chosen = judged.judgement.plan if judged else 0
    plans = []
    for place in range(len(sign.rule_plans) + 1):
        steps = steps_for(sign, facts, Verdict.ACT, place)
        if judged and place == chosen:
            steps = judged.judgement.steps
        plan = sign.plan(place)
        opens = guide.load().signs.get(plan.opens)
        if opens is not None and opens.fits(ground.tree.kind.host):
            other = (opens.key, opens.name)
        else:
            other = ("", "")
        steps_now = with_holds(steps, ground.holds)
        is_put_off = the_work(steps_now) != the_work(steps)
        plans.append(
            PlanShown(
                place, steps_now, plan.caution, place == chosen, is_put_off, *other
            )
        )
    return tuple(plans)


def shown_verdict(judged: Judged, on: date) -> ShownVerdict:
    """Return a verdict with its days counted from the day of the look."""
    judgement = judged.judgement

    def day(days: int | None) -> date | None:
        return None if days is None else on + timedelta(days=days)

    return ShownVerdict(
        judgement.verdict.value,
        day(judgement.due_days),
        day(judgement.recheck_days),
        judgement.because,
    )


def _questions(
    ground: Ground,
    sign: Sign,
    outcome: Mapping[str, Any],
    typed: QueryDict,
    form: FindingForm | None,
) -> Iterable[Question]:
    facts = guide.load().facts
    units = units_of(typed, ground.tree.orchard)
    for place, ask in enumerate(outcome["asks"]):
        fact = facts[ask["fact"]]
        name = f"{sign.key}:{fact.key}"
        value = typed.get(name, "")
        scale = scale_of(fact.unit, units)
        is_number = ask["kind"] == "number"
        yield Question(
            name=name,
            fact=fact.key,
            label=ask["label"],
            is_number=is_number,
            is_yes_no=ask["kind"] == "yes_no",
            options=()
            if is_number
            else tuple(
                Option(
                    option["value"],
                    _("Can't tell") if option["value"] == "?" else option["label"],
                    option["value"] == value,
                )
                for option in ask["options"]
            ),
            value=value,
            unit=scale.unit,
            whole=fact.whole and scale.step == 1,
            low=round(scale.shown(fact.low), 2),
            high=round(scale.shown(fact.high), 2),
            step=scale.step,
            zero=scale.zero,
            own=place == 0,
            field=form[fact.key] if form and fact.key in form.fields else None,
        )


def outcomes_of(ground: Ground, *hosts: str) -> dict[str, dict[str, Any]]:
    """Return the outcomes of every sign that these sorts of tree can have."""
    return {
        sign.key: inspections.outcomes(ground, sign)
        for sign in guide.load().signs.values()
        if any(sign.fits(host) for host in hosts)
    }


def grouped(
    blocks: Mapping[str, SignBlock | UntouchedSign],
    standings: Mapping[str, Standing],
    *,
    again: Collection[str],
    found: Sequence[str],
) -> list[Group]:
    """Put every block in one group: chosen, found, seen before, or its place.

    `found` are the signs that fit a word, the best first.
    """
    groups = {
        key: Group(key, title, open=key in OPEN)
        for key, title in group_titles().items()
    }
    order = [*found, *(key for key in standings if key not in found)]
    for key in order:
        if key not in blocks:
            continue
        block = blocks[key]
        if block.checked:
            group = "chosen"
        elif key in found:
            group = "found"
        else:
            group = "again" if key in again else standings[key].places[0]
        groups[group].blocks.append(block)
    return [group for group in groups.values() if group.blocks]
