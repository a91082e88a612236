"""The fields of a look: each reads what a page, or a phone's outbox, may send."""

from __future__ import annotations

from datetime import date, datetime, time
from math import isfinite
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.dateparse import parse_date, parse_datetime, parse_time
from django.utils.translation import gettext as _

from orchard.science.guide import Fact, Sign
from orchard.science.units import scale_of
from orchard.science.words import Part
from orchard.services import inspections

UNANSWERED = ("", "?")
YES, NO = "yes", "no"
NOTE_LENGTH = 4000
ANSWER_LENGTH = 200


class TextsField(forms.Field):
    """All values that were sent under one name."""

    widget = forms.MultipleHiddenInput

    def clean(self, value: Any) -> Any:
        return tuple(value)


class TaskNumbersField(TextsField):
    """The numbers of ticked tasks."""

    def clean(self, value: Any) -> tuple[int, ...]:
        if not all(is_number(text, 15) for text in value):
            raise ValidationError(_("A ticked task can't be read. Tick it again."))
        return tuple(int(text) for text in value)


class NoteField(forms.Field):
    """A free text of limited length."""

    def clean(self, value: Any) -> str:
        text = (value or "").replace("\x00", "").strip()
        if len(text) > NOTE_LENGTH:
            raise ValidationError(
                _("A note is longer than %(count)d letters. Shorten it.")
                % {"count": NOTE_LENGTH}
            )
        return str(text)


class PartField(forms.Field):
    """A part of a tree."""

    def clean(self, value: Any) -> str:
        if value and value not in set(Part):
            raise ValidationError(_("Choose a part of the tree from the list."))
        return value or ""


class WholeNumberField(forms.Field):
    """A whole number of few digits; what it may be, the service says."""

    def clean(self, value: Any) -> int | None:
        text = (value or "").strip()
        if text in UNANSWERED:
            return None
        if not is_number(text, 3):
            raise ValidationError(
                _("“%(text)s” isn't valid for the %(field)s.")
                % {"text": text[:40], "field": self.label}
            )
        return int(text)


class LenientNumberField(forms.Field):
    """The number of something that a damaged form can do without."""

    def clean(self, value: Any) -> int | None:
        text = value or ""
        return int(text) if is_number(text, 15) else None


class LenientMomentField(forms.Field):
    """The phone's clock; one that cannot be read is as good as none."""

    def clean(self, value: Any) -> datetime | None:
        try:
            made = parse_datetime(value or "")
        except ValueError:
            return None
        if made is None or made.tzinfo is None or not 1900 <= made.year <= 2999:
            return None
        return made


class DayField(forms.Field):
    """A day of the calendar, as a browser writes it."""

    def clean(self, value: Any) -> date | None:
        if not value:
            return None
        try:
            day = parse_date(value)
        except ValueError:
            day = None
        if day is None or not 1900 <= day.year <= 2999:
            raise ValidationError(_("That day or time doesn't exist. Correct it."))
        return day


class TimeField(forms.Field):
    """A time of day, as a browser writes it."""

    def clean(self, value: Any) -> time | None:
        if not value:
            return None
        try:
            at = parse_time(value)
        except ValueError:
            at = None
        if at is None:
            raise ValidationError(_("That day or time doesn't exist. Correct it."))
        return at.replace(tzinfo=None)


class AnswerField(forms.Field):
    """The answer to one question about a sign; numbers come back in SI units."""

    def __init__(self, sign: Sign, fact: Fact, units: str) -> None:
        super().__init__(required=False)
        self.sign, self.fact, self.units = sign, fact, units

    def clean(self, value: Any) -> bool | float | int | str | None:
        text = (value or "").strip()
        if text in UNANSWERED:
            return None
        if "\x00" in text or len(text) > ANSWER_LENGTH:
            raise ValidationError(
                _("This answer can't be read. Choose or write it again.")
            )
        if self.fact.kind == "yes_no":
            if text not in (YES, NO):
                raise ValidationError(_("Answer yes, no, or can't tell."))
            return bool(text == YES)
        answer = self._number(text) if self.fact.kind == "number" else text
        problem = inspections.problem_with(
            self.sign, self.fact, answer, units=self.units
        )
        if problem:
            raise ValidationError(problem)
        return answer

    def _number(self, text: str) -> float | int:
        scale = scale_of(self.fact.unit, self.units)
        try:
            number = float(text.replace(",", ".").removesuffix("%").strip())
        except ValueError:
            number = float("nan")
        value = round(scale.stored(number), 4)
        if not isfinite(value):
            raise ValidationError(
                _("“%(text)s” is not a number. For %(fact)s write figures only.")
                % {"text": text[:40], "fact": self.fact.words}
            )
        return int(value) if self.fact.whole and value == int(value) else value


def is_number(text: str, most_digits: int) -> bool:
    """Tell whether a text is a whole number of so many digits."""
    return text.isascii() and text.isdigit() and len(text) <= most_digits
