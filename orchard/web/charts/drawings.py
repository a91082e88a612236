"""Pictures: what shows a sign, and drawings of figures with axes and scales."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from django.templatetags.static import static
from django.urls import reverse
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from orchard.records.models import Orchard, Photo
from orchard.science.guide import Sign
from orchard.services.timeline import Score
from orchard.web.explain import condition_word

DRAWN = 160
DAY = "j M Y"


@dataclass(frozen=True, slots=True)
class SignPicture:
    """What shows a sign: the orchard's own photo, or our drawing."""

    src: str
    alt: str
    url: str = ""
    credit: str = ""
    width: int = DRAWN
    height: int = DRAWN


def sign_picture(
    sign: Sign, photos: Mapping[str, Photo], orchard: Orchard, *, size: str = "small"
) -> SignPicture:
    """Return the orchard's confirmed photo of a sign, else our drawing."""
    photo = photos.get(sign.key)
    if photo is not None:
        return SignPicture(
            src=reverse("photo-file", args=[orchard.slug, photo.name, size]),
            alt=photo.caption
            or _("%(sign)s, seen in this orchard") % {"sign": sign.name},
            url=reverse("photo-show", args=[orchard.slug, photo.name]),
            credit=_("Seen in this orchard"),
            width=photo.width,
            height=photo.height,
        )
    return SignPicture(
        src=static(f"img/signs/{sign.key}.svg"),
        alt=_("Drawing: %(sign)s") % {"sign": sign.name},
        credit=_("Drawing"),
    )


@dataclass(frozen=True, slots=True)
class Axis:
    """A straight axis from what is measured to where it is drawn."""

    low: float
    high: float
    start: float
    end: float

    def at(self, value: float) -> float:
        """Return where a value is drawn, to a tenth of a unit."""
        if self.high == self.low:
            return round((self.start + self.end) / 2, 1)
        share = (value - self.low) / (self.high - self.low)
        return round(self.start + share * (self.end - self.start), 1)


@dataclass(frozen=True, slots=True)
class Tick:
    """A place on an axis with its words."""

    at: float
    text: str
    anchor: str = "middle"


@dataclass(frozen=True, slots=True)
class Dot:
    """A measured point."""

    x: float
    y: float


def _month_later(day: date, months: int) -> date:
    whole = day.year * 12 + day.month - 1 + months
    return date(whole // 12, whole % 12 + 1, 1)


def time_ticks(first: date, last: date, *, most: int = 3) -> list[tuple[date, str]]:
    """Return the round days of a stretch of time, at most so many, with their words.

    Years where the stretch is long, months where it is shorter, else days. A stretch
    is never left without a tick.
    """
    for months in (1, 3, 6, 12, 24, 60, 120, 240):
        days = []
        day = date(first.year, first.month, 1)
        if months >= 12:
            day = date(first.year - first.year % (months // 12), 1, 1)
        while day <= last:
            if day >= first and (day.month - 1) % min(months, 12) == 0:
                days.append(day)
            day = _month_later(day, months if months >= 12 else 1)
        if len(days) > most:
            continue
        if len(days) >= 2:
            form = "Y" if months >= 12 else "M Y"
            return [(day, date_format(day, form)) for day in days]
        break
    ends = [first] if first == last else [first, last]
    return [(day, date_format(day, DAY)) for day in ends]


@dataclass(frozen=True, slots=True)
class ConditionPicture:
    """A tree's condition over time, ready to be drawn; all places in its own units."""

    width: int
    height: int
    left: int
    right: int
    top: int
    bottom: int
    steps: tuple[Tick, ...]
    times: tuple[Tick, ...]
    line: str
    dots: tuple[Dot, ...]
    summary: str

    @property
    def places(self) -> list[tuple[str, str]]:
        """Return where each dot is drawn, in text: numbers take longer to write."""
        return [(str(dot.x), str(dot.y)) for dot in self.dots]


def condition_picture(scores: Sequence[Score]) -> ConditionPicture | None:
    """Draw the condition of a tree over time, oldest first; None without a score.

    The picture is narrow enough to be read on the smallest phone.
    """
    if not scores:
        return None
    width, height, left, right, top, bottom = 360, 220, 104, 348, 16, 184
    first, last = scores[0].on, scores[-1].on
    x = Axis(first.toordinal(), last.toordinal(), left + 8, right - 8)
    y = Axis(1, 5, bottom - 12, top)
    dots = tuple(
        Dot(x.at(score.on.toordinal()), y.at(score.condition)) for score in scores
    )
    return ConditionPicture(
        width=width,
        height=height,
        left=left,
        right=right,
        top=top,
        bottom=bottom,
        steps=tuple(
            Tick(y.at(step), f"{step} {condition_word(step)}") for step in range(1, 6)
        ),
        times=tuple(
            _time_tick(x.at(day.toordinal()), text, left, right)
            for day, text in time_ticks(first, last)
        ),
        line=" ".join(f"{dot.x},{dot.y}" for dot in dots),
        dots=dots,
        summary=_summary(scores),
    )


def _time_tick(at: float, text: str, left: int, right: int) -> Tick:
    """Keep the words of a tick near an end from running out of the picture."""
    room = 4 * len(text)
    if at + room > right + 12:
        return Tick(at, text, "end")
    return Tick(at, text, "start" if at - room < left - 90 else "middle")


def _summary(scores: Sequence[Score]) -> str:
    """Sum up in a sentence what the picture shows."""
    last = scores[-1]
    words = {
        "count": len(scores),
        "first": date_format(scores[0].on, DAY),
        "last": date_format(last.on, DAY),
        "then": condition_word(scores[0].condition),
        "now": condition_word(last.condition),
        "lowest": condition_word(min(score.condition for score in scores)),
    }
    if len(scores) == 1:
        return _("One score: %(now)s on %(last)s.") % words
    if last.on - scores[0].on < timedelta(days=1):
        return _("%(count)d scores on %(last)s; the last is %(now)s.") % words
    return (
        _(
            "%(count)d inspections from %(first)s (%(then)s) to %(last)s (%(now)s); "
            "the lowest was %(lowest)s."
        )
        % words
    )
