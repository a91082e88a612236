"""What the library of photos is narrowed to, and what is said of many at once."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from typing import Any, Self

from django import forms
from django.http import QueryDict
from django.utils.html import format_html_join
from django.utils.safestring import SafeString
from django.utils.translation import get_language
from django.utils.translation import gettext_lazy as _

from orchard.records.models import Finding, Membership, Photo
from orchard.science import guide
from orchard.science.words import Season, Verdict
from orchard.services import photos, trees
from orchard.services.home import NEW_PHOTOS_FOR
from orchard.services.permissions import Deed, may
from orchard.services.photos import PhotoFilters
from orchard.web.fields import day_field, offer
from orchard.web.pages.inspections import part_words
from orchard.web.pages.photos.wording import season_word
from orchard.web.templatetags.orchard import verdict_word

ANY = ("", _("any"))
AS_IT_IS = ("", _("leave as it is"))
LONGEST_WORDS, LONGEST_CODE = 120, 40


def choice(label: Any, choices: Any = ()) -> forms.ChoiceField:
    return forms.ChoiceField(label=label, choices=[ANY, *choices], required=False)


def number_of_choice(label: Any) -> forms.TypedChoiceField:
    return forms.TypedChoiceField(
        label=label, required=False, coerce=int, empty_value=None
    )


@dataclass(frozen=True, slots=True)
class Offered:
    """What one member may narrow the library by: numbers with names, and two deeds."""

    kinds: tuple[tuple[int, str], ...]
    people: tuple[tuple[int, str], ...]
    sees_reports: bool
    keeps_photos: bool

    @classmethod
    def to(cls, member: Membership) -> Self:
        kinds = trees.all_kinds(member.orchard).values_list("pk", "name")
        return cls(
            kinds=tuple(kinds),
            people=tuple(photos.photographers(member.orchard)),
            sees_reports=may(member, Deed.SEE_PRIVATE),
            keeps_photos=may(member, Deed.KEEP_PHOTOS),
        )


class LibraryForm(forms.Form):
    """What the library is narrowed to; fields that are left empty narrow nothing."""

    q = forms.CharField(
        label=_("Find by everyday words"),
        required=False,
        widget=forms.TextInput(attrs={"type": "search", "enterkeyhint": "search"}),
    )
    tree = forms.CharField(
        label=_("Code of the tree"),
        required=False,
        widget=forms.TextInput(attrs={"autocapitalize": "characters"}),
    )
    kind = number_of_choice(_("Cultivar"))
    sign = choice(_("Sign"))
    part = choice(_("Part of the plant"))
    verdict = choice(_("Verdict"))
    sureness = choice(_("Name of the sign"), Finding.Sureness.choices)
    condition = choice(
        _("Condition"),
        [("poor", _("1 or 2")), ("fair", _("3")), ("good", _("4 or 5"))],
    )
    season = choice(_("Season"))
    view = choice(_("View"), Photo.View.choices)
    by = number_of_choice(_("By"))
    since = day_field(_("Taken from"), required=False)
    until = day_field(_("Taken until"), required=False)
    use = choice(
        _("Free for"),
        [
            (Photo.Audience.TALKS, Photo.Audience.TALKS.label),
            (Photo.Audience.PUBLIC, Photo.Audience.PUBLIC.label),
            (Photo.People.UNKNOWN, _("people: not said")),
        ],
    )
    new = forms.BooleanField(label=_("Received this week"), required=False)

    def __init__(self, *args: Any, offered: Offered, **options: Any) -> None:
        super().__init__(*args, **options)
        self.offered = offered
        offer(self, "kind", [ANY, *offered.kinds])
        signs = sorted(guide.load().signs.values(), key=lambda sign: sign.name)
        offer(self, "sign", [ANY, *((sign.key, sign.name) for sign in signs)])
        offer(self, "part", [ANY, *part_words().items()])
        seen = [
            verdict
            for verdict in Verdict
            if verdict != Verdict.REPORT or offered.sees_reports
        ]
        offer(self, "verdict", [ANY, *((each, verdict_word(each)) for each in seen)])
        offer(self, "season", [ANY, *((each, season_word(each)) for each in Season)])
        offer(self, "by", [ANY, *offered.people])
        if not offered.keeps_photos:
            del self.fields["use"]

    def narrowing(self) -> SafeString:
        """Write the fields beside the words."""
        if any(self.data.get(name) for name in self.fields if name != "q"):
            return self.written()
        return narrowing_by_nothing(get_language(), self.offered)

    def written(self) -> SafeString:
        fields = [field for field in self if field.name != "q"]
        return format_html_join("", "{}", ([each.as_field_group()] for each in fields))

    def filters(self, today: date) -> PhotoFilters:
        """Return what was asked for; a choice that is none asks for nothing."""
        self.is_valid()
        asked = self.cleaned_data
        return PhotoFilters(
            words=asked.get("q", "")[:LONGEST_WORDS],
            tree=asked.get("tree", "").strip()[:LONGEST_CODE],
            kind=asked.get("kind"),
            sign=asked.get("sign", ""),
            part=asked.get("part", ""),
            verdict=asked.get("verdict", ""),
            sureness=asked.get("sureness", ""),
            condition=asked.get("condition", ""),
            season=asked.get("season", ""),
            view=asked.get("view", ""),
            by=asked.get("by"),
            since=asked.get("since"),
            until=asked.get("until"),
            use=asked.get("use", ""),
            received_since=today - NEW_PHOTOS_FOR if asked.get("new") else None,
        )


@lru_cache(maxsize=64)
def narrowing_by_nothing(_language: str | None, offered: Offered) -> SafeString:
    """Write the fields as they stand on nearly every page: their lists are long."""
    return LibraryForm(QueryDict(), offered=offered).written()


class DescribeManyForm(forms.Form):
    """What is said of all chosen photos; what is left empty stays as it is."""

    caption = forms.CharField(
        label=_("Caption"),
        help_text=_("What they show, in one sentence."),
        max_length=300,
        required=False,
    )
    alt_text = forms.CharField(
        label=_("Description"),
        help_text=_("What is to be seen, for people who can't see it."),
        max_length=300,
        required=False,
        widget=forms.Textarea(attrs={"rows": 2}),
    )
    credit = forms.CharField(
        label=_("Credit"),
        help_text=_("Who is named with them when they are shown."),
        max_length=120,
        required=False,
    )
    view = forms.ChoiceField(
        label=_("View"), choices=[AS_IT_IS, *Photo.View.choices], required=False
    )
    people = forms.ChoiceField(
        label=_("People in view"),
        choices=[AS_IT_IS, *Photo.People.choices],
        required=False,
    )
    audience = forms.ChoiceField(
        label=_("Who may see them"),
        choices=[AS_IT_IS, *Photo.Audience.choices],
        required=False,
    )

    @property
    def words(self) -> dict[str, str]:
        """Return what is filled in."""
        return {name: word for name, word in self.cleaned_data.items() if word}


class TalkFromChosenForm(forms.Form):
    """The title of a talk set that begins with the chosen photos."""

    title = forms.CharField(
        label=_("Title of the talk"),
        help_text=_("Each photo gets a slide, in the order of choosing."),
        max_length=120,
    )
