"""What is asked about a frost night: the evening's readings, the night as it was."""

from __future__ import annotations

from django import forms
from django.utils.translation import gettext_lazy as _

from orchard.web.fields import MeasuredForm, day_field, number_field, with_figures


class EveningForm(MeasuredForm):
    measured = {"evening": "°C"}

    evening = number_field(
        with_figures(
            _("Air %(hours)s hours after sunset"), words=True, hours="evening_reading_h"
        ),
        required=False,
    )


class NightForm(MeasuredForm):
    measured = {"lowest": "°C"}

    ended_on = day_field(_("The night that ended on"))
    lowest = number_field(_("Lowest temperature"))
    hours_check = number_field(
        with_figures(_("Hours at %(limit)s °C or below"), limit="fruit_check_c"),
        required=False,
        help_text=_(
            "Leave empty if nobody counted. With an evening reading, the app estimates "
            "it from the curve of the night."
        ),
    )  # fmt: skip
    hours_hold = number_field(
        with_figures(_("Hours at %(limit)s °C or below"), limit="fruit_hold_c"),
        required=False,
    )
    calm_clear = forms.TypedChoiceField(
        label=_("Still and clear all night"),
        choices=[("", _("not known")), ("yes", _("yes")), ("no", _("no"))],
        coerce=lambda answer: answer == "yes",
        empty_value=None,
        required=False,
        help_text=_("The app works out the offset from such nights only."),
    )
    note = forms.CharField(label=_("In your words"), max_length=500, required=False)
