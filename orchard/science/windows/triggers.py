"""What can start a care job, read from data; no dates here."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import timedelta
from typing import cast

from orchard.science import figures
from orchard.science.windows.seasons import Span, read_spans

MEASURED_KINDS = (
    "forecast_min",
    "forecast_max",
    "heat_units",
    "soil_moisture",
    "water_balance",
    "soil_level",
    "maturity",
)


@dataclass(frozen=True, slots=True)
class Calendar:
    """Once in each span of the season year, or at the first span after `every_days`."""

    spans: tuple[Span, ...]
    every_days: int = 365


@dataclass(frozen=True, slots=True)
class Interval:
    """So many days since last done, in winter perhaps more; within spans if given.

    `sooner` shortens the interval while the orchard has a flag, such as a fruit fly
    area.
    """

    days: int
    winter_days: int
    spans: tuple[Span, ...] = ()
    sooner: tuple[tuple[str, int], ...] = ()


@dataclass(frozen=True, slots=True)
class AfterEvent:
    """Days after something happened: on given days, every so often, or in spans.

    `days` lists days after the event. `every` repeats from the event on, changing to
    `then_every` after `change_after` days. `spans` alone means each span while no more
    than `until_days` have gone by. `lead_days` opens the window before it is due.
    """

    event: str
    days: tuple[int, ...] = ()
    every: int | None = None
    change_after: int | None = None
    then_every: int | None = None
    until_days: int | None = None
    lead_days: int = 0
    spans: tuple[Span, ...] = ()
    by_clock: str = ""


@dataclass(frozen=True, slots=True)
class AtStage:
    """While a logged growth stage lies within low and high (BBCH, inclusive).

    With `every_days` it repeats until another stage is logged or `max_weeks` are
    over. Without, it comes once: within `within_days` of the log, or once in a span.
    Where a row names neither, the guide's figures for all stages hold.
    """

    low: int
    high: int
    every_days: int | None = None
    max_weeks: int | None = None
    within_days: int | None = None
    spans: tuple[Span, ...] = ()

    @property
    def longest(self) -> timedelta:
        """Return for how long a stage lasts at most after it was logged."""
        if self.max_weeks is None:
            return figures.days("stage_longest_days")
        return timedelta(weeks=self.max_weeks)

    @property
    def due_within(self) -> timedelta:
        """Return how long after the stage was logged the job is due."""
        if self.within_days is None:
            return figures.days("stage_due_days")
        return timedelta(days=self.within_days)


@dataclass(frozen=True, slots=True)
class Observed:
    """Within so many days of a sign or a measurement being recorded."""

    name: str
    within_days: int


@dataclass(frozen=True, slots=True)
class Measured:
    """Started by weather, soil or fruit: the numbers are checked, dates come later."""

    kind: str
    settings: tuple[tuple[str, float | str | bool], ...]
    spans: tuple[Span, ...] = ()
    every_days: int | None = None

    def setting(self, name: str) -> float | str | bool:
        """Look up one setting; KeyError for a name the trigger has not."""
        return dict(self.settings)[name]


@dataclass(frozen=True, slots=True)
class AnyOf:
    """Each of several triggers starts the job."""

    triggers: tuple[Trigger, ...] = field(default=())


@dataclass(frozen=True, slots=True)
class AllOf:
    """The first trigger starts the job once all the others have opened too."""

    triggers: tuple[Trigger, ...] = field(default=())


Trigger = (
    Calendar | Interval | AfterEvent | AtStage | Observed | Measured | AnyOf | AllOf
)

_ALLOWED = {
    "calendar": {"spans", "every_days"},
    "interval": {"days", "winter_days", "spans", "sooner"},
    "after_event": {
        "event", "days", "every", "change_after", "then_every", "until_days",
        "lead_days", "spans", "by_clock",
    },
    "stage": {"low", "high", "every_days", "max_weeks", "within_days", "spans"},
    "observation": {"name", "within_days"},
    "any": {"of"},
    "all": {"of"},
}  # fmt: skip


def read_trigger(row: Mapping[str, object]) -> Trigger:
    """Make a trigger of a table of a care file; ValueError says what is wrong."""
    kind = row.get("kind")
    values = {key: value for key, value in row.items() if key != "kind"}
    if kind in MEASURED_KINDS:
        return _measured(str(kind), values)
    if not isinstance(kind, str) or kind not in _ALLOWED:
        kinds = ", ".join((*_ALLOWED, *MEASURED_KINDS))
        raise ValueError(f"trigger kind is {kind!r}; it must be one of {kinds}.")
    _refuse(f"a {kind} trigger has no {key!r}." for key in set(values) - _ALLOWED[kind])
    if kind in ("any", "all"):
        return _joined(kind, values)
    spans = read_spans(str(values.pop("spans", "any")))
    _refuse(_problem_with(kind, key, value) for key, value in values.items())
    try:
        return _simple(kind, values, spans)
    except KeyError as missing:
        raise ValueError(f"a {kind} trigger needs {missing.args[0]!r}.") from None


def _refuse(problems: Iterable[str]) -> None:
    """Raise a ValueError with all sentences that are not empty, if there are any."""
    sentences = sorted(filter(None, problems))
    if sentences:
        raise ValueError(" ".join(sentences))


def _problem_with(kind: str, key: str, value: object) -> str:
    """Say in a sentence what is wrong with a setting, or "" when nothing is."""
    if key in ("event", "name", "by_clock"):
        is_word = isinstance(value, str) and value
        return "" if is_word else f"{key} of a {kind} trigger must be a word."
    if key == "sooner":
        if not isinstance(value, dict):
            return f"{key} of a {kind} trigger must be a table of flags and days."
        numbers = list(value.values())
    else:
        numbers = list(value) if isinstance(value, list) else [value]
    least = 0 if key in ("days", "low", "high", "lead_days", "within_days") else 1
    least = 1 if kind == "interval" else least
    for number in numbers:
        if isinstance(number, bool) or not isinstance(number, int) or number < least:
            return (
                f"{key} of a {kind} trigger is {number!r}; it must be a whole number "
                f"from {least} up."
            )
    return ""


def _simple(
    kind: str, values: Mapping[str, object], spans: tuple[Span, ...]
) -> Trigger:
    def number(key: str) -> int:
        return cast("int", values[key])

    def maybe(key: str, default: int) -> int:
        return cast("int", values.get(key, default))

    def perhaps(key: str) -> int | None:
        return cast("int | None", values.get(key))

    if kind == "calendar":
        if not spans:
            raise ValueError("a calendar trigger needs spans.")
        return Calendar(spans, maybe("every_days", 365))
    if kind == "interval":
        sooner = cast("dict[str, int]", values.get("sooner", {}))
        days = number("days")
        return Interval(
            days, maybe("winter_days", days), spans, tuple(sorted(sooner.items()))
        )
    if kind == "observation":
        return Observed(str(values["name"]), number("within_days"))
    if kind == "stage":
        low, high = number("low"), number("high")
        if low > high:
            raise ValueError(f"a stage trigger runs from {low} to {high}.")
        return AtStage(
            low,
            high,
            perhaps("every_days"),
            perhaps("max_weeks"),
            perhaps("within_days"),
            spans,
        )
    return _after_event(values, spans)


def _after_event(values: Mapping[str, object], spans: tuple[Span, ...]) -> AfterEvent:
    def maybe(key: str) -> int | None:
        return cast("int | None", values.get(key))

    days = tuple(sorted(cast("list[int]", values.get("days", []))))
    if not days and maybe("every") is None and not spans:
        raise ValueError("an after_event trigger needs days, every or spans.")
    if spans and maybe("until_days") is None:
        raise ValueError("an after_event trigger with spans needs until_days.")
    return AfterEvent(
        event=str(values["event"]),
        days=days,
        every=maybe("every"),
        change_after=maybe("change_after"),
        then_every=maybe("then_every"),
        until_days=maybe("until_days"),
        lead_days=maybe("lead_days") or 0,
        spans=spans,
        by_clock=str(values.get("by_clock", "")),
    )


def _joined(kind: str, values: Mapping[str, object]) -> AnyOf | AllOf:
    rows = values.get("of")
    if (
        not isinstance(rows, list)
        or len(rows) < 2
        or not all(isinstance(row, Mapping) for row in rows)
    ):
        raise ValueError(f"an {kind!r} trigger needs at least two triggers in 'of'.")
    parts = tuple(read_trigger(row) for row in rows)
    return AnyOf(parts) if kind == "any" else AllOf(parts)


_SETTINGS: dict[str, dict[str, type]] = {
    "forecast_min": {"at_or_below_c": float, "above_cover_c": float, "ahead_h": float},
    "forecast_max": {"at_or_above_c": float, "days": float, "ahead_h": float},
    "heat_units": {"base_c": float, "cap_c": float, "sum": float, "from_bbch": float},
    "soil_moisture": {
        "dry_at_cm": float,
        "daily_from_c": float,
        "depleted_share": float,
    },
    "water_balance": {"depleted_share": float},
    "soil_level": {"below_shoulder_cm": float},
    "maturity": {"lead_days": float, "ready": bool, "holds_clear": bool},
}


def _measured(kind: str, values: dict[str, object]) -> Measured:
    spans = read_spans(str(values.pop("spans", "any")))
    every = values.pop("every_days", None)
    problems = [] if every is None else [_problem_with(kind, "every_days", every)]
    types = _SETTINGS[kind]
    settings: list[tuple[str, float | str | bool]] = []
    for key, value in values.items():
        is_flag = isinstance(value, bool)
        if key not in types:
            problems.append(f"a {kind} trigger has no {key!r}.")
        elif is_flag is (types[key] is bool) and isinstance(value, int | float):
            settings.append((key, value))
        else:
            problems.append(f"{key} of a {kind} trigger can't be {value!r}.")
    if not values:
        problems.append(f"a {kind} trigger needs one of {', '.join(types)}.")
    _refuse(problems)
    return Measured(kind, tuple(settings), spans, cast("int | None", every))
