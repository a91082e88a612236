"""Answers: a whole page or the part of it that htmx asked for."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from typing import TYPE_CHECKING, Any, TypeVar

from django.contrib import messages
from django.forms import Form
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.template.loader import render_to_string
from django.utils.cache import patch_vary_headers
from django.utils.translation import ngettext
from django.views.generic.edit import FormMixin

from orchard.records.models import Task
from orchard.services import permissions
from orchard.services.errors import MayNot, NotThere, Refused
from orchard.web.requests import OrchardRequest

Saved = TypeVar("Saved")


def page_or_part(
    request: Any, page: str, part: str, context: Mapping[str, Any]
) -> HttpResponse:
    """Render the part for htmx and the whole page for everybody else."""
    template = part if request.htmx and not request.htmx.boosted else page
    response = render(request, template, dict(context))
    patch_vary_headers(response, ["HX-Request"])
    return response


def unreadable(request: HttpRequest, exception: Exception) -> HttpResponse:
    """Say that what was sent cannot be read, without reading it again.

    The page that Django has for it looks for a token in the body first.
    """
    return HttpResponse(render_to_string("400.html"), status=400)


def missing(request: HttpRequest, exception: Exception) -> HttpResponse:
    """Say that there is no such page; a member of the orchard keeps its menu."""
    slug = request.path.split("/")[1]
    user = getattr(request, "user", None)
    if user and user.is_authenticated and slug and "\0" not in request.path:
        with suppress(NotThere):
            member = permissions.member_for(user, slug)
            vars(request).update(member=member, orchard=member.orchard)
    return render(request, "404.html", status=404)


def refused(form: Form, refusal: Refused) -> None:
    """Put a refusal of a service on the form, beside the field it belongs to."""
    field = refusal.field if refusal.field in form.fields else None
    form.add_error(field, str(refusal))


@contextmanager
def refusals(form: Form, *others: Form) -> Iterator[None]:
    """Do what a form asks for; what a service refuses stands on the form afterwards.

    Of several forms sent together, on the one that has the field it belongs to. What
    somebody may not do at all is no matter of the form.
    """
    try:
        yield
    except (MayNot, NotThere):
        raise
    except Refused as refusal:
        at_fault = (each for each in (form, *others) if refusal.field in each.fields)
        refused(next(at_fault, form), refusal)


if TYPE_CHECKING:
    # Generic for the type checker alone.
    FormView = FormMixin[Any]
else:
    FormView = FormMixin


class RefusableFormMixin(FormView):
    """Show a refusal of a service on the form of a view, and a faulty form as 422."""

    def form_valid(self, form: Any) -> HttpResponse:
        with refusals(form):
            return super().form_valid(form)
        return self.form_invalid(form)

    def form_invalid(self, form: Any) -> HttpResponse:
        answer = super().form_invalid(form)
        answer.status_code = 422
        return answer


def refused_page(
    request: HttpRequest, page: str, context: Mapping[str, Any]
) -> HttpResponse:
    """Show a form again with what was typed and what is wrong with it."""
    return render(request, page, dict(context), status=422)


def done(
    request: HttpRequest, text: str, *, to: str, undo_url: str = "", **kwargs: Any
) -> HttpResponse:
    """Say what happened, offer the undo, and go on to a page."""
    messages.success(request, text, extra_tags=undo_url)
    response: HttpResponse = redirect(to, **kwargs)
    return response


def reason_page(
    request: OrchardRequest,
    form: Form,
    save: Callable[..., Saved],
    *,
    message: str | Callable[[Saved], str],
    back_url: str,
    to: str | Callable[[Saved], str] = "",
    template: str = "reason.html",
    **context: Any,
) -> HttpResponse:
    """Ask for a reason, do what is asked with it, and go on to the page behind.

    `save` gets the fields of the form, who asks, and the time; a `message` or a page to
    go on `to` that depends on what it did is made from what it returns. The page reads
    from its context: heading, lead, explanation, button, cancel, back_label and look, a
    class of its form.
    """
    context |= {"form": form, "back_url": back_url, "today": request.today}
    if form.is_bound and form.is_valid():
        with refusals(form):
            saved = save(by=request.user, now=request.now, **form.cleaned_data)
            text = message if isinstance(message, str) else message(saved)
            page = to if isinstance(to, str) else to(saved)
            return done(request, text, to=page or back_url)
    if form.is_bound:
        return refused_page(request, template, context)
    return render(request, template, context)


def with_opened(text: str, opened: Sequence[Task] | None) -> str:
    """Say after what happened how much work it opened, if any."""
    if not opened:
        return text
    count = len(opened)
    tasks = ngettext("%(count)d task opened.", "%(count)d tasks opened.", count)
    return f"{text} {tasks % {'count': count}}"
