"""What was seen on a tree: inspections with findings, photos, stages, cases."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Sequence
from typing import Any

from django.db.models import Exists, Q, QuerySet
from django.utils.translation import gettext as _

from orchard.records.models import (
    Case,
    Finding,
    Inspection,
    Photo,
    PhotoLink,
    StageNote,
)
from orchard.science import guide
from orchard.science.units import shown
from orchard.science.verdict import in_short
from orchard.science.words import Lane
from orchard.services.timeline.shapes import (
    Event,
    Mark,
    Rank,
    Scope,
    Seen,
    Shot,
    end_of,
)

Row = dict[str, Any]
STANDING = Q(superseded_at=None, withdrawn_at=None)
UNDONE = ("withdrawn_at", "withdrawn_reason")
CORRECTED = ("corrects_id", "correction_reason", *UNDONE)


def standing_or_withdrawn(scope: Scope) -> Q:
    """Leave out what was corrected, and what was withdrawn unless it is asked for."""
    return Q(superseded_at=None) if scope.undone else STANDING


def undone_text(row: Row) -> str:
    """Say that a record was withdrawn, and why."""
    if row["withdrawn_at"] is None:
        return ""
    return _("Withdrawn: %(reason)s") % {"reason": row["withdrawn_reason"]}


def inspections(scope: Scope) -> list[Event]:
    """Return looks at the tree, without their findings and photos yet."""
    rows = (
        Inspection.objects.filter(
            standing_or_withdrawn(scope),
            scope.moments("seen_at", Rank.LOOK),
            tree_id=scope.tree.pk,
        )
        .order_by("-seen_at", "-id")
        .values(
            "id",
            "seen_on",
            "seen_at",
            "received_at",
            "all_well",
            "photo_only",
            "condition",
            "note",
            "also_ticked",
            "has_private",
            "corrects__has_private",
            "by_id",
            "by__name",
            "written_by__name",
            *CORRECTED,
        )[: scope.size]
    )
    return [_look(scope, row) for row in rows]


def _look(scope: Scope, row: Row) -> Event:
    may_see_all = is_open_to(scope, row["by_id"])
    hidden = row["has_private"] and not may_see_all
    # Why a suspicion was corrected away tells the suspicion.
    reason_hidden = (
        row["has_private"] or row["corrects__has_private"]
    ) and not may_see_all
    received_on = row["received_at"].astimezone(scope.zone).date()
    return Event(
        mark=Mark(row["seen_at"], Rank.LOOK, row["id"]),
        on=row["seen_at"].astimezone(scope.zone).date(),
        at=row["seen_at"],
        lane=Lane.LOOKS,
        title=_title(row),
        by_id=row["by_id"],
        by=row["by__name"],
        written_by=row["written_by__name"] or "",
        # A note beside a private finding may tell what the finding must not.
        note="" if hidden else row["note"],
        condition=row["condition"],
        days_late=max(0, (received_on - row["seen_on"]).days),
        target=("inspection", row["id"]),
        old=row["corrects_id"],
        correction_reason="" if reason_hidden else row["correction_reason"],
        undone=_("Withdrawn") if hidden and undone_text(row) else undone_text(row),
        ticked_again=tuple(row["also_ticked"]),
    )


def _title(row: Row) -> str:
    if row["photo_only"]:
        return _("Photo only")
    return _("All well") if row["all_well"] else _("Looked at")


def is_open_to(scope: Scope, recorded_by: int | None) -> bool:
    """Tell whether the member may see what is private in a look of that person."""
    return scope.sees_private or recorded_by == scope.member.user_id


def findings(scope: Scope, looks: Sequence[int]) -> dict[int, list[Seen]]:
    """Return what was found at some looks, the private ones only to whom they show."""
    book = guide.load()
    found: dict[int, list[Seen]] = defaultdict(list)
    rows = Finding.objects.filter(inspection_id__in=looks)
    if not scope.sees_private:
        rows = rows.filter(Q(private=False) | Q(inspection__by_id=scope.member.user_id))
    for row in rows.order_by("id").values(
        "id",
        "inspection_id",
        "sign",
        "verdict",
        "override",
        "answers",
        "because",
        "rule",
        "note",
        "due_on",
        "recheck_on",
        "sure",
        "private",
    ):
        sign = book.signs.get(row["sign"])
        found[row["inspection_id"]].append(
            Seen(
                id=row["id"],
                sign=row["sign"] if sign else "",
                name=book.name_of(row["sign"]),
                verdict=row["override"] or row["verdict"],
                computed=row["verdict"] if row["override"] else "",
                amount=_amount(sign, row["answers"], scope.tree.orchard.units),
                because=in_short(row["because"], row["rule"]),
                note=row["note"],
                due_on=row["due_on"],
                recheck_on=row["recheck_on"],
                sure=row["sure"],
                private=row["private"],
            )
        )
    return found


def _amount(sign: guide.Sign | None, answers: Row, units: str) -> str:
    """Say the one number of a finding with its unit, when it has one."""
    if sign is None:
        return ""
    fact = guide.load().facts[sign.asks_fact]
    value = answers.get(sign.asks_fact)
    if isinstance(value, bool) or not isinstance(value, int | float):
        return ""
    if fact.unit in ("", "%"):
        return f"{value:g}{fact.unit}"
    figure, unit = shown(value, fact.unit, units)
    return f"{round(figure, 1):g}\u00a0{unit}"


def _photos(scope: Scope) -> QuerySet[Photo]:
    """Return the photos that this member may see."""
    if scope.sees_private:
        return Photo.objects.all()
    return Photo.objects.filter(Q(private=False) | Q(by_id=scope.member.user_id))


def shot_of(row: Row) -> Shot:
    return Shot(
        name=row["name"],
        alt=row["caption"] or _("Photo without a caption"),
        caption=row["caption"],
        width=row["width"],
        height=row["height"],
        private=row["private"],
    )


SHOT = ("id", "name", "caption", "width", "height", "private")


def attached(
    scope: Scope, looks: Iterable[int], closures: Iterable[int]
) -> tuple[dict[int, list[Shot]], dict[int, list[Shot]]]:
    """Return the photos of some looks and of some closures, in one query."""
    by_look: dict[int, list[Shot]] = defaultdict(list)
    by_closure: dict[int, list[Shot]] = defaultdict(list)
    rows = _photos(scope).filter(
        STANDING,
        Q(links__inspection__in=list(looks)) | Q(links__closure__in=list(closures)),
    )
    subjects = ("links__inspection_id", "links__closure_id")
    for row in rows.order_by("id").values(*SHOT, *subjects):
        look, closure = (row[subject] for subject in subjects)
        if look is not None:
            by_look[look].append(shot_of(row))
        else:
            by_closure[closure].append(shot_of(row))
    return by_look, by_closure


# The records that show a photo themselves, in the lanes where they stand.
SHOWN_BY = {Lane.LOOKS: ("inspection", "finding"), Lane.WORK: ("closure",)}


def photos(scope: Scope, lanes: Collection[Lane]) -> list[Event]:
    """Return photos of the tree, without those that a look or work here shows."""
    shown = [
        subject for lane in SHOWN_BY if lane in lanes for subject in SHOWN_BY[lane]
    ]
    links = PhotoLink.objects.of_photo().about(*shown) if shown else None
    of_tree = PhotoLink.objects.filter(tree_id=scope.tree.pk)
    rows = (
        _photos(scope)
        .filter(
            pk__in=of_tree.values("photo_id"),
        )
        .filter(
            standing_or_withdrawn(scope),
            scope.moments("received_at", Rank.PHOTO),
            *([] if links is None else [~Exists(links)]),
        )
        .order_by("-received_at", "-id")
        .values(*SHOT, "received_at", "by_id", "by__name", *UNDONE)[: scope.size]
    )
    return [
        Event(
            mark=Mark(row["received_at"], Rank.PHOTO, row["id"]),
            on=row["received_at"].astimezone(scope.zone).date(),
            at=row["received_at"],
            lane=Lane.PHOTOS,
            title=_("Photo"),
            by_id=row["by_id"],
            by=row["by__name"],
            private=row["private"],
            undone=undone_text(row),
            shots=() if row["withdrawn_at"] else (shot_of(row),),
        )
        for row in rows
    ]


def stages(scope: Scope) -> list[Event]:
    """Return growth stages seen on the tree or on all trees of its group."""
    of_this_tree = Q(tree_id=scope.tree.pk)
    group = scope.tree.kind.group
    if group:
        of_this_tree |= Q(tree=None, group=group) & in_its_time(scope, "seen_on")
    rows = (
        StageNote.objects.filter(
            of_this_tree,
            standing_or_withdrawn(scope),
            scope.days("seen_on", Rank.STAGE),
            orchard_id=scope.tree.orchard_id,
        )
        .order_by("-seen_on", "-id")
        .values("id", "bbch", "group", "seen_on", "by_id", "by__name", *CORRECTED)[
            : scope.size
        ]
    )
    return [_stage(scope, row) for row in rows]


def in_its_time(scope: Scope, field: str) -> Q:
    """Leave out what the whole orchard met before this tree came or after it left."""
    wanted = Q()
    if scope.tree.planted_on:
        wanted &= Q(**{f"{field}__gte": scope.tree.planted_on})
    if scope.tree.removed_on:
        wanted &= Q(**{f"{field}__lte": scope.tree.removed_on})
    return wanted


def _stage(scope: Scope, row: Row) -> Event:
    stage = guide.load().stages.get(row["bbch"])
    values = {"code": f"{row['bbch']:02d}", "meaning": stage.meaning if stage else ""}
    title = _("Growth stage %(code)s") % values
    return Event(
        mark=Mark(end_of(row["seen_on"], scope.zone), Rank.STAGE, row["id"]),
        on=row["seen_on"],
        lane=Lane.WEATHER,
        title=f"{title}: {values['meaning']}" if stage else title,
        note=_("Seen on the group %(group)s") % row if row["group"] else "",
        by_id=row["by_id"],
        by=row["by__name"],
        target=None if row["withdrawn_at"] else ("stage", row["id"]),
        old=row["corrects_id"],
        correction_reason=row["correction_reason"],
        undone=undone_text(row),
    )


def cases(scope: Scope, rows: Iterable[Case]) -> list[Event]:
    """Return the openings and closings of cases, to those who may see them."""
    if not scope.sees_private:
        return []
    book = guide.load()
    events = []
    for case in rows:
        name = book.name_of(case.sign)
        events.append(
            Event(
                mark=Mark(case.opened_at, Rank.CASE_OPENED, case.pk),
                on=case.opened_at.astimezone(scope.zone).date(),
                at=case.opened_at,
                lane=Lane.LOOKS,
                title=_("Case opened: %(name)s suspected") % {"name": name},
                by_id=case.opened_by_id,
                by=case.opened_by.name,
                verdict="report",
                private=True,
                target=("case", case.pk),
            )
        )
        if case.closed_at and case.closed_by:
            events.append(
                Event(
                    mark=Mark(case.closed_at, Rank.CASE_CLOSED, case.pk),
                    on=case.closed_at.astimezone(scope.zone).date(),
                    at=case.closed_at,
                    lane=Lane.LOOKS,
                    title=_("Case closed: %(name)s") % {"name": name},
                    note=case.outcome,
                    by_id=case.closed_by_id,
                    by=case.closed_by.name,
                    private=True,
                    target=("case", case.pk),
                )
            )
    return [event for event in events if scope.holds(event)]
