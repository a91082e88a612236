"""What photos show, in words."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Self

from django.utils.translation import gettext as _
from django.utils.translation import pgettext_lazy

from orchard.records.models import Photo
from orchard.science import guide
from orchard.science.words import Season
from orchard.services.photos import Depicted, flaw_of
from orchard.web.pages.inspections import part_word

_SEASONS = {
    Season.SPRING: pgettext_lazy("season", "spring"),
    Season.SUMMER: pgettext_lazy("season", "summer"),
    Season.AUTUMN: pgettext_lazy("season", "autumn"),
    Season.WINTER: pgettext_lazy("season", "winter"),
}


def season_word(season: Season) -> str:
    """Return the word for a season."""
    return str(_SEASONS[season])


@dataclass(frozen=True, slots=True)
class PhotoSign:
    """A sign in a photo, in words; its verdict as code."""

    name: str
    key: str
    part: str
    verdict: str
    sureness: str


@dataclass(frozen=True, slots=True)
class PhotoStory:
    """What a photo shows, ready to be written."""

    photo: Photo
    at: datetime
    season: str
    tree: str
    kind: str
    condition: int | None
    signs: tuple[PhotoSign, ...]
    flaw: str
    double: Photo | None

    @classmethod
    def written(cls, shown: Depicted, double: Photo | None = None) -> Self:
        signs = guide.load().signs
        return cls(
            photo=shown.photo,
            at=shown.at,
            season=season_word(shown.season),
            tree=shown.tree,
            kind=shown.kind,
            condition=shown.condition,
            double=double,
            flaw=str(flaw.words) if (flaw := flaw_of(shown.photo)) else "",
            signs=tuple(
                PhotoSign(
                    name=signs[row.sign].name if row.sign in signs else row.sign,
                    key=row.sign if row.sign in signs else "",
                    part=part_word(row.part),
                    verdict=row.verdict.value,
                    sureness=str(row.sureness.label),
                )
                for row in shown.signs
            ),
        )

    @property
    def read_aloud(self) -> str:
        """Return what stands for it where it cannot be seen."""
        if self.photo.read_aloud:
            return self.photo.read_aloud
        if self.signs:
            return self.signs[0].name
        return _("Photo without a caption")
