"""What the ledger tells of a tree's own record, in words."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.utils.formats import date_format
from django.utils.translation import gettext as _

from orchard.records.models import Change, Kind, Spot, Tree
from orchard.services.audit import Verb
from orchard.services.partial_days import year_alone

SUBJECTS = ("tree", "tag")


@dataclass(frozen=True, slots=True)
class FieldChange:
    """One change of a field: what it is called, what it was, what it became."""

    name: str
    before: str
    after: str


@dataclass(frozen=True, slots=True)
class HistoryLine:
    """One line of a tree's history."""

    at: datetime
    by_name: str
    what: str
    reason: str
    steps: tuple[FieldChange, ...]


def history_of(tree: Tree, *, most: int = 200) -> list[HistoryLine]:
    """Return what was changed about a tree and its tags, newest first."""
    lines = list(
        Change.objects.filter(
            tree=tree, subject_type__in=SUBJECTS, private=False
        ).order_by("-id")[:most]
    )
    names = _names(lines)
    return [
        HistoryLine(
            at=line.at,
            by_name=line.by_name,
            what=_what(line),
            reason=line.reason,
            steps=_steps(line, names),
        )
        for line in lines
    ]


def _what(line: Change) -> str:
    words: dict[tuple[str, str], str] = {
        ("tree", Verb.PLANT): _("Added to the records"),
        ("tree", Verb.CORRECT): _("Corrected"),
        ("tree", Verb.MOVE): _("Moved"),
        ("tree", Verb.SCION_DIED): _("Top died, rootstock only"),
        ("tree", Verb.DIED): _("Died"),
        ("tree", Verb.REMOVE): _("Removed"),
        ("tree", Verb.TAKE_BACK): _("Removal withdrawn"),
        ("tree", Verb.TAKE_BACK_DEATH): _("Death withdrawn"),
        ("tree", Verb.TAKE_BACK_DEAD_TOP): _("Dead top withdrawn"),
        ("tree", Verb.TAKE_IN): _("Imported from a list"),
        ("tree", Verb.DESCRIBE): _("Story for visitors written"),
        ("tag", Verb.MAKE): _("Tag made"),
        ("tag", Verb.RETIRE): _("Tag retired"),
    }
    return words.get((line.subject_type, line.verb), line.verb)


def _names(lines: Iterable[Change]) -> dict[str, dict[int, str]]:
    """Return the names of the spots and cultivars that some lines tell of."""
    steps = [values or {} for line in lines for values in (line.before, line.after)]
    spots = Spot.objects.filter(pk__in=_numbers(steps, "spot_id"))
    kinds = Kind.objects.filter(pk__in=_numbers(steps, "kind_id"))
    return {
        "spot_id": {spot.pk: str(spot) for spot in spots.select_related("block")},
        "kind_id": dict(kinds.values_list("pk", "name")),
    }


def _numbers(steps: Iterable[Mapping[str, Any]], name: str) -> set[int]:
    return {step[name] for step in steps if step.get(name) is not None}


def _steps(line: Change, names: dict[str, dict[int, str]]) -> tuple[FieldChange, ...]:
    if line.subject_type != "tree":
        return ()
    before, after = line.before or {}, line.after or {}
    fields = {field.attname: field for field in Tree._meta.concrete_fields}
    named = {"on": _("on"), "kind_id": _("cultivar"), "spot_id": _("spot")}
    steps = []
    # PostgreSQL keeps no order among the keys, so they are told as the tree has them.
    for name in (*fields, "on"):
        if name not in after:
            continue
        old, new = before.get(name), after[name]
        if name.endswith("_precision"):
            # Told with its day.
            continue
        if name == "replaces_id" or (not before and new in (None, "", False)):
            continue
        if name in named:
            label = named[name]
        elif name in fields:
            label = str(fields[name].verbose_name)
        else:
            continue
        steps.append(
            FieldChange(
                label,
                year_alone(before, name) or _word(name, old, names),
                year_alone(after, name) or _word(name, new, names),
            )
        )
    return tuple(steps)


def _word(name: str, value: Any, names: dict[str, dict[int, str]]) -> str:
    if name in names:
        return names[name].get(value, "") if value is not None else ""
    match value:
        case None | "":
            return ""
        case True:
            return _("yes")
        case False:
            return _("no")
    if name == "state":
        return str(Tree.State(value).label)
    if name == "setting":
        return str(Tree.Setting(value).label)
    if name.endswith("_on") or name == "on":
        return date_format(datetime.fromisoformat(value).date(), "j M Y")
    return str(value)
