"""Kinds: the cultivars an orchard grows, from the guide or its own."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction
from django.db.models import Count, Q, QuerySet
from django.utils.translation import gettext as _

from orchard.records.models import Kind, Orchard, User
from orchard.science import guide
from orchard.science.guide import Rootstock
from orchard.services import audit
from orchard.services.audit import Verb
from orchard.services.errors import Refused
from orchard.services.trees.saving import changed


@dataclass(frozen=True, slots=True)
class KindLine:
    """One kind with the number of its standing trees."""

    kind: Kind
    trees: int

    @property
    def is_own(self) -> bool:
        return not self.kind.guide_key


def kinds_of(orchard: Orchard) -> list[KindLine]:
    """Return an orchard's kinds by name, each with its standing trees."""
    rows = (
        Kind.objects.filter(orchard=orchard)
        .annotate(tree_count=Count("trees", filter=Q(trees__removed_on=None)))
        .order_by("name", "id")
    )
    return [KindLine(row, row.tree_count) for row in rows]


def all_kinds(orchard: Orchard) -> QuerySet[Kind]:
    """Return the kinds of an orchard by name, to choose one from."""
    return Kind.objects.filter(orchard=orchard).order_by("name")


def hosts_grown(orchard: Orchard) -> set[str]:
    """Return the sorts of fruit tree that an orchard has kinds of."""
    return set(Kind.objects.filter(orchard=orchard).values_list("host", flat=True))


@transaction.atomic
def add_kind(
    orchard: Orchard,
    *,
    by: User,
    now: datetime,
    name: str,
    host: str = "citrus",
    group: str = "",
    other_names: Iterable[str] = (),
    tender_class: str = "",
) -> Kind:
    """Add a cultivar; one that the guide knows takes its facts from the guide.

    Raises:
        Refused (bad_cultivar): the name is empty, or a kind of this orchard has it
            already.
    """
    name = _fresh_name(orchard, name)
    cultivar = _cultivar_named(name)
    if cultivar is not None:
        kind = Kind(
            orchard=orchard,
            name=cultivar.name,
            host=cultivar.host,
            group=cultivar.group,
            guide_key=cultivar.name,
            tender_class=cultivar.tenderness,
            other_names=_names(other_names),
        )
    else:
        kind = Kind(
            orchard=orchard,
            name=name,
            host=host,
            group=group.strip(),
            tender_class=tender_class,
            other_names=_names(other_names),
        )
    fields = ("name", "host", "group", "tender_class")
    return audit.save(Verb.ADD, kind, by=by, now=now, fields=fields)


@transaction.atomic
def correct_kind(
    kind: Kind,
    *,
    by: User,
    now: datetime,
    name: str,
    host: str,
    group: str,
    other_names: Iterable[str],
    tender_class: str,
) -> Kind:
    """Correct a kind; one from the guide keeps its name and takes only other names."""
    changes: dict[str, object] = {"other_names": _names(other_names)}
    if not kind.guide_key:
        if name.strip().lower() != kind.name.lower():
            name = _fresh_name(kind.orchard, name)
        changes |= {
            "name": name.strip(),
            "host": host,
            "group": group.strip(),
            "tender_class": tender_class,
        }
    before, after = changed(kind, changes)
    if after:
        audit.save(Verb.CORRECT, kind, by=by, now=now, before=before, after=after)
    return kind


def _fresh_name(orchard: Orchard, text: str) -> str:
    name = " ".join(text.split())
    if not name:
        raise Refused(_("Give the cultivar a name."), code="bad_cultivar", field="name")
    cultivar = _cultivar_named(name)
    for taken in {name, cultivar.name if cultivar else name}:
        if orchard.kinds.filter(name__iexact=taken).exists():
            raise Refused(
                _("This orchard already has the cultivar “%(name)s”.")
                % {"name": taken},
                code="bad_cultivar",
                field="name",
            )
    return name


def _names(names: Iterable[str]) -> list[str]:
    trimmed = (" ".join(name.split()) for name in names)
    return list(dict.fromkeys(name for name in trimmed if name))


def _cultivar_named(name: str) -> guide.Cultivar | None:
    wanted = name.casefold()
    for cultivar in guide.load().cultivars.values():
        if wanted in {way.casefold() for way in spellings(cultivar.name)}:
            return cultivar
    return None


def spellings(name: str) -> list[str]:
    """Return the ways a guide's name may be written, itself first.

    "Tahiti (Bearss) lime" is also Tahiti lime and Bearss lime; "Carrizo / Troyer
    citrange" is also Carrizo citrange and Troyer citrange. Source: common practice.
    """
    ways = [name]
    inside = re.fullmatch(r"(\w+) \((\w+)\) (\w+)", name)
    if inside:
        ways += [f"{inside[1]} {inside[3]}", f"{inside[2]} {inside[3]}"]
    pair = re.fullmatch(r"(\w+) / (\w+) (\w+)", name)
    if pair:
        ways += [f"{pair[1]} {pair[3]}", f"{pair[2]} {pair[3]}"]
    after = re.fullmatch(r"([^()]+) \(([^()]+)\)", name)
    if after:
        ways += [after[1], after[2]]
    return ways


def near_names(text: str, names: Sequence[str], *, most: int = 3) -> list[str]:
    """Return the names most like a text, for the person to choose from."""
    folded = {name.casefold(): name for name in names}
    wanted = text.casefold()
    close = difflib.get_close_matches(wanted, list(folded), n=most, cutoff=0.6)
    within = [
        name
        for name in folded
        if len(wanted) >= 4 and (wanted in name or name in wanted)
    ]
    return [folded[name] for name in dict.fromkeys([*close, *within])][:most]


def rootstock_named(text: str) -> Rootstock | None:
    """Return the guide's rootstock of a name, or None when the guide has none.

    Its first word is enough, for that is how people call it: "Carrizo", "Swingle".
    """
    wanted = " ".join(text.split()).casefold()
    for rootstock in guide.load().rootstocks.values():
        ways = [way.casefold() for way in spellings(rootstock.name)]
        if wanted in {*ways, *(way.split()[0] for way in ways)}:
            return rootstock
    return None
