"""One line of a sheet: who, when, which tree, and how it was."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from typing import Any

from django import forms
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from orchard.records.models import Membership, Orchard, Tree, User
from orchard.services import permissions
from orchard.services.errors import Refused
from orchard.web import answers
from orchard.web.fields import day_field, offer


class PaperForm(forms.Form):
    """Person and day stay for the next tree; all that is wrong is said at once."""

    member: Membership
    people: dict[str, User]
    # The page says all that is wrong at once.
    use_required_attribute = False
    person = forms.ChoiceField(
        label=_("Seen by"),
        error_messages={
            "required": _("Choose the person."),
            "invalid_choice": _("Choose the person."),
        },
    )
    day = day_field(_("Seen on"))
    tree = forms.CharField(
        label=_("Tree"),
        max_length=24,
        error_messages={"required": _("Say which tree: its code is on its tag.")},
        widget=forms.TextInput(
            attrs={"autocapitalize": "characters", "autocomplete": "off"}
        ),
    )
    condition = forms.TypedChoiceField(
        label=_("Condition"),
        required=False,
        coerce=int,
        empty_value=None,
        choices=[("", _("not scored")), *((n, str(n)) for n in range(1, 6))],
    )
    note = forms.CharField(
        label=_("Note"), required=False, max_length=4000, widget=forms.TextInput
    )

    @classmethod
    def for_member(
        cls,
        member: Membership,
        people: Iterable[Membership],
        *,
        today: date,
        initial: dict[str, Any],
        data: Any = None,
    ) -> PaperForm:
        """Return the form with everybody who looked or worked here."""
        form = cls(data, initial={"day": today, **initial})
        form.member = member
        people = list(people)
        form.people = {str(member.user_id): member.user for member in people}
        names = [(str(member.user_id), _name(member)) for member in people]
        offer(form, "person", [("", _("choose")), *names])
        form.fields["day"].widget.attrs["max"] = today.isoformat()
        at = "tree" if initial.get("person") else "person"
        form.fields[at].widget.attrs["autofocus"] = True
        return form

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        if not self.has_error("tree"):
            try:
                code = cleaned["tree"]
                cleaned["found"] = permissions.tree_typed(self.member, code)
            except Refused as refusal:
                answers.refused(self, refusal)
        day, person = cleaned.get("day"), self.chosen
        if day is not None and person is not None:
            try:
                permissions.check_was_member(self.orchard, person, on=day)
            except Refused as refusal:
                answers.refused(self, refusal)
        return cleaned

    def check_day(self, today: date) -> None:
        """Refuse a day to come; a form does not know which day it is."""
        day = self.cleaned_data.get("day")
        if day is not None and day > today:
            self.add_error(
                "day", _now("That day is in the future. Enter the day it was seen.")
            )

    @property
    def orchard(self) -> Orchard:
        return self.member.orchard

    @property
    def chosen(self) -> User | None:
        """Return the person chosen, as far as it can be read."""
        return self.people.get(self.cleaned_data.get("person", ""))

    @property
    def found(self) -> Tree:
        """Return the tree whose code was typed."""
        tree: Tree = self.cleaned_data["found"]
        return tree


def _name(member: Membership) -> str:
    if member.left_at is None:
        return member.user.name
    return _now("%(name)s (has left)") % {"name": member.user.name}
