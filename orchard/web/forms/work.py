"""How work is closed, handed over and planned."""

from __future__ import annotations

from datetime import date
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from orchard.records.models import Membership, Task
from orchard.services import fruit
from orchard.services.care_plan import PlannedJob
from orchard.web.forms.days_of_year import DayOfYearField, calendar_day, season_day

NOBODY = "nobody"


def day_field(label: Any, **options: Any) -> forms.DateField:
    """Return a field for a day, written by the browser's own calendar."""
    return forms.DateField(
        label=label,
        widget=forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"}),
        input_formats=["%Y-%m-%d"],
        error_messages={"required": _("Give the day."), "invalid": _("Give a day.")},
        **options,
    )


class DoneForm(forms.Form):
    evidence = forms.CharField(
        label=_("What was done"),
        help_text=_("A few words or a count. Without them it reads: done, unproven."),
        max_length=500,
        required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
    )
    photo = forms.FileField(
        label=_("Photo that shows it"),
        required=False,
        widget=forms.FileInput(attrs={"accept": "image/*"}),
    )
    done_on = day_field(_("Done on"))

    @classmethod
    def of(cls, task: Task, *, today: date, data=None, files=None) -> DoneForm:
        """Return the form of a task, with the days on which it can have been done."""
        form = cls(data, files, initial={"done_on": today}, prefix="done")
        days = {"max": today.isoformat(), "min": task.opens_on.isoformat()}
        form.fields["done_on"].widget.attrs.update(days)
        if task.what == fruit.CUT_TEST:
            form.fields = {**form._counts(), **form.fields}
        return form

    @staticmethod
    def _counts() -> dict[str, forms.Field]:
        """Return what a cut test asks for first."""
        return {
            "fruit_cut": forms.IntegerField(
                label=_("Fruit cut"),
                help_text=_("Ten at the least, from the outside of the crown."),
                min_value=1,
                max_value=500,
            ),
            "fruit_spoilt": forms.IntegerField(
                label=_("Of these with ice in them, or dry"),
                help_text=_("A tenth or more, and the fruit stays on the tree."),
                min_value=0,
                max_value=500,
            ),
        }


class SkipForm(forms.Form):
    reason = forms.CharField(
        label=_("Why it is left undone"),
        max_length=500,
        error_messages={
            "required": _("Say why this is left undone, so that the next person knows.")
        },
        widget=forms.Textarea(attrs={"rows": 3}),
    )

    @classmethod
    def of(cls, data=None) -> SkipForm:
        return cls(data, prefix="skip")


class HandingForm(forms.Form):
    to = forms.ChoiceField(label=_("Who has it"))

    @classmethod
    def of(cls, task: Task, takers: tuple[Membership, ...], data=None) -> HandingForm:
        """Return the form with everybody who may take this task on, and nobody."""
        form = cls(data, initial={"to": task.taken_by_id or NOBODY})
        form.fields["to"].choices = [
            (NOBODY, _("nobody yet")),
            *((one.user_id, one.user.name) for one in takers),
        ]
        return form

    def chosen(self, takers: tuple[Membership, ...]) -> Any:
        """Return the person chosen, None for nobody."""
        chosen = self.cleaned_data["to"]
        return next((one.user for one in takers if str(one.user_id) == chosen), None)


class JobForm(forms.Form):
    """How a job of the care plan is asked for in an orchard."""

    latitude: float
    stands: str
    active = forms.TypedChoiceField(
        label=_("Asked for here"),
        choices=[("yes", _("Yes: its tasks open by themselves")), ("no", _("No"))],
        coerce=lambda value: value == "yes",
        widget=forms.RadioSelect,
    )
    every_days = forms.IntegerField(
        label=_("Own interval"),
        help_text=_("Empty means as the guide has it."),
        required=False,
    )
    window_from = DayOfYearField(
        label=_("Own window, from"),
        help_text=_("Both ends empty means as the guide has it."),
    )
    window_to = DayOfYearField(label=_("Own window, until"))
    reason = forms.CharField(
        label=_("Why"),
        max_length=300,
        error_messages={"required": _("Say why, so that the next coordinator knows.")},
    )

    @classmethod
    def of(cls, planned: PlannedJob, *, latitude: float, data=None) -> JobForm:
        """Return the form of a job, with only the fields it has a use for."""
        plan = planned.plan
        first, _dots, last = plan.window.partition("&")[0].partition("..")
        form = cls(
            data,
            initial={
                "active": "yes" if plan.active else "no",
                "every_days": plan.every_days,
                "window_from": calendar_day(first, latitude),
                "window_to": calendar_day(last, latitude),
            },
        )
        form.latitude, form.stands = latitude, plan.window
        if not planned.takes_interval:
            del form.fields["every_days"]
        if not planned.takes_window:
            del form.fields["window_from"]
            del form.fields["window_to"]
        return form

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        ends = [bool(said.get(name)) for name in ("window_from", "window_to")]
        if any(ends) and not all(ends) and not self.errors:
            missing = "window_to" if ends[0] else "window_from"
            self.add_error(missing, _("Give both ends of the window, or neither."))
        return said

    def plan(self) -> dict[str, Any]:
        """Return what is set, a window as the plan keeps it, counted from spring."""
        said = dict(self.cleaned_data)
        days = [said.pop(name, None) for name in ("window_from", "window_to")]
        if "window_from" in self.fields:
            ends = [season_day(day, self.latitude) for day in days]
            said["window"] = "..".join(ends) if all(ends) else ""
            if not {"window_from", "window_to"} & set(self.changed_data):
                # A window of several stretches stays whole while nobody touches it.
                said["window"] = self.stands
        return said
