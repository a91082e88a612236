"""Leaf analyses: what a laboratory found, against every published set of ranges."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, Literal

from django.db import transaction
from django.db.models import Q, QuerySet
from django.utils.formats import number_format
from django.utils.translation import gettext as _

from orchard.records.models import (
    Closure,
    Kind,
    LeafTest,
    Membership,
    Orchard,
    Task,
    Tree,
    User,
)
from orchard.science import feeding as law
from orchard.science import guide, windows
from orchard.science.feeding import LeafReading, Nutrient
from orchard.science.figures import days, figure, limits
from orchard.science.words import WorkKind
from orchard.services import audit, corrections, holds, permissions, tasks
from orchard.services.audit import Verb
from orchard.services.errors import NotThere, Refused
from orchard.services.paging import Page, page_by_key
from orchard.services.quantities import number_text

PAGE = 25
# What a figure is worth that was typed in a unit the nutrient is not kept in.
PPM_IN_PERCENT, G_PER_KG_IN_PERCENT = 10_000, 10

Agreement = Literal["none", "one", "agree", "disagree"]


@dataclass(frozen=True, slots=True)
class NutrientReading:
    """What was found of one nutrient, and what each set that has a range says."""

    nutrient: Nutrient
    value: float
    readings: tuple[LeafReading, ...]

    @property
    def fitting(self) -> tuple[LeafReading, ...]:
        """Return the readings by sets that are for these leaves."""
        return tuple(each for each in self.readings if each.status)

    @property
    def agreement(self) -> Agreement:
        """Tell whether the sets that fit put it on the same side of their range."""
        if not self.fitting:
            return "none"
        if len(self.fitting) == 1:
            return "one"
        sides = {each.side for each in self.fitting}
        return "agree" if len(sides) == 1 else "disagree"


@dataclass(frozen=True, slots=True)
class SamplingTime:
    """When leaves are taken next, on whose word, and how many."""

    first: date
    last: date
    source: str
    how: str
    leaves: int
    # So long after a feed on the leaves none are taken.
    days_after_feed: int


def record_leaf_test(
    member: Membership,
    *,
    place: str,
    kind: int | None = None,
    closes_task: bool = False,
    by: User,
    now: datetime,
    today: date,
    **details: Any,
) -> tuple[LeafTest, list[Closure]]:
    """Keep what a laboratory found in leaves of a tree, or of one cultivar in a block.

    `details` are those of the record: taken_on, leaf_months, contents and so on. With
    `closes_task` the open task of taking these leaves is done with it.

    Raises:
        Refused (unknown_place, no_kind): no tree or block of this code, or a block of
            several cultivars and none is named. wrong_day: in the future, or the tree
            was not here. left_alone: nothing is to be taken from the tree.
            out_of_range: a content, an age or a pH that cannot be. nothing_found: no
            content at all.
    """
    row = LeafTest(orchard=member.orchard, by=by, received_at=now, **details)
    _set_place(row, member, place, kind)
    with transaction.atomic():
        _check(row, today=today)
        audit.save(Verb.NOTE, row, by=by, now=now)
        if not closes_task:
            return row, []
        return row, _close_sampling(row, by=by, now=now, today=today)


def choose_leaf_set(
    orchard: Orchard, *, leaf_set: str, by: User, now: datetime
) -> Orchard:
    """Choose the published set of ranges that an orchard goes by; "" for none.

    Raises:
        Refused (unknown_set): the guide has no such set.
    """
    if leaf_set and leaf_set not in {each.key for each in law.leaf_sets()}:
        raise Refused(
            _("The guide has no such set. Choose one from the list."),
            code="unknown_set",
            field="leaf_set",
        )
    with transaction.atomic():
        row = Orchard.objects.select_for_update(no_key=True).get(pk=orchard.pk)
        if row.leaf_set == leaf_set:
            return row
        before = audit.snapshot(row, "leaf_set")
        row.leaf_set, row.leaf_set_by, row.leaf_set_at = leaf_set, by, now
        fields = ("leaf_set", "leaf_set_by", "leaf_set_at")
        return audit.save(Verb.SET, row, by=by, now=now, fields=fields, before=before)


def sampling_tasks(orchard: Orchard) -> QuerySet[Task]:
    """Return the open tasks of taking leaves, wherever they are."""
    jobs = guide.load().jobs.values()
    keys = [job.key for job in jobs if WorkKind.SAMPLING in job.work]
    open_now = Task.objects.in_orchard(orchard).open()
    return open_now.of_jobs().filter(key__in=keys)


def _close_sampling(
    row: LeafTest, *, by: User, now: datetime, today: date
) -> list[Closure]:
    """Close the tasks of taking leaves that an analysis answers: of tree and block."""
    block = row.block or (row.tree.spot.block if row.tree else None)
    found = sampling_tasks(row.orchard).filter(
        Q(tree__isnull=False, tree=row.tree) | Q(tree=None, block=block),
        opens_on__lte=row.taken_on,
    )
    evidence = _("Leaf analysis")
    if row.sample:
        evidence = _("Leaf analysis, sample %(number)s") % {"number": row.sample}
    endings = [
        tasks.Ending(task, by, now, row.taken_on, evidence=evidence)
        for task in found.order_by("id")
    ]
    return tasks.close_all(endings, today=today)


def correct_leaf_test(
    test: LeafTest,
    member: Membership,
    *,
    place: str,
    kind: int | None = None,
    by: User,
    now: datetime,
    today: date,
    reason: str,
    **changes: Any,
) -> LeafTest:
    """Put a newer analysis in place of one; the old one stays readable.

    Raises:
        Refused (reason_missing): no reason is given. Others as `record_leaf_test` and
            `corrections.lock_current`.
    """
    with transaction.atomic():
        old = corrections.lock_current(test, by)
        row = corrections.renewed(old, by=by, now=now, **changes)
        _set_place(row, member, place, kind)
        _check(row, today=today)
        return corrections.put_in_place(
            Verb.CORRECT, old, row, by=by, now=now, reason=reason
        )


def withdraw_leaf_test(
    test: LeafTest, *, by: User, now: datetime, reason: str
) -> LeafTest:
    """Withdraw an analysis; it stays readable.

    Raises:
        Refused: as `corrections.withdraw`.
    """
    return corrections.withdraw(test, by=by, now=now, reason=reason)


def leaf_tests_of(
    orchard: Orchard, *, after: str = "", size: int = PAGE
) -> Page[LeafTest]:
    """Return a page of the analyses that stand, the newest first."""
    rows = LeafTest.objects.in_orchard(orchard).current()
    rows = rows.select_related("tree", "block", "kind", "by")
    return page_by_key(rows, "-taken_on", "-id", after=after, size=size)


def leaf_tests_for(tree: Tree, *, at_most: int) -> list[LeafTest]:
    """List the newest analyses of a tree, or of its cultivar in its block."""
    rows = LeafTest.objects.in_orchard(tree.orchard_id).current()
    own = rows.filter(tree=tree)
    shared = rows.filter(block=tree.spot.block_id, kind=tree.kind_id)
    found = (own | shared).select_related("tree", "block", "kind")
    return list(found.order_by("-taken_on", "-id")[:at_most])


def nutrient_readings(test: LeafTest) -> tuple[NutrientReading, ...]:
    """Return every content of an analysis against every set that has a range for it."""
    group = f"{test.kind.group} {test.kind.name}"
    return tuple(
        NutrientReading(
            nutrient,
            test.contents[key],
            law.leaf_readings(key, test.contents[key], group, test.leaf_months),
        )
        for key, nutrient in law.leaf_nutrients().items()
        if key in test.contents
    )


def leaf_test_words(test: LeafTest) -> str:
    """Write what an analysis is of: a tree, or a cultivar in a block."""
    if test.tree is not None:
        return f"{test.tree.code}, {test.kind.name}"
    assert test.block is not None
    return _("Block %(code)s, %(kind)s") % {
        "code": test.block.code, "kind": test.kind.name
    }  # fmt: skip


def sampling_time(orchard: Orchard, *, today: date) -> SamplingTime:
    """Return when leaves are to be taken: now, or the next time it comes."""
    latitude = float(orchard.latitude)
    span_text, source, how = law.leaf_sampling(latitude)
    [span] = windows.read_spans(span_text)
    year = windows.season_year(today, latitude)
    first, last = span.dates(year, latitude)
    if last < today:
        first, last = span.dates(year + 1, latitude)
    return SamplingTime(
        first,
        last,
        source,
        how,
        leaves=round(figure("leaf_sample_leaves").value),
        days_after_feed=days("leaf_sample_after_feed_days").days,
    )


def _set_place(row: LeafTest, member: Membership, place: str, kind: int | None) -> None:
    code = place.strip()
    try:
        row.tree, row.block = permissions.tree_for(member, code), None
        row.kind = row.tree.kind
    except NotThere:
        row.tree = None
    else:
        return
    try:
        row.block = permissions.block_for(member, code)
    except NotThere:
        raise Refused(
            _("There is no tree or block %(code)s here. Look at the tag.")
            % {"code": code},
            code="unknown_place",
            field="place",
        ) from None
    row.kind = _kind_in_block(row, kind)


def _kind_in_block(row: LeafTest, number: int | None) -> Kind:
    """Return the cultivar that leaves were taken of: the one named, or the only one."""
    assert row.block is not None
    trees = Tree.objects.in_orchard(row.orchard).filter(spot__block=row.block)
    kinds = Kind.objects.filter(orchard=row.orchard)
    found = list(kinds.filter(pk__in=trees.values("kind")).order_by("name", "id"))
    chosen = [each for each in found if number is None or each.pk == number]
    if len(chosen) == 1:
        return chosen[0]
    words = {"code": row.block.code, "kinds": ", ".join(each.name for each in found)}
    if not found:
        text = _("Nothing grows in block %(code)s. Name a tree or another block.")
    elif not chosen:
        text = _("That cultivar isn't in block %(code)s. It has: %(kinds)s.")
    else:
        text = _("Block %(code)s has several cultivars. Choose one: %(kinds)s.")
    raise Refused(text % words, code="no_kind", field="kind")


def _check(row: LeafTest, *, today: date) -> None:
    corrections.check_day(row.tree, row.taken_on, field="taken_on", today=today)
    if row.tree is not None:
        _check_left_alone(row, row.tree)
    least, most = limits("leaf_months")
    if not least <= row.leaf_months <= most:
        raise Refused(
            _("Leaves of %(age)s months can't be right. Enter %(least)s to %(most)s.")
            % {
                "age": number_text(row.leaf_months),
                "least": number_text(least),
                "most": number_text(most),
            },
            code="out_of_range",
            field="leaf_months",
        )
    _check_contents(row.contents)
    least, most = limits("soil_ph")
    if row.soil_ph is not None and not least <= row.soil_ph <= most:
        raise Refused(
            _(
                "pH %(value)s can't be right: soil has %(least)s to %(most)s. Check "
                "the decimal point."
            )
            % {
                "value": number_text(row.soil_ph),
                "least": number_text(least),
                "most": number_text(most),
            },
            code="out_of_range",
            field="soil_ph",
        )


def _check_left_alone(row: LeafTest, tree: Tree) -> None:
    found = holds.holds_of(
        row.orchard, [tree.pk], today=row.taken_on, forbidding=WorkKind.SAMPLING
    )
    for hold in found.get(tree.pk, ()):
        if hold.since is None or row.taken_on >= hold.since:
            raise Refused(
                _("%(code)s: %(reason)s Take leaves of another tree.")
                % {"code": tree.code, "reason": hold.reason},
                code="left_alone",
                field="place",
            )


def _check_contents(contents: Mapping[str, float]) -> None:
    if not contents:
        raise Refused(
            _("Enter at least one figure from the laboratory's report."),
            code="nothing_found",
            field="N",
        )
    for key, value in contents.items():
        nutrient = law.leaf_nutrients()[key]
        if not nutrient.low <= value <= nutrient.high:
            raise Refused(
                f"{_out_of_range(nutrient, value)} {_slip(nutrient, value)}",
                code="out_of_range",
                field=key,
            )


def _out_of_range(nutrient: Nutrient, value: float) -> str:
    return _(
        "%(name)s %(value)s %(unit)s can't be right: leaves hold %(low)s to %(high)s."
    ) % {
        "name": nutrient.name.capitalize(),
        "value": content_text(value),
        "unit": nutrient.unit,
        "low": content_text(nutrient.low),
        "high": content_text(nutrient.high),
    }


def _slip(nutrient: Nutrient, value: float) -> str:
    """Say in which unit a figure would make sense, or what to look at."""
    by_unit = (
        (("mg/kg (ppm)", 1 / PPM_IN_PERCENT), ("g/kg", 1 / G_PER_KG_IN_PERCENT))
        if nutrient.unit == "%"
        else (("%", PPM_IN_PERCENT),)
    )
    for typed, factor in by_unit:
        if value > 0 and nutrient.low <= value * factor <= nutrient.high:
            return _("If the report says %(typed)s, enter %(value)s %(unit)s.") % {
                "typed": typed,
                "value": content_text(value * factor),
                "unit": nutrient.unit,
            }
    return _("Check the unit and the decimal point.")


def content_text(value: float) -> str:
    """Write a content with the decimals that it has, four at most."""
    text = f"{value:.4f}".rstrip("0").rstrip(".")
    places = len(text.partition(".")[2])
    return str(number_format(float(text), decimal_pos=places))
