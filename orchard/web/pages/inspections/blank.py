"""The form for any tree: kept on phones for trees whose own form is not there."""

from __future__ import annotations

from django import forms
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_safe

from orchard.services import permissions
from orchard.services.errors import NotThere
from orchard.services.permissions import Deed
from orchard.web.doorkeeper import door
from orchard.web.pages.inspections import form_page
from orchard.web.requests import OrchardRequest


class WhichTreeForm(forms.Form):
    """The code on a tree's tag."""

    tree = forms.CharField(
        label=gettext_lazy("Code on the tag"),
        max_length=60,
        widget=forms.TextInput(
            attrs={"autocapitalize": "characters", "autocomplete": "off"}
        ),
    )


@require_safe
@door(Deed.INSPECT)
def blank(request: OrchardRequest) -> HttpResponse:
    """Show the form that serves any tree; lead on where the tree is named."""
    which = WhichTreeForm(request.GET or None)
    if which.is_bound and which.is_valid():
        code = which.cleaned_data["tree"].upper()
        try:
            tree = permissions.tree_for(request.member, code)
        except NotThere:
            text = _("No tree here has the code %(code)s. Check its tag.")
            which.add_error("tree", text % {"code": code})
        else:
            return redirect("inspection-new", request.orchard.slug, tree.code)
    page = form_page.blank_of(request.orchard, now=request.now)
    status = 404 if which.is_bound else 200
    return render(
        request, "inspections/blank.html", {**page, "which": which}, status=status
    )
