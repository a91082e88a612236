"""The ledger in words: what was done, to what, and what is different since."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any

from django.apps import apps
from django.db import models
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from orchard.records.models import (
    Block,
    CarePlan,
    Change,
    Happening,
    Harvest,
    HouseRule,
    Kind,
    Orchard,
    PestStatus,
    Photo,
    PhotoConsent,
    PhotoLink,
    Product,
    Spot,
    TalkSet,
    Task,
    TaskRequest,
    Tree,
    User,
)
from orchard.science import guide
from orchard.science.events import EventKind
from orchard.science.verdict import rule_sentence
from orchard.services.audit.verbs import WORDS, Verb
from orchard.services.partial_days import year_alone

# Rows that a line names by their own name; all others stay numbers.
NAMED: dict[type[models.Model], str] = {
    Block: "name",
    CarePlan: "job",
    HouseRule: "sign",
    Kind: "name",
    Orchard: "name",
    Harvest: "lot",
    PestStatus: "code",
    PhotoConsent: "person",
    Product: "name",
    TalkSet: "title",
    Task: "title",
    TaskRequest: "title",
    Tree: "code",
    User: "name",
}
EVENTS = frozenset(EventKind)
# Rows without a name of their own: a line tells whose they are by their tree.
OF_A_TREE = frozenset(
    {
        "case", "casecall", "closure", "crown", "finding", "happening", "inspection",
        "holdbreach", "photo", "ripenesstest", "secondlook", "stagenote", "tag",
        "treatedtree", "watering",
    }
)  # fmt: skip
# What every row carries and nobody asks about.
NOT_SHOWN = frozenset(
    {
        "id", "orchard_id", "key", "name_hash", "content_hash", "password",
        "token_hash", "received_at", "superseded_at", "corrects_id", "sharpness",
        "brightness", "likeness",
    }
)  # fmt: skip
LONGEST = 400
# Who took it is who did it.
SHOWN_BY_THE_VERB = frozenset({Verb.TAKE, Verb.GIVE_BACK})

Names = dict[tuple[type[models.Model], int], str]


@dataclass(frozen=True, slots=True)
class Difference:
    """One thing that changed: its name, what it was, what it is."""

    what: str
    before: str
    after: str


def subject_words() -> dict[str, str]:
    """Return each sort of subject in the plain word of the trade."""
    return {
        "block": _("block"),
        "careplan": _("care plan"),
        "case": _("case"),
        "casecall": _("call"),
        "closure": _("closure"),
        "crown": _("crown"),
        "finding": _("finding"),
        "drycheck": _("check that it was dry"),
        "forecast": _("forecast"),
        "harvest": _("harvest"),
        "harvestshare": _("share of a harvest"),
        "holdbreach": _("breach of a hold"),
        "happening": _("event"),
        "horizon": _("horizon"),
        "houserule": _("house rule"),
        "inspection": _("inspection"),
        "intake": _("weather file"),
        "invitation": _("invitation"),
        "kind": _("cultivar"),
        "leaftest": _("leaf analysis"),
        "membership": _("member"),
        "orchard": _("orchard"),
        "peststatus": _("pest status"),
        "photo": _("photo"),
        "photoconsent": _("consent"),
        "product": _("product"),
        "reading": _("reading"),
        "recall": _("recall"),
        "recallcall": _("call of a recall"),
        "ripenesstest": _("test of ripeness"),
        "round": _("round"),
        "secondlook": _("second look"),
        "slide": _("slide"),
        "slidephoto": _("photo of a talk"),
        "soil": _("soil"),
        "spot": _("spot"),
        "stagenote": _("growth stage"),
        "station": _("weather station"),
        "tag": _("tag"),
        "talkset": _("talk set"),
        "task": _("task"),
        "taskrequest": _("one-off task"),
        "treatedtree": _("treated tree"),
        "treatment": _("treatment"),
        "tree": _("tree"),
        "wetspell": _("wet spell"),
        "user": _("person"),
        "watering": _("watering"),
        "weatherday": _("day of weather"),
    }


def did(line: Change) -> str:
    """Say what was done; a verb that is written no more is shown as it stands."""
    return str(WORDS.get(line.verb, line.verb.replace("_", " ")))


def subject(line: Change, names: Names) -> str:
    """Say to what it was done: the sort, and its name where it has one."""
    sort = subject_words().get(line.subject_type, line.subject_type)
    model = _model(line.subject_type)
    if model in NAMED:
        name = names.get((model, line.subject_id), line.subject_label)
        field = model._meta.get_field(NAMED[model])
        name = _guide_name(name, field)
        if model is PhotoConsent:
            return _("the consent of %(name)s") % {"name": name}
        # An orchard's name says what it is.
        return name if model is Orchard else f"{sort} {name}"
    if line.subject_type == "invitation":
        return str((line.after or {}).get("email", sort))
    if line.subject_type == "membership":
        return line.subject_label
    if line.subject_type in ("spot", "slide", "slidephoto"):
        return f"{sort} {line.subject_label}"
    if line.subject_type in OF_A_TREE and line.tree is not None:
        values = {"sort": sort, "tree": line.tree.code}
        if line.subject_type == "secondlook":
            return _("the second look at %(tree)s") % values
        return _("the %(sort)s of %(tree)s") % values
    return f"{sort} {line.subject_id}"


def differences(line: Change, names: Names) -> tuple[Difference, ...]:
    """Return only what changed, in the order in which it was written down."""
    before, after = line.before or {}, line.after or {}
    fields = _fields(line.subject_type)
    found = []
    if line.verb in SHOWN_BY_THE_VERB:
        return ()
    for key in dict.fromkeys((*before, *after)):
        old = year_alone(before, key) or before.get(key)
        new = year_alone(after, key) or after.get(key)
        if key.endswith("_precision"):
            # Told with its day.
            continue
        if key in NOT_SHOWN or old == new or (_empty(old) and _empty(new)):
            continue
        field = fields.get(key)
        if line.subject_type == "houserule" and key == "rules":
            sign = str(after.get("sign") or before.get("sign") or "")
            old, new = _rules_in_words(old, sign), _rules_in_words(new, sign)
        elif key == "jobs":
            old, new = _job_names(old), _job_names(new)
        found.append(
            Difference(
                what=_label(key, field),
                before=_word(old, field, names),
                after=_word(new, field, names),
            )
        )
    return tuple(found)


def names_for(lines: Iterable[Change]) -> Names:
    """Fetch the names that some lines speak of, one query for each sort of row."""
    wanted: dict[type[models.Model], set[int]] = {}
    for line in lines:
        model = _model(line.subject_type)
        if model in NAMED:
            wanted.setdefault(model, set()).add(line.subject_id)
        fields = _fields(line.subject_type)
        for values in (line.before or {}, line.after or {}):
            for key, value in values.items():
                target = _target(fields.get(key))
                if target and isinstance(value, int) and not isinstance(value, bool):
                    wanted.setdefault(target, set()).add(value)
    names: Names = {}
    for model, ids in wanted.items():
        if model is Spot:
            for spot in Spot.objects.filter(pk__in=ids).select_related("block"):
                names[model, spot.pk] = str(spot)
        elif model in NAMED:
            rows = model._default_manager.filter(pk__in=ids)
            for pk, name in rows.values_list("pk", NAMED[model]):
                names[model, pk] = name
    return names


def _model(subject_type: str) -> type[models.Model] | None:
    try:
        return apps.get_model("records", subject_type)
    except LookupError:
        return None


def _fields(subject_type: str) -> Mapping[str, Any]:
    model = _model(subject_type)
    if model is None:
        return {}
    fields: dict[str, Any] = {}
    links = PhotoLink._meta.concrete_fields if model is Photo else ()
    for field in (*links, *model._meta.concrete_fields):
        fields[field.name] = fields[field.attname] = field
    return fields


def _target(field: Any) -> type[models.Model] | None:
    return field.related_model if field is not None and field.is_relation else None


def _label(key: str, field: Any) -> str:
    if field is None:
        return key.replace("_", " ")
    return str(field.verbose_name)


def _empty(value: Any) -> bool:
    return value is None or value in ("", [], {}, False)


def _word(value: Any, field: Any, names: Names) -> str:
    if value is None or value in ("", [], {}):
        return _("nothing")
    if isinstance(value, bool):
        return _("yes") if value else _("no")
    target = _target(field)
    if target is not None and isinstance(value, int):
        return names.get((target, value), f"{target._meta.verbose_name} {value}")
    if field is not None and isinstance(value, str):
        if field.model is Happening and field.name == "what" and value in EVENTS:
            return EventKind(value).label
        for code, label in field.flatchoices:
            if code == value:
                return str(label)
    if field is not None and isinstance(value, str):
        value = _guide_name(value, field)
    return _cut(_plain(value, field))


def _guide_name(key: str, field: Any) -> str:
    """Return what the guide calls a key that a field holds, else the key as it is."""
    book = guide.load()
    if field.name in ("sign", "confirmed_sign") and key in book.signs:
        return book.signs[key].name
    if field.name == "job" and key in book.jobs:
        return book.jobs[key].name
    if field.model is PestStatus and field.name == "code" and key in book.pests:
        return book.pests[key].taxon
    return key


def _job_names(keys: Any) -> Any:
    jobs = guide.load().jobs
    if not isinstance(keys, list):
        return keys
    return [jobs[key].name if key in jobs else key for key in keys]


def _rules_in_words(rows: Any, sign_key: str) -> Any:
    """Write a rule list as sentences; one that the guide no longer reads is counted."""
    book = guide.load()
    sign = book.signs.get(sign_key)
    if not isinstance(rows, list):
        return rows
    try:
        if sign is None:
            raise guide.GuideError([])
        rules = guide.read_rules(rows, book.facts, sign.name)
    except guide.GuideError:
        return ngettext("%(count)d rule", "%(count)d rules", len(rows)) % {
            "count": len(rows)
        }
    return [rule_sentence(rule, replace(sign, rules=rules), book) for rule in rules]


def _plain(value: Any, field: Any) -> str:
    if isinstance(value, list):
        return "; ".join(_plain(item, None).removesuffix(".") for item in value)
    if isinstance(value, dict):
        parts = [
            f"{key.replace('_', ' ')} {_plain(item, None)}"
            for key, item in value.items()
            if key not in NOT_SHOWN and not _empty(item)
        ]
        return ", ".join(parts)
    if isinstance(value, bool):
        return _("yes") if value else _("no")
    if isinstance(field, models.DateTimeField) and isinstance(value, str):
        zone = timezone.get_current_timezone()
        local = datetime.fromisoformat(value).astimezone(zone)
        return date_format(local, "j M Y, H:i")
    if isinstance(field, models.DateField) and isinstance(value, str) and value[4:]:
        return date_format(date.fromisoformat(value), "j M Y")
    return str(value)


def _cut(text: str) -> str:
    return text if len(text) <= LONGEST else f"{text[:LONGEST]} …"
