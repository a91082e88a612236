"""Stories for visitors: of one tree, and of all of a cultivar."""

from __future__ import annotations

from django import forms
from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as _lazy
from django.views.decorators.http import require_http_methods

from orchard.records.models import Kind, Tree
from orchard.services import permissions, trees, visitors
from orchard.services.permissions import Deed
from orchard.services.visitors import MOST_LETTERS
from orchard.web import answers
from orchard.web.doorkeeper import door
from orchard.web.pages.visitors.tags import AS_VISITOR
from orchard.web.requests import OrchardRequest

READ_AND_SEND = ["GET", "HEAD", "POST"]


class StoryForm(forms.Form):
    """What visitors read."""

    story = forms.CharField(
        label=_lazy("Story for visitors"),
        required=False,
        max_length=MOST_LETTERS,
        widget=forms.Textarea(attrs={"rows": 10}),
        help_text=_lazy(
            "Plain text, at most 1500 letters. Everybody can read it: name no people, "
            "no addresses and nothing that is under investigation."
        ),
    )


@require_http_methods(READ_AND_SEND)
@door(Deed.WRITE_STORIES)
def tree_story(request: OrchardRequest, code: str) -> HttpResponse:
    tree = permissions.tree_for(request.member, code)
    tag = next((row for row in trees.tags_of(tree) if row.retired_at is None), None)
    seen = f"{reverse('tag', args=[tag.token])}?{AS_VISITOR}" if tag else ""
    back = reverse("tree-show", args=[request.orchard.slug, tree.code])
    return _story(request, tree, name=tree.code, seen_url=seen, back_url=back)


@require_http_methods(READ_AND_SEND)
@door(Deed.WRITE_STORIES)
def kind_story(request: OrchardRequest, number: int) -> HttpResponse:
    kind = permissions.kind_for(request.member, number)
    back = reverse("kinds", args=[request.orchard.slug])
    return _story(request, kind, name=kind.name, seen_url="", back_url=back)


def _story(
    request: OrchardRequest,
    subject: Tree | Kind,
    *,
    name: str,
    seen_url: str,
    back_url: str,
) -> HttpResponse:
    form = StoryForm(request.POST or None, initial={"story": subject.story})
    if request.method == "POST" and form.is_valid():
        with answers.refusals(form):
            visitors.write_story(
                subject,
                member=request.member,
                now=request.now,
                text=form.cleaned_data["story"],
            )
            text = _("Story of %(name)s saved.") % {"name": name}
            return answers.done(request, text, to=seen_url or back_url)
    context = {
        "form": form,
        "name": name,
        "of_tree": isinstance(subject, Tree),
        "seen_url": seen_url,
        "back_url": back_url,
    }
    if request.method == "POST":
        return answers.refused_page(request, "visitors/story.html", context)
    return render(request, "visitors/story.html", context)
