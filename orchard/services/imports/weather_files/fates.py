"""The fate of a row: a new day, here already, different, or refused with a sentence."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date

from django.utils.translation import gettext as _

from orchard.science.figures import days
from orchard.services.errors import Refused
from orchard.services.imports.sheets import RowResult, cells_by_field
from orchard.services.imports.weather_files.columns import (
    KEPT,
    ON,
    STATION,
    MeasuredField,
)
from orchard.services.imports.weather_files.moments import moment_in
from orchard.services.imports.weather_files.rows import (
    AT_ODDS,
    IMPOSSIBLE,
    MISSING,
    ORDERED,
    TOO_FEW,
    plan_of,
)
from orchard.services.imports.weather_files.shapes import (
    DayPlan,
    Sort,
    WeatherChoices,
    WeatherFate,
    WeatherRow,
)

EARLIEST = date(1750, 1, 1)
OnRecord = dict[date, tuple[int, dict[str, float | None]]]


class WeatherReader:
    """Goes through the rows once; remembers the days of earlier rows."""

    def __init__(
        self,
        *,
        fields: Mapping[str, MeasuredField],
        mapping: tuple[str, ...],
        units: Mapping[str, str],
        choices: WeatherChoices,
        on_record: OnRecord,
        sort: str,
        today: date,
        system: str,
    ) -> None:
        self.system = system
        self.fields = fields
        self.kept = KEPT[Sort(sort)]
        self.mapping = mapping
        self.units = units
        self.choices = choices
        self.on_record = on_record
        self.sort = sort
        self.today = today
        self.two_ways = 0
        self.impossible = 0
        self.seen: dict[date, tuple[int, DayPlan]] = {}

    def result_of(self, number: int, cells: tuple[str, ...]) -> WeatherRow:
        try:
            texts = cells_by_field(self.mapping, cells)
        except Refused as refusal:
            return RowResult(number, cells[0], WeatherFate.REFUSED, (str(refusal),))
        if self._is_elsewhere(texts):
            return RowResult(number, texts.get(ON, ""), WeatherFate.ELSEWHERE)
        try:
            on = self._day(texts)
        except Refused as refusal:
            self.two_ways += refusal.code == "two_ways"
            name = texts.get(ON, cells[0])
            return RowResult(number, name, WeatherFate.REFUSED, (str(refusal),))
        numbers = {code: cell for code, cell in texts.items() if code in self.fields}
        plan, problems = plan_of(
            on,
            numbers,
            self.fields,
            self.units,
            as_gaps=self.choices.as_gaps,
            system=self.system,
        )
        self.impossible += sum(problem.code == "impossible" for problem in problems)
        return self._weighed(number, plan, problems)

    def _is_elsewhere(self, texts: Mapping[str, str]) -> bool:
        only = self.choices.only_station
        return bool(only) and STATION in texts and texts[STATION] != only

    def _day(self, texts: Mapping[str, str]) -> date:
        on = moment_in(texts, day_first=self.choices.day_first).on
        self._require_possible(on)
        return on

    def _require_possible(self, on: date) -> None:
        """Refuse a day that nothing of this sort can be known of."""
        if self.sort == Sort.DAYS and on >= self.today:
            raise Refused(
                _("%(day)s is not over yet: a day is measured once it has passed.")
                % {"day": on},
                code="bad_cell",
            )
        if self.sort == Sort.FORECAST and on < self.today:
            raise Refused(
                _("%(day)s is past; a forecast is for days to come.") % {"day": on},
                code="bad_cell",
            )
        if self.sort == Sort.FORECAST and on > self.today + days(
            "forecast_furthest_days"
        ):
            raise Refused(
                _("%(day)s is further off than any forecast reaches. Check the year.")
                % {"day": on},
                code="bad_cell",
            )
        if on < EARLIEST:
            raise Refused(
                _("%(day)s is before weather was measured anywhere. Check the year.")
                % {"day": on},
                code="bad_cell",
            )

    def _weighed(
        self, number: int, plan: DayPlan, problems: list[Refused]
    ) -> WeatherRow:
        day = plan.on.isoformat()
        reasons = [str(problem) for problem in problems]
        notes = self._notes(plan)
        first = self.seen.setdefault(plan.on, (number, plan))
        if first[0] != number:
            if not reasons and dict(first[1].values) == dict(plan.values):
                note = _("The same is in row %(row)d already.") % {"row": first[0]}
                return RowResult(number, day, WeatherFate.TWICE, notes=(note,))
            reasons.append(
                _("%(day)s is in row %(row)d already, with other values.")
                % {"day": plan.on, "row": first[0]}
            )
        if reasons:
            return RowResult(number, day, WeatherFate.REFUSED, tuple(reasons))
        on_record = self.on_record.get(plan.on)
        if on_record is None:
            return RowResult(number, day, WeatherFate.NEW, notes=notes, plan=plan)
        differing = self._differences(plan, on_record[1])
        if not differing:
            return RowResult(number, day, WeatherFate.HERE, plan=plan)
        if self.sort == Sort.FORECAST:
            # A newer forecast is no correction: the older one stays as it was made.
            return RowResult(number, day, WeatherFate.NEW, notes=notes, plan=plan)
        if self.choices.correct:
            if clashes := self._clashes(plan, on_record[1]):
                return RowResult(
                    number,
                    day,
                    WeatherFate.REFUSED,
                    clashes,
                    replaces=on_record[0],
                )
            return RowResult(
                number,
                day,
                WeatherFate.DIFFERS,
                notes=(*notes, *differing),
                plan=plan,
                replaces=on_record[0],
            )
        why = _("The day is here already, but differs: %(what)s.") % {
            "what": "; ".join(differing)
        }
        return RowResult(
            number, day, WeatherFate.REFUSED, (why,), replaces=on_record[0]
        )

    def _notes(self, plan: DayPlan) -> tuple[str, ...]:
        """Say which values the row leaves out, or cannot have meant."""
        notes = []
        for name, flag in plan.flags.items():
            label = self._label(name)
            details = {"name": label, "written": plan.written[name]}
            if flag == IMPOSSIBLE:
                notes.append(
                    _(
                        "%(name)s is left out and marked missing: “%(written)s” can't "
                        "be right."
                    )
                    % details
                )
            elif flag == AT_ODDS:
                notes.append(
                    _(
                        "%(name)s is left out and marked missing: the lowest is above "
                        "the highest."
                    )
                    % details
                )
            elif flag == MISSING:
                notes.append(_("%(name)s is missing.") % details)
            elif flag == TOO_FEW:
                notes.append(
                    _("%(name)s stays open: the day has %(written)s.") % details
                )
        return tuple(notes)

    def _differences(
        self, plan: DayPlan, on_record: Mapping[str, float | None]
    ) -> tuple[str, ...]:
        """Say where the file says otherwise than the book; empty cells agree."""
        return tuple(
            _("%(name)s is %(old)s here and %(new)s in the file")
            % {
                "name": self._label(name),
                "old": _("missing")
                if on_record.get(name) is None
                else self._written(name, on_record[name]),
                "new": self._written(name, value),
            }
            for name, value in plan.values.items()
            if value is not None and on_record.get(name) != value
        )

    def _clashes(
        self, plan: DayPlan, on_record: Mapping[str, float | None]
    ) -> tuple[str, ...]:
        """Say what of the file can't stand beside a value that stays as it is here."""
        day = {
            name: on_record.get(name) if value is None else value
            for name, value in {**dict.fromkeys(on_record), **plan.values}.items()
        }
        clashes = []
        for low, high in ORDERED:
            smaller, larger = day.get(low), day.get(high)
            if smaller is None or larger is None or smaller <= larger:
                continue
            if plan.values.get(low) is None and plan.values.get(high) is None:
                continue
            clashes.append(
                _(
                    "%(low)s (%(smaller)s) would be above %(high)s (%(larger)s): the "
                    "file gives only one of them, and the other stays as it is here."
                )
                % {
                    "low": self._label(low),
                    "smaller": self._written(low, smaller),
                    "high": self._label(high),
                    "larger": self._written(high, larger),
                }
            )
        return tuple(clashes)

    def _label(self, name: str) -> str:
        return self._field(name).label_in(self.system)

    def _written(self, name: str, value: float | None) -> str:
        return self._field(name).written_in(value or 0.0, self.system)

    def _field(self, name: str) -> MeasuredField:
        """Return the field that a column of the record was read from."""
        read = (
            field
            for code, field in self.fields.items()
            if (field.column or code) == name and code in self.mapping
        )
        # What was worked up from hours has no column of its own.
        return next(read, None) or self.kept[name]
