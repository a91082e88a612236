"""A register of trees: sent, looked through, taken in; and an example of one."""

from __future__ import annotations

import csv
import io

from django.http import HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods, require_safe

from orchard.services import imports
from orchard.services.errors import Refused
from orchard.services.imports import Sheet, register
from orchard.services.imports.register import Choices, Imported
from orchard.services.permissions import Deed
from orchard.web import answers
from orchard.web.doorkeeper import door
from orchard.web.pages import trees
from orchard.web.pages.imports import register_forms as forms
from orchard.web.requests import OrchardRequest

EXAMPLE = (
    ("code", "cultivar", "block", "spot", "rootstock", "planted", "container",
     "believed to be", "note"),
    ("A-1", "Washington navel", "A", "1", "Carrizo / Troyer citrange", "2018-04-12",
     "", "no", ""),
    ("A-2", "Owari satsuma", "A", "2", "Trifoliate orange", "2019-03-30", "", "no",
     "reaches over the path"),
    ("A-3", "Valencia", "A", "3", "", "", "", "yes", "label lost"),
    ("P-1", "Meiwa kumquat", "P", "1", "Flying Dragon", "2023-05-06", "57 L", "no", ""),
    ("P-2", "Makrut lime", "P", "2", "own roots", "2024-04-20", "38 L", "no", ""),
)  # fmt: skip


@require_http_methods(["GET", "HEAD", "POST"])
@door(Deed.KEEP_REGISTER)
def import_trees(request: OrchardRequest) -> HttpResponse:
    if request.method == "POST" and "sheet" in request.POST:
        return _answered(request)
    form = forms.Upload(
        request.POST if request.method == "POST" else None, request.FILES or None
    )
    context = {"form": form, "example": EXAMPLE}
    if request.method != "POST":
        return render(request, "imports/register_upload.html", context)
    if form.is_valid():
        file = form.cleaned_data["file"]
        with answers.refusals(form):
            return _shown(request, imports.read_sheet(file, file.name), Choices())
    return answers.refused_page(request, "imports/register_upload.html", context)


def _answered(request: OrchardRequest) -> HttpResponse:
    """Look again with what was chosen, or take in what was shown."""
    sheet = forms.unpacked(request.POST["sheet"], _salt(request))
    if sheet is None:
        form = forms.Upload()
        text = _(
            "The page with the file is older than a day, or damaged. Send it again."
        )
        context = {"form": form, "example": EXAMPLE, "refusal": text}
        return answers.refused_page(request, "imports/register_upload.html", context)
    choices = forms.choices_in(request.POST, sheet)
    if request.POST.get("step") != "take":
        return _shown(request, sheet, choices)
    if request.POST.get("mark") != forms.mark_of(choices):
        text = _("You changed something above. This is what would happen now.")
        return _shown(request, sheet, choices, refusal=text)
    try:
        taken = register.import_trees(
            request.orchard,
            sheet,
            by=request.user,
            now=request.now,
            today=request.today,
            choices=choices,
        )
    except Refused as refusal:
        return _shown(request, sheet, choices, refusal=str(refusal))
    slug = request.orchard.slug
    return answers.done(request, _summary(taken), to="trees", orchard=slug)


def _shown(
    request: OrchardRequest, sheet: Sheet, choices: Choices, refusal: str = ""
) -> HttpResponse:
    preview = register.preview(
        request.orchard, sheet, today=request.today, choices=choices
    )
    mapped = Choices(
        mapping=tuple(column.field for column in preview.columns),
        day_first=choices.day_first,
        new_blocks=choices.new_blocks,
        new_spots=choices.new_spots,
        new_kinds=choices.new_kinds,
    )
    context = {
        "preview": preview,
        "sheet": sheet,
        "packed": forms.packed(sheet, _salt(request)),
        "mark": forms.mark_of(mapped),
        "choices": choices,
        "fields": forms.field_choices(),
        "hosts": trees.HOST_WORDS,
        "refusal": refusal,
    }
    status = 422 if refusal else 200
    return render(request, "imports/register_preview.html", context, status=status)


def _salt(request: OrchardRequest) -> str:
    return f"register:{request.orchard.pk}:{request.user.pk}"


def _summary(taken: Imported) -> str:
    text = ngettext("%(count)d tree is new.", "%(count)d trees are new.", taken.trees)
    parts = [text % {"count": taken.trees}]
    if taken.here:
        text = ngettext(
            "%(count)d was here already.", "%(count)d were here already.", taken.here
        )
        parts.append(text % {"count": taken.here})
    return " ".join(parts)


@require_safe
@door(Deed.KEEP_REGISTER)
def example_register(request: OrchardRequest) -> HttpResponse:
    text = io.StringIO(newline="")
    csv.writer(text).writerows(EXAMPLE)
    # The mark at the start tells spreadsheet programs that this is UTF-8.
    return HttpResponse(
        text.getvalue().encode("utf-8-sig"),
        content_type="text/csv; charset=utf-8",
        headers={"Content-Disposition": 'attachment; filename="register-example.csv"'},
    )
