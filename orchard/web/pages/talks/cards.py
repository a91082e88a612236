"""Look-alike cards of a set, to be printed on both sides of a sheet and cut."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from orchard.services import permissions, talks
from orchard.services.permissions import Deed
from orchard.services.talks import LookAlikeCard
from orchard.web import charts
from orchard.web.charts import SignPicture
from orchard.web.doorkeeper import door
from orchard.web.requests import OrchardRequest

ON_A_SHEET = 4


@dataclass(frozen=True, slots=True)
class CardShown:
    """A card and its two pictures."""

    card: LookAlikeCard
    pictures: tuple[SignPicture, SignPicture]


@dataclass(frozen=True, slots=True)
class CardSheet:
    """The fronts of a sheet, and its backs in the order in which they lie behind them.

    A sheet is turned over its long edge, so left and right change places.
    """

    fronts: tuple[CardShown | None, ...]

    @property
    def backs(self) -> tuple[CardShown | None, ...]:
        first, second, third, fourth = self.fronts
        return (second, first, fourth, third)


@require_safe
@door(Deed.KEEP_TALKS)
def cards(request: OrchardRequest, number: int) -> HttpResponse:
    talk_set = permissions.talk_set_for(request.member, number)
    talk = talks.read(talk_set, request.member)
    asked = [text.partition(".") for text in request.GET.getlist("pair")]
    chosen = [(first, second) for first, _dot, second in asked if second]
    found = talks.cards_of(talk, chosen)
    shown = [
        CardShown(
            card,
            (
                charts.sign_picture(
                    card.sign, card.photos, request.orchard, size="middle"
                ),
                charts.sign_picture(
                    card.other, card.photos, request.orchard, size="middle"
                ),
            ),
        )
        for card in found
    ]
    context = {
        "talk_set": talk_set,
        "sheets": list(_sheets(shown)),
        "count": len(shown),
        "pairs": talks.guide_pairs(),
        "chosen": request.GET.getlist("pair"),
        "today": request.today,
    }
    response = render(request, "talks/cards.html", context)
    response["Cache-Control"] = "no-store"
    return response


def _sheets(shown: Sequence[CardShown]) -> Iterator[CardSheet]:
    for at in range(0, len(shown), ON_A_SHEET):
        part: list[CardShown | None] = list(shown[at : at + ON_A_SHEET])
        part += [None] * (ON_A_SHEET - len(part))
        yield CardSheet(tuple(part))
