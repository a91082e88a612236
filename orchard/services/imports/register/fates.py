"""The fate of a row: a new tree, here already, or refused with a sentence."""

from __future__ import annotations

from collections import Counter
from datetime import date
from typing import Any

from django.utils.translation import gettext as _

from orchard.science.codes import plain_code
from orchard.services.errors import Refused
from orchard.services.imports.register.existing import Book
from orchard.services.imports.register.plans import TreePlan, plan_of
from orchard.services.imports.register.shapes import (
    NewKind,
    RegisterChoices,
    RegisterFate,
    RegisterRow,
)
from orchard.services.imports.sheets import RowResult, cells_by_field
from orchard.services.trees import code_in, near_names


class RegisterReader:
    """Goes through the rows once; remembers what earlier rows have taken."""

    def __init__(
        self,
        book: Book,
        mapping: tuple[str, ...],
        choices: RegisterChoices,
        today: date,
        system: str,
    ) -> None:
        self.system = system
        self.book = book
        self.mapping = mapping
        self.choices = choices
        self.today = today
        self.two_ways = 0
        self.codes: dict[str, int] = {}
        self.spots: dict[tuple[str, str], int] = {}
        self.new_blocks: dict[str, dict[str, None]] = {}
        self.new_spots: dict[str, dict[str, None]] = {}
        self.unknown_kinds: Counter[str] = Counter()
        self.kind_names: dict[str, str] = {}
        self.own_kinds = {name.casefold(): name for name, _host in choices.new_kinds}

    def result_of(self, number: int, cells: tuple[str, ...]) -> RegisterRow:
        try:
            values = _with_plain_codes(cells_by_field(self.mapping, cells), self.book)
        except Refused as refusal:
            return RowResult(number, cells[0], RegisterFate.REFUSED, (str(refusal),))
        reasons: list[str] = []
        formula = next((cell for cell in cells if cell.startswith("=")), "")
        if formula:
            reasons.append(
                _("“%(cell)s” is a formula. Put its value there.")
                % {"cell": formula[:40]}
            )
        plan, problems = plan_of(
            values,
            self.book,
            day_first=self.choices.day_first,
            own_kinds=self.own_kinds,
            today=self.today,
            system=self.system,
        )
        self.two_ways += sum((problem.code == "two_ways") for problem in problems)
        reasons += [str(problem) for problem in problems]
        code = values["code"]
        try:
            code_in(code)
        except Refused as refusal:
            reasons.append(
                _("The code is missing. Every tree needs one.")
                if not code
                else str(refusal)
            )
        here = self.book.trees.get(code.lower())
        reasons += self._earlier_rows(number, plan)
        if here is not None:
            reasons += self._differences(here, plan, values)
            if not reasons:
                notes = self._notes_on_tree_here(here, plan, values)
                return RowResult(
                    number, code, RegisterFate.HERE, notes=notes, detail=plan.kind
                )
        else:
            reasons += self._newcomer(plan)
        if reasons:
            return RowResult(
                number,
                code,
                RegisterFate.REFUSED,
                reasons=tuple(reasons),
                notes=plan.notes,
                detail=plan.kind,
            )
        return RowResult(
            number,
            code,
            RegisterFate.NEW,
            notes=plan.notes,
            plan=plan,
            detail=plan.kind,
        )

    def _earlier_rows(self, number: int, plan: TreePlan) -> list[str]:
        reasons = []
        first = self.codes.setdefault(plan.code.lower(), number)
        if first != number and plan.code:
            reasons.append(
                _("The code %(code)s is in row %(row)d already.")
                % {"code": plan.code, "row": first}
            )
        here = self.book.trees.get(plan.code.lower())
        if plan.place[1] and not (here and here["removed_on"]):
            place = (plan.place[0].lower(), plan.place[1].lower())
            first = self.spots.setdefault(place, number)
            if first != number:
                reasons.append(
                    _("Spot %(spot)s already has the tree of row %(row)d.")
                    % {"row": first, "spot": "-".join(plan.place)}
                )
        return reasons

    def _newcomer(self, plan: TreePlan) -> list[str]:
        reasons = []
        if plan.code.lower() in self.book.old_codes:
            reasons.append(
                _("%(code)s was the code of another tree before it was corrected.")
                % {"code": plan.code}
            )
        reasons += self._kind(plan)
        reasons += self._place(plan)
        return reasons

    def _kind(self, plan: TreePlan) -> list[str]:
        if not plan.kind or plan.kind_id is not None:
            return []
        key = plan.kind.casefold()
        name = self.kind_names.setdefault(key, plan.kind)
        self.unknown_kinds[name] += 1
        if key in self.own_kinds:
            return []
        near = near_names(plan.kind, self.book.kind_names)
        if near:
            return [
                _(
                    "No cultivar here is called “%(name)s”. Did you mean %(near)s? "
                    "Correct the file, or tick above to add it."
                )
                % {"name": plan.kind, "near": _(" or ").join(near)}
            ]
        return [
            _("No cultivar here is called “%(name)s”. Tick above to add it.")
            % {"name": plan.kind}
        ]

    def _place(self, plan: TreePlan) -> list[str]:
        block, spot = plan.place
        if not block or not spot or plan.spot_refused:
            return []
        if plan.block_id is None:
            name = next(
                (
                    existing
                    for existing in self.new_blocks
                    if existing.lower() == block.lower()
                ),
                block,
            )
            self.new_blocks.setdefault(name, {})[spot] = None
            if block.lower() in self.choices.new_blocks:
                return []
            return [
                _("There is no block %(block)s. Tick above to add it.")
                % {"block": block}
            ]
        if plan.spot_id is None:
            self.new_spots.setdefault(self.book.block_codes[plan.block_id], {})[
                spot
            ] = None
            if self.book.block_codes[plan.block_id].lower() in self.choices.new_spots:
                return []
            return [
                _("Block %(block)s has no spot %(spot)s. Tick above to add it.")
                % {"block": block, "spot": spot}
            ]
        standing = self.book.standing.get(plan.spot_id)
        if standing is not None:
            return [
                _("Spot %(spot)s already has %(code)s. Remove or move that tree first.")
                % {"spot": "-".join(plan.place), "code": standing}
            ]
        return []

    def _differences(
        self, here: dict[str, Any], plan: TreePlan, values: dict[str, str]
    ) -> list[str]:
        differing = plan.differences(here, values, self.book, self.system)
        if not differing:
            return []
        if here["removed_on"]:
            return [
                _(
                    "%(code)s was the code of a tree removed on %(day)s. A code is "
                    "never used twice; give this tree another."
                )
                % {"code": here["code"], "day": here["removed_on"]}
            ]
        return [
            _(
                "%(code)s is here already, but differs: %(what)s. Correct the file, or "
                "the tree on its own page."
            )
            % {"code": here["code"], "what": "; ".join(differing)}
        ]

    def _notes_on_tree_here(
        self, here: dict[str, Any], plan: TreePlan, values: dict[str, str]
    ) -> tuple[str, ...]:
        notes = list(plan.notes)
        if values.get("note") and plan.note != here["note"]:
            notes.append(_("The note differs; the one here stays."))
        if here["removed_on"]:
            notes.append(
                _("It was removed on %(day)s and stays removed.")
                % {"day": here["removed_on"]}
            )
        return tuple(notes)

    def kinds_offered(self) -> tuple[NewKind, ...]:
        hosts = {name.casefold(): host for name, host in self.choices.new_kinds}
        return tuple(
            NewKind(
                name=name,
                near=tuple(near_names(name, self.book.kind_names)),
                rows=rows,
                host=hosts.get(name.casefold(), "citrus"),
                ticked=name.casefold() in self.own_kinds,
            )
            for name, rows in self.unknown_kinds.items()
        )


def _with_plain_codes(values: dict[str, str], book: Book) -> dict[str, str]:
    """Return a row with its codes in the spelling they are kept in.

    A block may be called by its name, which is kept as it is written.
    """
    names = ["code", "spot"]
    if values.get("block", "").casefold() not in book.blocks:
        names.append("block")
    return values | {name: plain_code(values[name]) for name in names if name in values}
