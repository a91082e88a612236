"""The form of a job of the care plan."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from orchard.services.care_plan import PlannedJob
from orchard.web.days_of_year import DayOfYearField, calendar_day, season_day
from orchard.web.fields import ColumnOfChoices, NumberWithUnit


class JobForm(forms.Form):
    """How a job of the care plan is asked for in an orchard."""

    latitude: float
    stands: str
    active = forms.TypedChoiceField(
        label=_("Asked for here"),
        choices=[("yes", _("Yes: its tasks open by themselves")), ("no", _("No"))],
        coerce=lambda value: value == "yes",
        widget=ColumnOfChoices,
    )
    every_days = forms.IntegerField(
        label=_("Own interval"),
        help_text=_("Leave empty to follow the guide."),
        widget=NumberWithUnit(unit=_("days")),
        required=False,
    )
    window_from = DayOfYearField(
        label=_("Own window, from"),
        help_text=_("Leave both ends empty to follow the guide."),
    )
    window_to = DayOfYearField(label=_("Own window, until"))
    reason = forms.CharField(
        label=_("Why"),
        max_length=300,
        error_messages={"required": _("Say why, so that the next coordinator knows.")},
    )

    @classmethod
    def for_job(
        cls, planned: PlannedJob, *, latitude: float, data: Any = None
    ) -> JobForm:
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
        cleaned = super().clean() or {}
        ends = [bool(cleaned.get(name)) for name in ("window_from", "window_to")]
        if any(ends) and not all(ends) and not self.errors:
            missing = "window_to" if ends[0] else "window_from"
            self.add_error(missing, _("Give both ends of the window, or neither."))
        return cleaned

    def plan(self) -> dict[str, Any]:
        """Return what is set, a window as the plan keeps it, counted from spring."""
        cleaned = dict(self.cleaned_data)
        days = [cleaned.pop(name, None) for name in ("window_from", "window_to")]
        if "window_from" in self.fields:
            ends = [season_day(day, self.latitude) for day in days]
            cleaned["window"] = "..".join(ends) if all(ends) else ""
            if not {"window_from", "window_to"} & set(self.changed_data):
                # A window of several stretches stays whole while nobody touches it.
                cleaned["window"] = self.stands
        return cleaned
