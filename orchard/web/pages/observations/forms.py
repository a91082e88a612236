"""How something that happened, or a growth stage, is noted and corrected."""

from __future__ import annotations

from datetime import date
from typing import Any

from django import forms
from django.http import QueryDict
from django.utils.text import capfirst
from django.utils.translation import gettext_lazy as _

from orchard.records.models import Happening, StageNote
from orchard.science import guide
from orchard.science.events import EventKind
from orchard.science.units import in_text
from orchard.web.fields import day_field, offer


class HappeningForm(forms.Form):
    what = forms.ChoiceField(label=_("What happened"), widget=forms.RadioSelect)
    happened_on = day_field(_("When"))
    note = forms.CharField(label=_("In your words"), max_length=500, required=False)
    reason = forms.CharField(label=_("Why you correct it"), max_length=500)

    @classmethod
    def new(
        cls,
        *,
        today: date,
        whole_orchard: bool,
        units: str,
        data: QueryDict | None = None,
    ) -> HappeningForm:
        """Return the form for something new, of one tree or of the whole orchard."""
        form = cls(data, initial={"happened_on": today})
        del form.fields["reason"]
        return form._with(today, whole_orchard, units)

    @classmethod
    def correcting(
        cls,
        row: Happening,
        *,
        today: date,
        units: str,
        data: QueryDict | None = None,
    ) -> HappeningForm:
        """Return the form filled with what is noted, asking for the reason."""
        initial = {"what": row.what, "happened_on": row.happened_on, "note": row.note}
        return cls(data, initial=initial)._with(today, row.tree_id is None, units)

    def _with(self, today: date, whole_orchard: bool, units: str) -> HappeningForm:
        choices = [
            (kind.value, in_text(capfirst(kind.label), units))
            for kind in EventKind
            if kind.of_whole_orchard or not whole_orchard
        ]
        offer(self, "what", choices)
        self.fields["happened_on"].widget.attrs["max"] = today.isoformat()
        return self


class StageForm(forms.Form):
    bbch = forms.TypedChoiceField(label=_("Growth stage"), coerce=int)
    whose = forms.ChoiceField(label=_("Seen on"))
    seen_on = day_field(_("When"))
    reason = forms.CharField(label=_("Why you correct it"), max_length=500)

    @classmethod
    def new(cls, *, today: date, tree: Any, data: QueryDict | None = None) -> StageForm:
        """Return the form for a new note on a tree or on all trees of its group."""
        form = cls(data, initial={"seen_on": today})
        del form.fields["reason"]
        group = tree.kind.group
        if group:
            whole = _("all trees of the group %(group)s") % {"group": group}
            offer(form, "whose", [("tree", _("this tree only")), ("group", whole)])
        else:
            del form.fields["whose"]
        return form._with(today)

    @classmethod
    def correcting(
        cls, row: StageNote, *, today: date, data: QueryDict | None = None
    ) -> StageForm:
        """Return the form filled with what is noted, asking for the reason."""
        form = cls(data, initial={"bbch": row.bbch, "seen_on": row.seen_on})
        del form.fields["whose"]
        return form._with(today)

    def _with(self, today: date) -> StageForm:
        offer(self, "bbch", stage_choices())
        self.fields["seen_on"].widget.attrs["max"] = today.isoformat()
        return self


class GroupStageForm(forms.Form):
    group = forms.ChoiceField(label=_("Of which group"))
    bbch = forms.TypedChoiceField(label=_("Growth stage"), coerce=int)
    seen_on = day_field(_("When"))

    @classmethod
    def for_groups(
        cls, groups: list[str], *, today: date, data: QueryDict | None = None
    ) -> GroupStageForm:
        """Return the form for a note on all trees of a cultivar group."""
        form = cls(data, initial={"seen_on": today})
        named = [(name, name) for name in groups]
        offer(form, "group", [("", _("choose one")), *named])
        offer(form, "bbch", stage_choices())
        form.fields["seen_on"].widget.attrs["max"] = today.isoformat()
        return form


def stage_choices() -> list[tuple[Any, Any]]:
    """Return the growth stages of the guide, each by its code and in words."""
    stages = guide.load().stages.values()
    written = [(stage.code, f"{stage.code:02} {stage.meaning}") for stage in stages]
    return [("", _("choose one")), *written]
