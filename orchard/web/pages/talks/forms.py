"""What may be written in a set of slides."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.text import capfirst
from django.utils.translation import gettext_lazy as _

from orchard.records.models import Slide
from orchard.services.talks import PlaceWords, TalkSlide

Kind = Slide.Kind
WITHOUT_PHOTOS = (Kind.TEXT, Kind.TITLE, Kind.CREDITS)


def _field(name: str, label: Any, *, lines: int = 1, **options: Any) -> forms.CharField:
    """Return a text as long as its column."""
    widget = forms.Textarea(attrs={"rows": lines}) if lines > 1 else forms.TextInput()
    column: Any = Slide._meta.get_field(name)
    return forms.CharField(
        label=label,
        max_length=column.max_length,
        required=False,
        widget=widget,
        **options,
    )


class TalkTitleForm(forms.Form):
    """The title of a set."""

    title = forms.CharField(label=_("Title of the talk"), max_length=120)


class NewSlideForm(forms.Form):
    """A slide without photos."""

    kind = forms.ChoiceField(
        label=_("Kind of slide"),
        choices=[(kind.value, capfirst(kind.label)) for kind in WITHOUT_PHOTOS],
        initial=Kind.TEXT,
        widget=forms.RadioSelect,
        help_text=_("Closing credits name everybody whose photos the set shows."),
    )
    title = _field("title", _("Title"))
    text = _field("text", _("Text"), lines=4)


class SlideForm(forms.Form):
    """What a slide says, and what it says of each of its photos."""

    title = _field("title", _("Title"))
    text = _field("text", _("Text"), lines=3)
    note = _field(
        "note", _("Presenter note"), lines=4,
        help_text=_("Only you see it, beside the slide."),
    )  # fmt: skip

    def __init__(self, slide: TalkSlide, *args: Any, **options: Any) -> None:
        options["initial"] = {
            "title": slide.title, "text": slide.text, "note": slide.note,
        }  # fmt: skip
        super().__init__(*args, **options)
        if slide.kind not in WITHOUT_PHOTOS:
            del self.fields["text"]
        self.slide = slide
        for place in slide.shown:
            for name, label, text, help_text in (
                ("caption", _("Caption"), place.caption, ""),
                (
                    "alt_text",
                    _("Description"),
                    place.alt_text,
                    _("What it shows, for people who can't see it."),
                ),
            ):
                self.fields[f"{name}-{place.number}"] = forms.CharField(
                    label=label, help_text=help_text, initial=text, max_length=300,
                    required=False, widget=forms.Textarea(attrs={"rows": 2}),
                )  # fmt: skip

    def places(self) -> list[Any]:
        """Return each place with its fields; those that fell empty have none."""
        found: list[Any] = []
        for place in self.slide.places:
            names = [f"{name}-{place.number}" for name in ("caption", "alt_text")]
            fields = [self[name] for name in names if name in self.fields]
            found.append((place, fields))
        return found

    def words(self) -> dict[int, PlaceWords]:
        """Return what is said of each photo, by its place."""
        return {
            place.number: PlaceWords(
                caption=self.cleaned_data[f"caption-{place.number}"],
                alt_text=self.cleaned_data[f"alt_text-{place.number}"],
            )
            for place in self.slide.shown
        }
