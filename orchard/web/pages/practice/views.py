"""The pages of the practice: asked, answered, taken away, and what is mixed up."""

from __future__ import annotations

from django.http import HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from orchard.records.models import Orchard, Photo
from orchard.science import guide
from orchard.science.figures import figure
from orchard.science.guide import Sign
from orchard.science.words import PracticeLevel
from orchard.services import permissions, practice
from orchard.services.permissions import Deed, may
from orchard.services.practice import PracticeQuestion, TakenQuestion
from orchard.web import answers, charts, explain
from orchard.web.charts import SignPicture
from orchard.web.doorkeeper import door
from orchard.web.pages.practice.forms import PracticeAnswerForm
from orchard.web.requests import OrchardRequest

# Questions on the page that is kept for where there is no signal.
TAKEN_ALONG = 24


@require_http_methods(["GET", "HEAD", "POST"])
@door(Deed.SEE)
def question(request: OrchardRequest) -> HttpResponse:
    """Ask the next question, or take the answer to one and go on to what it was."""
    form = PracticeAnswerForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        given = {
            **form.cleaned_data,
            "level": PracticeLevel(form.cleaned_data["level"]),
        }
        with answers.refusals(form):
            kept = practice.answer(request.member, now=request.now, **given)
            args = [request.orchard.slug, kept.pk]
            return HttpResponseRedirect(reverse("practice-answer", args=args))
    asked = practice.next_question(request.member, today=request.today)
    context = {
        "form": form,
        "asked": asked,
        "picture": _picture(asked, request.orchard),
        "progress": practice.progress_of(request.member, today=request.today),
        "formula": explain.anchor_of("practice.box_after"),
        "sees_mix_ups": may(request.member, Deed.SEE_MIX_UPS),
    }
    status = 422 if request.method == "POST" else 200
    return render(request, "practice/question.html", context, status=status)


@require_safe
@door(Deed.SEE)
def answered(request: OrchardRequest, number: int) -> HttpResponse:
    """Show what it was: how to tell, the one difference, and what it calls for."""
    kept = permissions.practice_answer_for(request.member, number)
    signs = guide.load().signs
    sign = signs.get(kept.sign)
    if sign is None:
        return HttpResponseRedirect(reverse("practice", args=[request.orchard.slug]))
    other = None if kept.is_right else signs.get(kept.taken_for)
    photo = kept.photo if kept.photo and _is_shown(kept.photo, request) else None
    context = {
        "is_right": kept.is_right,
        "sign": sign,
        "other": other,
        "picture": charts.sign_picture(
            sign, {sign.key: photo} if photo else {}, request.orchard, size="middle"
        ),
        "other_picture": other and charts.sign_picture(other, {}, request.orchard),
        "difference": practice.told_apart_by(sign, other) if other else "",
        "look_for": explain.sentences(sign.look_for),
        "rules": explain.rule_lines(sign.rules, sign, request.orchard),
        "guide_url": reverse("guide-sign", args=[request.orchard.slug, sign.key]),
        "practice_url": reverse("practice", args=[request.orchard.slug]),
    }
    return render(request, "practice/answer.html", context)


@require_safe
@door(Deed.SEE)
def away(request: OrchardRequest) -> HttpResponse:
    """Show questions with their answers folded, to be kept where there is no signal."""
    questions = practice.questions_to_take(
        request.member, today=request.today, most=TAKEN_ALONG
    )
    cards = [
        {
            "row": row,
            "sign": row.sign,
            "picture": charts.sign_picture(row.sign, {}, request.orchard),
            "look_for": explain.sentences(row.sign.look_for),
            "differences": _differences(row),
        }
        for row in questions
    ]
    last_box = round(figure("practice_boxes").value)
    return render(request, "practice/away.html", {"cards": cards, "last_box": last_box})


def _differences(taken: TakenQuestion) -> list[tuple[Sign, str]]:
    """List what a sign may be taken for on a phone, each with the one difference."""
    others = taken.choices[max(taken.choices)].choices
    pairs = [(other, practice.told_apart_by(taken.sign, other)) for other in others]
    return [(other, words) for other, words in pairs if words and other != taken.sign]


@require_safe
@door(Deed.SEE_MIX_UPS)
def mixed_up(request: OrchardRequest) -> HttpResponse:
    """List which signs the crew mixes up, over so many people that none can be told."""
    rows = [
        {
            "row": row,
            "picture": charts.sign_picture(row.sign, {}, request.orchard),
            "other_picture": charts.sign_picture(row.taken_for, {}, request.orchard),
            "difference": practice.told_apart_by(row.sign, row.taken_for),
        }
        for row in practice.mix_ups(request.member, now=request.now)
    ]
    return render(request, "practice/mixed_up.html", {"rows": rows})


def _picture(asked: PracticeQuestion, orchard: Orchard) -> SignPicture:
    """Return the picture to be recognised; its words do not say what it shows."""
    photos: dict[str, Photo] = {asked.sign.key: asked.photo} if asked.photo else {}
    shown = charts.sign_picture(asked.sign, photos, orchard, size="middle")
    return SignPicture(
        src=shown.src,
        # To those who cannot see it, what there is to see.
        alt=_("To be seen: %(words)s") % {"words": asked.sign.look_for},
        credit=shown.credit,
        width=shown.width,
        height=shown.height,
    )


def _is_shown(photo: Photo, request: OrchardRequest) -> bool:
    return photo.is_current and not photo.private
