"""What a form about a tree says, whichever way it arrives: from a page or an outbox.

Names of the fields, which must stay: key, made_at, units, seen_day, seen_time,
all_well, condition, bbch, note, round, task, photos, sign (the last three several); and
for each sign KEY the answers KEY:FACT, KEY:unsure, KEY:done (at once, by whoever saw
it), KEY:part, KEY:note, KEY:photo.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime, timedelta
from functools import cached_property
from itertools import chain
from typing import TYPE_CHECKING, Any, TypeAlias
from zoneinfo import ZoneInfo

from django import forms
from django.core.files.uploadedfile import UploadedFile
from django.forms.formsets import (
    INITIAL_FORM_COUNT,
    TOTAL_FORM_COUNT,
    ManagementForm,
)
from django.forms.renderers import get_default_renderer
from django.http import QueryDict
from django.utils.datastructures import MultiValueDict
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from orchard.records.models import Inspection, Orchard, Tree
from orchard.science import guide
from orchard.science.guide import Sign
from orchard.science.units import scale_of
from orchard.services import inspections
from orchard.services.errors import Refused
from orchard.services.inspections import SeenSign, Submission
from orchard.web.fields import MOST_PHOTOS, PhotosField
from orchard.web.pages.inspections.form_fields import (
    AnswerField,
    DayField,
    LenientMomentField,
    LenientNumberField,
    NoteField,
    PartField,
    TaskNumbersField,
    TextsField,
    TimeField,
    WholeNumberField,
)

MOST_SIGNS_TOLD = 10
# Where a page shows what a service says of a value that two fields make up.
SHOWN_AT = {"seen_at": "seen_day"}
if TYPE_CHECKING:
    # Generic for the type checker alone.
    FormSet = forms.BaseFormSet["FindingForm"]
else:
    FormSet = forms.BaseFormSet
Files: TypeAlias = "MultiValueDict[str, UploadedFile[Any]]"


class FindingForm(forms.Form):
    """One sign: its answers in the units of the form, its part, a note, photos."""

    unsure = forms.BooleanField(required=False)
    done = forms.BooleanField(required=False)
    part = PartField(required=False)
    note = NoteField(required=False)
    photo = PhotosField(required=False)

    def __init__(self, *args: Any, sign: Sign, units: str, **options: Any) -> None:
        options["prefix"] = sign.key
        super().__init__(*args, **options)
        self.sign, self.units = sign, units
        for name, fact in guide.load().facts.items():
            if self.add_prefix(name) in self.data:
                self.fields[name] = AnswerField(sign, fact, units)

    def add_prefix(self, field_name: str) -> str:
        return f"{self.prefix}:{field_name}"

    @property
    def seen(self) -> SeenSign:
        """Return the sign as it was seen, what cannot be read left out."""
        answers, typed = self.answers
        cleaned = self.cleaned_data
        return SeenSign(
            sign=self.sign.key,
            answers=answers,
            typed=typed,
            part=cleaned.get("part", ""),
            sure=not cleaned.get("unsure"),
            note=cleaned.get("note", ""),
            pictures=cleaned.get("photo", ()),
            done=bool(cleaned.get("done")),
        )

    @property
    def answers(self) -> tuple[dict[str, Any], dict[str, Any]]:
        """Return the answers in SI units, and those that were typed in another unit."""
        answers: dict[str, Any] = {}
        typed: dict[str, Any] = {}
        for name, field in self.fields.items():
            value = self.cleaned_data.get(name)
            if not isinstance(field, AnswerField) or value is None:
                continue
            answers[name] = value
            scale = scale_of(field.fact.unit, self.units)
            if field.fact.kind == "number" and scale.unit != field.fact.unit:
                text = self.data[self.add_prefix(name)].strip()
                typed[name] = {"value": text, "unit": scale.unit}
        return answers, typed


class FindingFormSet(FormSet):
    """The findings of one look: the ticked signs say how many there are, and which."""

    form = FindingForm
    extra = min_num = 0
    max_num = absolute_max = 1000
    can_order = can_delete = can_delete_extra = edit_only = False
    validate_min = validate_max = False

    def __init__(
        self, data: QueryDict | None, files: Files, *, signs: Sequence[Sign], units: str
    ) -> None:
        self.signs = signs
        self.renderer = get_default_renderer()
        super().__init__(data, files, auto_id="%s", form_kwargs={"units": units})

    @cached_property
    def management_form(self) -> ManagementForm:
        """Count the ticked signs: the page carries no count of its own."""
        counts = {TOTAL_FORM_COUNT: self.total_form_count(), INITIAL_FORM_COUNT: 0}
        names = {f"{self.prefix}-{name}": count for name, count in counts.items()}
        form = ManagementForm(names, prefix=self.prefix)
        form.full_clean()
        return form

    def total_form_count(self) -> int:
        return len(self.signs)

    def is_valid(self) -> bool:
        # Most looks find nothing, and nothing is to be checked.
        return not self.signs or super().is_valid()

    def get_form_kwargs(self, index: int | None) -> dict[str, Any]:
        options = dict(super().get_form_kwargs(index))
        # A ticked sign without an answer is a finding all the same.
        return {**options, "sign": self.signs[index or 0], "empty_permitted": False}

    def _construct_form(self, i: int, **options: Any) -> FindingForm:
        options.update(auto_id=self.auto_id, error_class=self.error_class)
        options["use_required_attribute"] = False
        return self.form(
            self.data if self.is_bound else None,
            self.files if self.is_bound else None,
            **options,
        )


class InspectionForm(forms.Form):
    """One look at a tree with its findings, every fault beside its own field."""

    key = forms.UUIDField(required=False)
    made_at = LenientMomentField(required=False)
    round = LenientNumberField(required=False)
    sign = TextsField(required=False)
    task = TaskNumbersField(required=False)
    condition = WholeNumberField(label=gettext_lazy("condition"), required=False)
    photos = PhotosField(required=False)
    note = NoteField(required=False)
    bbch = WholeNumberField(label=gettext_lazy("growth stage"), required=False)
    seen_day = DayField(required=False)
    seen_time = TimeField(required=False)
    all_well = forms.BooleanField(required=False)

    def __init__(
        self,
        data: QueryDict | None = None,
        files: Files | None = None,
        *,
        tree: Tree,
        now: datetime,
        seen_at: datetime | None = None,
        clock_offset: timedelta = timedelta(0),
    ) -> None:
        super().__init__(data, files, auto_id="%s")
        self.tree, self.now = tree, now
        self.seen_otherwise, self.clock_offset = seen_at, clock_offset
        self.units = units_of(data if data is not None else {}, tree.orchard)
        self.unknown_signs: list[str] = []

    @cached_property
    def findings(self) -> FindingFormSet:
        """Return a form for each ticked sign that this tree can have."""
        signs = []
        ticked = self.data.getlist("sign") if isinstance(self.data, QueryDict) else []
        for key in dict.fromkeys(filter(None, ticked)):
            try:
                signs.append(inspections.sign_for(self.tree, key))
            except Refused as refusal:
                self.unknown_signs.append(str(refusal))
        data = self.data if isinstance(self.data, QueryDict) else None
        return FindingFormSet(data, self.files, signs=signs, units=self.units)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        if "key" in self.errors:
            # Its field is out of sight.
            del self.errors["key"]
            self.add_error(None, _("This form is damaged. Open a new one."))
        files = sum(len(self.files.getlist(name)) for name in self.files)
        if files > MOST_PHOTOS and not self.has_error("photos"):
            self.add_error(
                "photos",
                _("At most %(count)d photos go with one record. Send the rest later.")
                % {"count": MOST_PHOTOS},
            )
        self.findings.is_valid()
        for message in self.unknown_signs[:MOST_SIGNS_TOLD]:
            self.add_error("sign", message)
        if cleaned.get("seen_time") and not self.data.get("seen_day"):
            self.add_error("seen_day", _("Give the day as well as the time."))
        for refusal in inspections.faults_of(self.tree, self.submission, now=self.now):
            self.add_refusal(refusal)
        return cleaned

    def is_valid(self) -> bool:
        return super().is_valid() and self.findings.is_valid()

    @property
    def faults(self) -> list[str]:
        """Return every fault as a sentence, each once."""
        if not self.is_bound:
            return []
        forms_with_faults: Iterator[forms.Form] = chain([self], self.findings)
        return list(
            dict.fromkeys(
                str(message)
                for form in forms_with_faults
                for messages in form.errors.values()
                for message in messages
            )
        )

    def add_refusal(self, refusal: Refused) -> None:
        """Put what a service refuses beside the field that it speaks of."""
        name = SHOWN_AT.get(refusal.field or "", refusal.field or "")
        sign, colon, fact = name.partition(":")
        for finding in self.findings if colon else ():
            if finding.sign.key == sign:
                finding.add_error(
                    fact if fact in finding.fields else None, str(refusal)
                )
                return
        self.add_error(name if name in self.fields else None, str(refusal))

    @property
    def submission(self) -> Submission:
        """Return what the form says, by our clock; what cannot be read is left out."""
        cleaned = self.cleaned_data
        made_at = cleaned.get("made_at") or self.now
        # A form sent at once was seen now; one from an outbox when it was made.
        otherwise = self.seen_otherwise or min(made_at, self.now)
        findings = tuple(finding.seen for finding in self.findings)
        return Submission(
            seen_at=self._seen_at() or otherwise,
            made_at=made_at,
            findings=findings,
            all_well=self._all_well(findings),
            condition=cleaned.get("condition"),
            bbch=cleaned.get("bbch"),
            note=cleaned.get("note", ""),
            pictures=cleaned.get("photos", ()),
            done_tasks=cleaned.get("task", ()),
        ).by_our_clock(self.clock_offset, self.now)

    @property
    def seen_at(self) -> datetime | None:
        """Return when the look was, as far as the form says another day than today."""
        return self._seen_at() if self.is_bound and self.cleaned_data else None

    def _all_well(self, findings: Sequence[SeenSign]) -> bool:
        return bool(self.cleaned_data.get("all_well"))

    def _seen_at(self) -> datetime | None:
        """Return day and time of the look, if it was not just now."""
        day: date | None = self.cleaned_data.get("seen_day")
        at = self.cleaned_data.get("seen_time")
        if day is None or "seen_time" in self.errors:
            return None
        zone = ZoneInfo(self.tree.orchard.time_zone)
        noon = datetime.min.time().replace(hour=12)
        seen_at = datetime.combine(day, at or noon, zone)
        is_today = day == self.now.astimezone(zone).date()
        # Today without a time: noon may still be ahead.
        return min(seen_at, self.now) if is_today and at is None else seen_at


class CorrectionForm(InspectionForm):
    """A newer version of a look, and why; read before saving it needs no reason yet."""

    reason = forms.CharField(
        max_length=500,
        error_messages={
            "required": gettext_lazy(
                "Say why, so that the next reader understands it."
            ),
        },
    )

    def __init__(self, *args: Any, corrects: Inspection, **options: Any) -> None:
        super().__init__(*args, seen_at=corrects.seen_at, **options)
        self.taken_on = corrects.seen_on
        self.fields["reason"].required = self.data.get("step") != "read"

    @property
    def submission(self) -> Submission:
        """Return what the form says, of a look that its tree has taken."""
        return replace(super().submission, taken_on=self.taken_on)

    def _all_well(self, findings: Sequence[SeenSign]) -> bool:
        # A look that was all well and now names a sign is no longer that.
        return super()._all_well(findings) and not findings


def round_of(post: Mapping[str, Any]) -> int | None:
    """Return the number of the round a form belongs to; a damaged one costs nothing."""
    return LenientNumberField(required=False).clean(post.get("round", ""))


def units_of(post: Mapping[str, Any], orchard: Orchard) -> str:
    """Return the units a form was written in; one that does not say has the usual."""
    units = post.get("units", "")
    return str(units) if units in Orchard.Units.values else orchard.units
