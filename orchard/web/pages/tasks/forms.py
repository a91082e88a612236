"""How work is closed, handed over and planned."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from orchard.records.models import Membership, Task, User
from orchard.science.figures import figure
from orchard.science.words import JobRole
from orchard.services import tasks
from orchard.web.fields import (
    MeasuredForm,
    day_field,
    number_field,
    offer,
    photo_field,
    reason_field,
)

NOBODY = "nobody"


class DoneForm(MeasuredForm):
    measured = {"litres": "L"}

    litres = number_field(
        _("Water for each tree"),
        required=False,
        help_text=_("If empty, the tree counts as watered until the soil was full."),
    )
    evidence = forms.CharField(
        label=_("What was done"),
        help_text=_("A few words or a count. Without them: no evidence."),
        max_length=500,
        required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
    )
    photo = photo_field(_("Photo that shows it"))
    done_on = day_field(_("Done on"))

    def __init__(self, *args: Any, asks_litres: bool = False, **options: Any) -> None:
        super().__init__(*args, **options)
        if not asks_litres:
            del self.fields["litres"]

    @classmethod
    def for_task(
        cls,
        task: Task,
        *,
        today: date,
        now: datetime,
        done_on: date | None = None,
        data: Any = None,
        files: Any = None,
    ) -> DoneForm:
        """Return the form of a task, with the days on which it can have been done."""
        form = cls(
            data,
            files,
            initial={"done_on": done_on or today},
            prefix="done",
            asks_litres=task.has_role(JobRole.WATERING),
            units=task.orchard.units,
        )
        if tasks.closed_by_treatment(task, done_on or today, now=now) or (
            data and "done-despite_hold" in data
        ):
            form.fields["despite_hold"] = forms.CharField(
                label=_("It was done all the same: what happened"),
                max_length=500,
                required=False,
                help_text=_("It is kept, and the coordinator looks into it."),
            )
        days = {"max": today.isoformat(), "min": task.opens_on.isoformat()}
        form.fields["done_on"].widget.attrs.update(days)
        if "litres" in form.fields and task.tree_id is None:
            form.fields["litres"].help_text = _(
                "For each tree of the block on a drip line. If empty, they count as "
                "watered until the soil was full."
            )
        if task.has_role(JobRole.CUT_TEST):
            form.fields = {**form._counts(), **form.fields}
        return form

    @staticmethod
    def _counts() -> dict[str, forms.Field]:
        """Return what a cut test asks for first."""
        return {
            "fruit_cut": forms.IntegerField(
                label=_("Fruit cut"),
                help_text=_("At least %(fewest)d, from the outside of the crown.")
                % {"fewest": figure("cut_test_fewest").value},
                min_value=1,
                max_value=500,
            ),
            "fruit_spoilt": forms.IntegerField(
                label=_("Of these with ice in them, or dry"),
                help_text=_("From %(percent)d %% on, the fruit stays on the tree.")
                % {"percent": figure("cut_test_fails_percent").value},
                min_value=0,
                max_value=500,
            ),
        }


class SkipForm(forms.Form):
    reason = forms.CharField(
        label=_("Why it is skipped"),
        max_length=500,
        error_messages={
            "required": _("Say why it is skipped, so that the next person knows.")
        },
        widget=forms.Textarea(attrs={"rows": 3}),
    )

    @classmethod
    def for_task(cls, data: Any = None) -> SkipForm:
        return cls(data, prefix="skip")


class TaskHandOverForm(forms.Form):
    to = forms.ChoiceField(label=_("Assigned to"))

    @classmethod
    def for_task(
        cls, task: Task, takers: tuple[Membership, ...], data: Any = None
    ) -> TaskHandOverForm:
        """Return the form with everybody who may take this task on, and nobody."""
        form = cls(data, initial={"to": task.taken_by_id or NOBODY})
        people = [(member.user_id, member.user.name) for member in takers]
        offer(form, "to", [(NOBODY, _("unassigned")), *people])
        return form

    def chosen(self, takers: tuple[Membership, ...]) -> Any:
        """Return the person chosen, None for nobody."""
        chosen = self.cleaned_data["to"]
        return next(
            (member.user for member in takers if str(member.user_id) == chosen), None
        )


class CloseManyForm(forms.Form):
    evidence = forms.CharField(
        label=_("What was done"),
        help_text=_("Kept with each task. Without it: no evidence."),
        max_length=500,
        required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
    )
    photo = photo_field(
        _("Photo that shows it"), help_text=_("One photo is kept with all of them.")
    )
    done_on = day_field(_("Done on"))


class SkipManyForm(forms.Form):
    reason = reason_field(_("Why they are skipped"))


class MoveManyForm(forms.Form):
    due_on = day_field(_("Due by"))
    reason = reason_field(_("Why"), required=False)


class HandOverManyForm(forms.Form):
    to = forms.ChoiceField(label=_("Assigned to"))

    def __init__(self, *args: Any, members: Iterable[Membership], **options: Any):
        super().__init__(*args, **options)
        self.people = {str(member.user_id): member.user for member in members}
        people = [(number, user.name) for number, user in self.people.items()]
        offer(self, "to", [(NOBODY, _("unassigned")), *people])

    def clean_to(self) -> User | None:
        """Return the person chosen, None for nobody."""
        return self.people.get(self.cleaned_data["to"])
