"""One row of a register read into a tree to be, with what is wrong with it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from typing import Any, TypeVar

from django.utils.translation import gettext as _

from orchard.records.models import Tree
from orchard.science import guide
from orchard.services.errors import Refused
from orchard.services.imports.register.cells import Container, container_in, yes_in
from orchard.services.imports.register.columns import FIELDS
from orchard.services.imports.register.existing import Book
from orchard.services.imports.sheets import day_in, year_in
from orchard.services.partial_days import write_day, write_when
from orchard.services.quantities import quantity
from orchard.services.trees import (
    EARLIEST,
    near_names,
    poor_match,
    rootstock_named,
    short_code_in,
)

OWN_ROOTS = frozenset({"own roots", "on its own roots", "own root", "ungrafted"})
Read = TypeVar("Read")


@dataclass(frozen=True, slots=True)
class Beginning:
    """When a tree was planted or grafted: a day, or the first day of a year."""

    on: date | None = None
    precision: str = Tree.Precision.DAY

    @property
    def is_year(self) -> bool:
        return self.precision == Tree.Precision.YEAR

    def agrees(self, on: date | None, precision: str) -> bool:
        """Tell whether the book says the same, or the same more exactly."""
        if self.on is None or on is None:
            return self.on == on
        if self.is_year:
            return on.year == self.on.year
        return (on, precision) == (self.on, self.precision)


@dataclass(frozen=True, slots=True)
class TreePlan:
    """A tree to be; ids are None for what the book does not hold yet."""

    code: str
    kind: str
    kind_id: int | None
    place: tuple[str, str]
    block_id: int | None
    spot_id: int | None
    spot_refused: bool
    believed: bool
    rootstock: str
    own_roots: bool
    container: Container
    planted: Beginning
    born: Beginning
    label_name: str
    irrigated: bool
    note: str
    notes: tuple[str, ...]

    @property
    def planted_on(self) -> date | None:
        """Give the first day on which it can have been planted."""
        on, born_on = self.planted.on, self.born.on
        if on and born_on and self.planted.is_year and on.year == born_on.year:
            return max(on, born_on)
        return on

    def details(self) -> dict[str, Any]:
        """Return the fields of the tree, without its place and kind."""
        return {
            "code": self.code,
            "believed": self.believed,
            "rootstock": self.rootstock,
            "own_roots": self.own_roots,
            "setting": (
                Tree.Setting.CONTAINER if self.container.potted else Tree.Setting.GROUND
            ),
            "container_litres": self.container.litres,
            "planted_on": self.planted_on,
            "planted_precision": self.planted.precision,
            "born_on": self.born.on,
            "born_precision": self.born.precision,
            "label_name": self.label_name,
            "irrigated": self.irrigated,
            "note": self.note,
        }

    def differences(
        self, here: dict[str, Any], values: dict[str, str], book: Book, system: str
    ) -> list[str]:
        """Say where a tree of the book is not what the row says; empty cells agree."""
        new = self.details()
        fields = {
            "rootstock": ("rootstock", "own_roots"),
            "container": ("setting", "container_litres"),
            "label_name": ("label_name",),
            "believed": ("believed",),
            "irrigated": ("irrigated",),
        }
        differing = []
        if here["kind_id"] != self.kind_id:
            names = dict(book.kinds.values())
            differing.append(
                _differs("kind", names.get(here["kind_id"], ""), self.kind)
            )
        if here["spot_id"] != self.spot_id:
            differing.append(
                _differs("spot", book.spot_names[here["spot_id"]], "-".join(self.place))
            )
        for column, beginning in (("planted_on", self.planted), ("born_on", self.born)):
            precision = here[column.replace("_on", "_precision")]
            if values.get(column) and not beginning.agrees(here[column], precision):
                on = here[column]
                old = write_day(on, precision, "Y-m-d") if on else ""
                differing.append(_differs(column, old, values[column]))
        for column, names_of in fields.items():
            if values.get(column) and any(here[name] != new[name] for name in names_of):
                old = " ".join(
                    _written(name, here[name], system)
                    for name in names_of
                    if here[name] not in ("", None)
                )
                differing.append(_differs(column, old, values[column]))
        return differing


def _written(name: str, value: Any, system: str) -> str:
    if name == "container_litres":
        return quantity(float(value), "L", system)
    return str(Tree.Setting(value).label) if name == "setting" else str(value)


def _differs(column: str, old: str, new: str) -> str:
    return _("%(column)s is “%(old)s” here and “%(new)s” in the file") % {
        "column": FIELDS[column].label,
        "old": old or _("empty"),
        "new": new,
    }


def plan_of(
    values: dict[str, str],
    book: Book,
    *,
    day_first: bool | None,
    own_kinds: dict[str, str],
    today: date,
    system: str,
) -> tuple[TreePlan, list[Refused]]:
    """Read a row; return the tree to be and everything that is wrong with it."""
    problems: list[Refused] = []
    notes: list[str] = []
    texts = [values["note"]] if values.get("note") else []

    def tried(read: Callable[[], Read], otherwise: Read) -> Read:
        try:
            return read()
        except Refused as refusal:
            problems.append(refusal)
            return otherwise

    def beginning(field: str) -> Beginning:
        text = values.get(field, "")
        year = year_in(text)
        if year is None:
            return Beginning(day_in(text, day_first=day_first) if text else None)
        if year == 0:
            raise Refused(
                _("“%(text)s” isn't a year.") % {"text": text}, code="bad_cell"
            )
        if text != str(year):
            notes.append(
                _(
                    "“%(text)s” counts as %(year)s. The note of a new tree keeps "
                    "the words."
                )
                % {"text": text, "year": year}
            )
            texts.append(f"{str(FIELDS[field].label).capitalize()}: {text}.")
        return Beginning(date(year, 1, 1), Tree.Precision.YEAR)

    kind, kind_id, doubtful = _kind(values["kind"], book, notes)
    if not kind:
        problems.append(Refused(_("The cultivar is missing."), code="bad_cell"))
    marked_believed = tried(lambda: yes_in(values.get("believed", "")), False)
    place, block_id, spot_id = _place(values, book)
    spot_refused = False
    if not all(place):
        problems.append(Refused(_place_missing(values), code="bad_cell"))
    elif spot_id is None:
        before = len(problems)
        tried(lambda: _addressable(place, block_id), None)
        spot_refused = len(problems) > before
    rootstock, own_roots = _rootstock(values.get("rootstock", ""), notes)
    container = tried(
        lambda: container_in(values.get("container", ""), system), Container(False)
    )
    if container.note:
        notes.append(container.note)
    planted = tried(lambda: beginning("planted_on"), Beginning())
    born = tried(lambda: beginning("born_on"), Beginning())
    problems += _days_refused(planted, born, today=today)
    problems += _too_long(values, rootstock)
    trouble = poor_match(kind, rootstock)
    if trouble:
        notes.append(trouble)
    plan = TreePlan(
        code=values["code"],
        kind=own_kinds.get(kind.casefold(), kind),
        kind_id=kind_id,
        place=place,
        block_id=block_id,
        spot_id=spot_id,
        spot_refused=spot_refused,
        believed=marked_believed or doubtful,
        rootstock=rootstock,
        own_roots=own_roots,
        container=container,
        planted=planted,
        born=born,
        label_name=values.get("label_name", ""),
        irrigated=tried(lambda: yes_in(values.get("irrigated", "")), False),
        note="\n".join(texts),
        notes=tuple(notes),
    )
    return plan, problems


def _kind(text: str, book: Book, notes: list[str]) -> tuple[str, int | None, bool]:
    name, doubtful = text, False
    if text.endswith("?"):
        name, doubtful = text.rstrip("? "), True
        notes.append(_("The question mark is kept as “believed to be”."))
    pk, cultivar = book.kinds.get(name.casefold(), (None, name))
    if pk is not None and cultivar.casefold() != name.casefold():
        notes.append(
            _("“%(name)s” is another name of %(known)s.")
            % {"name": name, "known": cultivar}
        )
    return cultivar, pk, doubtful


def _place(
    values: dict[str, str], book: Book
) -> tuple[tuple[str, str], int | None, int | None]:
    """Read block and spot; a spot may carry its block: "A-3" is spot 3 of A."""
    block, spot = values.get("block", ""), values["spot"]
    if "-" in spot:
        left, right = (part.strip() for part in spot.rsplit("-", 1))
        if not block or block.casefold() == left.casefold():
            block, spot = left, right
    block_id = book.blocks.get(block.casefold())
    if block_id is None:
        return (block, spot), None, None
    block = book.block_codes[block_id]
    return (block, spot), block_id, book.spots.get((block_id, spot.casefold()))


def _place_missing(values: dict[str, str]) -> str:
    if not values["spot"]:
        return _("The spot is missing.")
    return _("The block is missing. Name it in its own column, or write the spot A-3.")


def _addressable(place: tuple[str, str], block_id: int | None) -> None:
    if block_id is None:
        short_code_in(place[0], refusal="bad_block", field="block")
    short_code_in(place[1], refusal="bad_spot", field="spot")


def _rootstock(text: str, notes: list[str]) -> tuple[str, bool]:
    if text.casefold() in OWN_ROOTS:
        return "", True
    if not text:
        return "", False
    rootstock = rootstock_named(text)
    if rootstock is not None:
        if rootstock.name.casefold() != text.casefold():
            notes.append(
                _("“%(text)s” is kept as %(known)s.")
                % {"text": text, "known": rootstock.name}
            )
        return rootstock.name, False
    near = near_names(text, _rootstock_names())
    message = _(
        "The guide has no rootstock “%(text)s”. It is kept as written, but suckers "
        "can't be told by its leaf."
    ) % {"text": text}
    if near:
        message += " " + _("Near names: %(near)s.") % {"near": ", ".join(near)}
    notes.append(message)
    return text, False


def _rootstock_names() -> list[str]:
    return list(guide.load().rootstocks)


def _days_refused(planted: Beginning, born: Beginning, *, today: date) -> list[Refused]:
    refused: list[Refused] = []
    planted_on, born_on = planted.on, born.on
    for day, what in ((planted_on, "planted_on"), (born_on, "born_on")):
        if day is not None and day > today:
            refused.append(
                Refused(
                    _("“%(what)s” is in the future: %(day)s.")
                    % {"what": FIELDS[what].label, "day": day},
                    code="bad_cell",
                )
            )
        if day is not None and day < EARLIEST:
            refused.append(
                Refused(
                    _("“%(what)s” is very long ago: %(day)s. Check the year.")
                    % {"what": FIELDS[what].label, "day": day},
                    code="bad_cell",
                )
            )
    if not (planted_on and born_on):
        return refused
    same_year = planted.is_year and planted_on.year == born_on.year
    if planted_on < born_on and not same_year:
        refused.append(
            Refused(
                _("Grafted or sown %(born)s, but planted earlier: %(planted)s.")
                % {
                    "born": write_when(born_on, born.precision),
                    "planted": write_when(planted_on, planted.precision),
                },
                code="bad_cell",
            )
        )
    return refused


def _too_long(values: dict[str, str], rootstock: str) -> list[Refused]:
    lengths = {"kind": 80, "label_name": 120}
    refused: list[Refused] = [
        Refused(
            _("“%(what)s” has more than %(most)d letters.")
            % {"what": FIELDS[field].label, "most": most},
            code="bad_cell",
        )
        for field, most in lengths.items()
        if len(values.get(field, "")) > most
    ]
    if len(rootstock) > 60:
        refused.append(
            Refused(
                _("“%(what)s” has more than %(most)d letters.")
                % {"what": FIELDS["rootstock"].label, "most": 60},
                code="bad_cell",
            )
        )
    return refused
