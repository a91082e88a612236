"""The slides of a set: added, edited, put in order, removed; photos chosen for them."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from django.http import HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as _lazy
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods, require_POST

from orchard.records.models import Photo, Slide, TalkSet
from orchard.services import permissions, talks
from orchard.services.errors import NotThere, Refused
from orchard.services.permissions import Deed, may
from orchard.services.talks import NewSlide
from orchard.web import answers, paging
from orchard.web.doorkeeper import door
from orchard.web.pages.talks.forms import NewSlideForm, SlideForm
from orchard.web.pages.talks.views import READ_AND_SEND, shown, undo_url_of, url_of
from orchard.web.requests import OrchardRequest

Kind = Slide.Kind
# How chosen photos are laid out.
LAYOUTS = (
    (Kind.PICTURE, _lazy("A slide for each")),
    (Kind.PAIR, _lazy("Two side by side")),
    (Kind.BEFORE_AFTER, _lazy("Before and after")),
    (Kind.SERIES, _lazy("All on one slide, up to six")),
)
LONGEST_AGO = datetime.min.replace(tzinfo=UTC)


def _done(
    request: OrchardRequest, talk_set: TalkSet, text: str, *, slide: int | None = None
) -> HttpResponse:
    return answers.done(
        request, text, to=url_of(talk_set, slide), undo_url=undo_url_of(talk_set)
    )


@require_http_methods(READ_AND_SEND)
@door(Deed.KEEP_TALKS)
def slide_new(request: OrchardRequest, number: int) -> HttpResponse:
    """Add a slide without photos."""
    talk_set = permissions.talk_set_for(request.member, number)
    form = NewSlideForm(request.POST or None)
    context = {"talk_set": talk_set, "form": form, "today": request.today}
    if request.method != "POST":
        return render(request, "talks/slide_new.html", context)
    if form.is_valid():
        with answers.refusals(form):
            kind = Kind(form.cleaned_data["kind"])
            new = NewSlide(kind, form.cleaned_data["title"], form.cleaned_data["text"])
            talks.add(talk_set, [new], by=request.user, now=request.now)
            return _done(request, talk_set, _("Slide added."))
    return answers.refused_page(request, "talks/slide_new.html", context)


@require_http_methods(READ_AND_SEND)
@door(Deed.KEEP_TALKS)
def slide_photos(request: OrchardRequest, number: int) -> HttpResponse:
    """Choose photos for new slides, or for one slide."""
    talk_set = permissions.talk_set_for(request.member, number)
    slide = _slide_asked_for(request, talk_set)
    refusal = None
    if request.method == "POST":
        try:
            return _added(request, talk_set, slide)
        except NotThere:
            raise
        except Refused as fault:
            refusal = fault
    asked = {
        name: request.GET.get(name, "").replace("\0", "").strip()[:80]
        for name in ("tree", "text")
    }
    page = talks.free_photos(request.orchard, after=paging.key_in(request), **asked)
    context = {
        "talk_set": talk_set,
        "slide": slide,
        "photos": page.rows,
        "layouts": LAYOUTS,
        "asked": asked,
        "is_narrowed": any(asked.values()),
        "chosen": set(request.POST.getlist("photo")),
        "layout": request.POST.get("layout", Kind.PICTURE),
        "refusal": refusal,
        "keeps_photos": may(request.member, Deed.KEEP_PHOTOS),
        "today": request.today,
        **paging.links(request, page.next_key),
    }
    if refusal:
        return answers.refused_page(request, "talks/photos.html", context)
    return render(request, "talks/photos.html", context)


def _slide_asked_for(request: OrchardRequest, talk_set: TalkSet) -> Slide | None:
    text = request.GET.get("slide", "")
    if not (text.isascii() and text.isdecimal() and len(text) < 16):
        return None
    return permissions.slide_for(request.member, talk_set.pk, int(text))


def _added(
    request: OrchardRequest, talk_set: TalkSet, slide: Slide | None
) -> HttpResponse:
    photos = _chosen(request)
    if slide is not None:
        talks.add_photos(slide, photos, by=request.user, now=request.now)
        return _done(request, talk_set, _("Photos added."), slide=slide.pk)
    layout = request.POST.get("layout", "")
    kind = Kind(layout) if layout in dict(LAYOUTS) else Kind.PICTURE
    slides = talks.slides_from(photos, kind)
    talks.add(talk_set, slides, by=request.user, now=request.now)
    text = ngettext("%(count)d slide added.", "%(count)d slides added.", len(slides))
    return _done(request, talk_set, text % {"count": len(slides)})


def _chosen(request: OrchardRequest) -> list[Photo]:
    """Return the photos that are ticked, in the order they were taken.

    Raises:
        Refused (no_photos): there is none.
    """
    numbers = [
        int(text)
        for text in request.POST.getlist("photo")
        if text.isascii() and text.isdecimal() and len(text) < 16
    ]
    found = talks.photos_chosen(request.orchard, numbers)
    if not found:
        raise Refused(_("Tick at least one photo."), code="no_photos", field="photos")
    return sorted(
        found, key=lambda photo: (photo.taken_at or LONGEST_AGO, photo.received_at)
    )


def _page(request: OrchardRequest, slide: Slide, data: Any = None) -> dict[str, Any]:
    talk = talks.read(slide.talk_set, request.member)
    standing = [each for each in talk.slides if each.number == slide.pk]
    if not standing:
        raise NotThere()
    return {
        "talk_set": slide.talk_set,
        "slide": standing[0],
        "talk": talk,
        "form": SlideForm(standing[0], data),
        "most": talks.MOST_ON_A_SLIDE,
        "today": request.today,
    }


@require_http_methods(READ_AND_SEND)
@door(Deed.KEEP_TALKS)
def slide_show(request: OrchardRequest, number: int, slide: int) -> HttpResponse:
    row = permissions.slide_for(request.member, number, slide)
    page = _page(request, row, request.POST if request.method == "POST" else None)
    form = page["form"]
    if request.method != "POST":
        return render(request, "talks/slide.html", page)
    if form.is_valid():
        with answers.refusals(form):
            talks.edit(
                row,
                title=form.cleaned_data["title"],
                text=form.cleaned_data.get("text", row.text),
                note=form.cleaned_data["note"],
                words=form.words(),
                by=request.user,
                now=request.now,
            )
            return _done(request, row.talk_set, _("Slide saved."), slide=row.pk)
    return answers.refused_page(request, "talks/slide.html", page)


def _refused(request: OrchardRequest, slide: Slide, refusal: Refused) -> HttpResponse:
    page = shown(request, slide.talk_set, refusal=refusal)
    return answers.refused_page(request, "talks/show.html", page)


def _wanted_place(request: OrchardRequest, refusal: str) -> int:
    """Return the number that something is to be moved to, or refuse with a sentence."""
    text = request.POST.get("to", "").strip()
    if not (text.isascii() and text.isdecimal() and len(text) < 6):
        raise Refused(refusal, code="no_number")
    return int(text)


@require_POST
@door(Deed.KEEP_TALKS)
def slide_place(request: OrchardRequest, number: int, slide: int) -> HttpResponse:
    """Move a slide by one, or to a number."""
    row = permissions.slide_for(request.member, number, slide)
    try:
        if request.POST.get("by") in ("-1", "1"):
            to = row.position + int(request.POST["by"])
        else:
            to = _wanted_place(request, _("Give the number where the slide belongs."))
        at = talks.move(row, to=to, by=request.user, now=request.now)
    except Refused as refusal:
        return _refused(request, row, refusal)
    text = _("The slide is number %(number)d now.") % {"number": at}
    return _done(request, row.talk_set, text, slide=row.pk)


@require_POST
@door(Deed.KEEP_TALKS)
def slide_removal(request: OrchardRequest, number: int, slide: int) -> HttpResponse:
    row = permissions.slide_for(request.member, number, slide)
    try:
        talks.remove(row, by=request.user, now=request.now)
    except Refused as refusal:
        return _refused(request, row, refusal)
    return _done(request, row.talk_set, _("Slide removed."))


@require_POST
@door(Deed.KEEP_TALKS)
def photo_place(
    request: OrchardRequest, number: int, slide: int, place: int
) -> HttpResponse:
    """Move a photo to a number of its slide."""
    row = permissions.slide_for(request.member, number, slide)
    try:
        to = _wanted_place(request, _("Give the number where the photo belongs."))
        at = talks.move_photo(row, place, to=to, by=request.user, now=request.now)
    except Refused as refusal:
        return _refused(request, row, refusal)
    done = _("The photo is number %(number)d now.") % {"number": at}
    return _done(request, row.talk_set, done, slide=row.pk)


@require_POST
@door(Deed.KEEP_TALKS)
def photo_removal(
    request: OrchardRequest, number: int, slide: int, place: int
) -> HttpResponse:
    row = permissions.slide_for(request.member, number, slide)
    try:
        talks.remove_photo(row, place, by=request.user, now=request.now)
    except Refused as refusal:
        return _refused(request, row, refusal)
    return _done(
        request, row.talk_set, _("Photo removed from the slide."), slide=row.pk
    )
