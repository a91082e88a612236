"""The form of a one-off task, and of its withdrawal."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from orchard.records.models import Block, Membership, Orchard, Task, Tree, User
from orchard.science import guide
from orchard.science.words import WorkKind
from orchard.services import care_plan, permissions, tasks
from orchard.services.errors import Refused
from orchard.services.tasks import MOST_AT_ONCE, OneOff
from orchard.services.trees import BlockLine
from orchard.web import answers
from orchard.web.fields import (
    ColumnOfChoices,
    NumberWithUnit,
    codes_in,
    day_field,
    offer,
    reason_field,
)
from orchard.web.pages.tasks.forms import NOBODY

# Where a task is wanted.
TREES, BLOCK, ORCHARD = "trees", "block", "orchard"

# The answer that it is no kind of work which a hold forbids.
NO_KIND = "none"

# Of a tree's longest code with what parts it from the next.
CODE_LENGTH = 26

WORK = {
    WorkKind.PRUNING: _("pruning"),
    WorkKind.SAMPLING: _("taking a sample"),
    WorkKind.FEEDING: _("feeding"),
    WorkKind.PICKING: _("picking"),
    WorkKind.PROPAGATING: _("grafting, cuttings or seed"),
    WorkKind.MOVING: _("moving the tree"),
    WorkKind.CLEARING: _("clearing young or fallen fruit"),
}


class OneOffForm(forms.Form):
    """A task by hand: what, where, by when, for whom; all that is wrong at once."""

    today: Any
    member: Membership
    people: dict[str, User]
    # Which fields are needed depends on others.
    use_required_attribute = False
    job = forms.ChoiceField(label=_("Job"), required=False)
    title = forms.CharField(
        label=_("Title"),
        help_text=_("With a job: empty, or what is special this time."),
        max_length=160,
        error_messages={"required": _("Choose a job, or write a title.")},
    )
    work = forms.ChoiceField(
        label=_("Kind of work"),
        help_text=_(
            "Some work must wait at a tree with a hold. A job says it by itself."
        ),
        error_messages={"required": _("Choose the kind of work, or none of these.")},
    )
    where = forms.ChoiceField(
        label=_("Where"),
        help_text=_(
            "A block or the orchard is one task; a job done tree by tree is a task at "
            "each tree there that the job is for."
        ),
        widget=ColumnOfChoices,
    )
    codes = forms.CharField(
        label=_("Trees"),
        help_text=_(
            "Codes of trees, separated by spaces or commas. A block's code means all "
            "its trees."
        ),
        error_messages={
            "required": _("Say which trees: their codes, or a block's."),
            "max_length": _("Too many codes at once. Add the task block by block."),
        },
        max_length=MOST_AT_ONCE * CODE_LENGTH,
        widget=forms.Textarea(attrs={"rows": 2, "autocapitalize": "characters"}),
    )
    block = forms.ChoiceField(
        label=_("Block"), error_messages={"required": _("Choose the block.")}
    )
    due_on = day_field(_("Due by"))
    to = forms.ChoiceField(label=_("Assigned to"))
    steps = forms.CharField(
        label=_("Steps"),
        help_text=_("One a line."),
        required=False,
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 3}),
    )
    evidence = forms.CharField(
        label=_("Evidence wanted"),
        help_text=_("Such as: a photo, or the number taken off."),
        required=False,
        max_length=500,
    )
    minutes = forms.IntegerField(
        label=_("Time for each"),
        required=False,
        min_value=1,
        max_value=1000,
        widget=NumberWithUnit(unit=_("min")),
    )

    @classmethod
    def for_member(
        cls,
        member: Membership,
        *,
        blocks: Iterable[BlockLine],
        takers: Iterable[Membership],
        today: Any,
        codes: str = "",
        data: Any = None,
    ) -> OneOffForm:
        """Return the form with the jobs, blocks and people of an orchard."""
        usual = {"where": TREES, "codes": codes, "due_on": today, "to": NOBODY}
        form = cls(data, initial=usual)
        form.member, form.today = member, today
        form.people = {str(member.user_id): member.user for member in takers}
        jobs = sorted(guide.load().jobs.values(), key=lambda job: job.name)
        own = [("", _("none: a title of my own"))]
        offer(form, "job", [*own, *((job.key, job.name) for job in jobs)])
        places = [(TREES, _("These trees, a task each")),
                  (BLOCK, _("A whole block")),
                  (ORCHARD, _("The whole orchard"))]  # fmt: skip
        offer(form, "where", places)
        named = [(block.code, f"{block.code} {block.name}") for block in blocks]
        offer(form, "block", [("", _("choose")), *named])
        people = [(number, user.name) for number, user in form.people.items()]
        offer(form, "to", [(NOBODY, _("unassigned")), *people])
        offer(
            form,
            "work",
            [("", _("choose")), *WORK.items(), (NO_KIND, _("none of these"))],
        )
        form.fields["due_on"].widget.attrs["min"] = today.isoformat()
        if data is not None:
            form.fields["title"].required = not data.get("job")
            form.fields["work"].required = not data.get("job")
            form.fields["codes"].required = data.get("where") == TREES
            form.fields["block"].required = data.get("where") == BLOCK
        return form

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        for fault in tasks.faults_of(self.asked(), today=self.today):
            if not self.has_error(fault.field or ""):
                answers.refused(self, fault)
        try:
            cleaned["places"] = tasks.fitting_places(
                self.member.orchard, cleaned.get("job", ""), self._places()
            )
        except Refused as refusal:
            answers.refused(self, refusal)
        return cleaned

    def _places(self) -> Sequence[Tree | Block | Orchard]:
        """Return where the task is wanted."""
        cleaned = self.cleaned_data
        match cleaned.get("where"):
            case "orchard":
                return [self.member.orchard]
            case "block" if code := cleaned.get("block", ""):
                return [permissions.block_for(self.member, code)]
            case "trees" if codes := codes_in(cleaned.get("codes", "")):
                return tasks.trees_named(self.member.orchard, codes)
            case "trees" if not self.has_error("codes"):
                raise Refused(
                    str(self.fields["codes"].error_messages["required"]),
                    code="no_trees",
                    field="codes",
                )
        return []

    def asked(self) -> OneOff:
        """Return what is asked for, as far as it can be read."""
        cleaned = self.cleaned_data
        work = cleaned.get("work", "")
        return OneOff(
            due_on=cleaned.get("due_on"),
            job=cleaned.get("job", ""),
            title=cleaned.get("title", ""),
            steps=cleaned.get("steps", ""),
            evidence=cleaned.get("evidence", ""),
            minutes=cleaned.get("minutes"),
            work="" if work == NO_KIND else work,
        )

    @property
    def not_for(self) -> frozenset[int]:
        """Return the trees that a job asked for a whole place leaves out.

        Who names trees by their codes means them.
        """
        if self.cleaned_data["where"] == TREES:
            return frozenset()
        job = self.cleaned_data["job"]
        return care_plan.trees_not_for(self.member.orchard, job, today=self.today)

    @property
    def person(self) -> User | None:
        """Return who gets the task, None for nobody."""
        return self.people.get(self.cleaned_data["to"])

    @property
    def has_more(self) -> bool:
        """Tell whether something stands in the folded fields, right or wrong."""
        return any(self[name].errors or self[name].value() for name in MORE)


# What few tasks need.
MORE = ("steps", "evidence", "minutes")


class WithdrawalForm(forms.Form):
    """Which of the open tasks of a request are withdrawn, and why."""

    tasks = forms.TypedMultipleChoiceField(
        label=_("Withdraw at"),
        coerce=int,
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": _("Tick at least one.")},
    )
    reason = reason_field()

    @classmethod
    def for_tasks(cls, rows: Sequence[Task], data: Any = None) -> WithdrawalForm:
        """Return the form with the open tasks of a request, all of them ticked."""
        form = cls(data, initial={"tasks": [task.pk for task in rows]})
        offer(form, "tasks", [(task.pk, tasks.place_of(task)[0]) for task in rows])
        return form
