"""What a number of the outlook travels with: its inputs, its method, its source."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Input:
    """One thing that a number was worked out from, and where it was read."""

    what: str
    value: float | None = None
    unit: str = ""
    origin: str = ""
    difference: bool = False


@dataclass(frozen=True, slots=True)
class Number:
    """A number that explains itself, or the sentence that says why there is none.

    `law` names the formula on the page of formulas, such as "frost.night_minimum".
    `difference` marks a difference of temperatures, which has no freezing point.
    """

    what: str
    value: float | None
    unit: str
    law: str = ""
    method: str = ""
    source: str = ""
    inputs: tuple[Input, ...] = ()
    missing: str = ""
    difference: bool = False
    digits: int | None = None

    @property
    def is_known(self) -> bool:
        return self.value is not None
