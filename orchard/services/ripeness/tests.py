"""Ripening: fruit tested, and the tests corrected or withdrawn."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django.db import transaction
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from orchard.records.models import Orchard, RipenessTest, Task, Tree, User
from orchard.science import guide
from orchard.science.figures import figure, limits
from orchard.science.words import JobRole, Picked, WorkKind
from orchard.services import (
    audit,
    care_plan,
    corrections,
    fruit,
    holds,
    permissions,
    tasks,
)
from orchard.services.audit import Verb
from orchard.services.care_plan import Context
from orchard.services.errors import Refused
from orchard.services.fruit import MaturityReading
from orchard.services.quantities import quantity

__all__ = [
    "correct_test",
    "is_judged_by_colour",
    "kinds_to_test",
    "note_and_open",
    "note_test",
    "note_tests",
    "withdraw_test",
]

# The others are told on the form in units that no orchard reads otherwise.
READ_IN = {"juice_c": "°C"}
READINGS = (
    "brix_read",
    "juice_c",
    "acid_percent",
    "titrant_ml",
    "normality",
    "sample_ml",
    "juice_percent",
    "fruit_g",
    "juice_g",
    "tasters",
    "colour_percent",
)
TASTING = ("taste", "tasters")
TITRATION = ("titrant_ml", "normality", "sample_ml")
WEIGHED = ("juice_g", "fruit_g")


def note_and_open(
    tree: Tree,
    *,
    by: User,
    now: datetime,
    today: date,
    written_by: User | None = None,
    **details: Any,
) -> tuple[MaturityReading, list[Task]]:
    """Record test as `note_test` does, and open at once the work it asks for.

    What somebody tested may be `written_by` another.
    """
    if written_by == by:
        written_by = None
    with audit.written_down_by(written_by):
        details["written_by"] = written_by
        reading = note_test(tree, by=by, now=now, today=today, **details)
    return reading, care_plan.open_after(tree.orchard, now=now, today=today)


def note_test(
    tree: Tree,
    *,
    tested_on: date,
    fruits: int,
    by: User,
    now: datetime,
    today: date,
    note: str = "",
    written_by: User | None = None,
    already_eaten: bool = False,
    **readings: Any,
) -> MaturityReading:
    """Note what was measured of some fruit, and close the test that was asked for.

    Tasting is picking: during a harvest hold it is refused. What was `already_eaten`
    is kept, and the coordinator is asked to look into it.

    `readings` are those of the record: sugar as read, acid or its titration, juice in
    percent or both masses, taste.

    Raises:
        Refused (no_tasting): its fruit may not be eaten, with until when. left_alone:
            nothing is to be taken from the tree. no_fruit: it grows no longer, or
            bears none yet. wrong_day: in the future, or the tree was not
            here. no_member_then: the tester was no member that day. out_of_range:
            nothing measured, half a titration, a figure nothing can have.
    """
    [reading] = note_tests(
        [(tree, readings)],
        tested_on=tested_on,
        fruits=fruits,
        by=by,
        now=now,
        today=today,
        note=note,
        written_by=written_by,
        already_eaten=already_eaten,
    )
    return reading


def note_tests(
    tested: Iterable[tuple[Tree, Mapping[str, Any]]],
    *,
    tested_on: date,
    fruits: int,
    by: User,
    now: datetime,
    today: date,
    note: str = "",
    written_by: User | None = None,
    already_eaten: bool = False,
) -> list[MaturityReading]:
    """Note a day's tests of trees of one orchard, each with its readings.

    All of them or none, in as many queries as one needs; promises and refuses as
    `note_test`.
    """
    rows = []
    for tree, readings in tested:
        if tree.state != Tree.State.GROWING:
            raise Refused(
                _("%(code)s no longer grows here. Test fruit of another tree.")
                % {"code": tree.code},
                code="no_fruit",
                field="tree",
            )
        rows.append(
            RipenessTest(
                orchard=tree.orchard,
                tree=tree,
                tested_on=tested_on,
                fruits=fruits,
                note=note.strip(),
                by=by,
                written_by=written_by,
                received_at=now,
                **readings,
            )
        )
    if not rows:
        return []
    if written_by is not None:
        permissions.check_was_member(rows[0].orchard, by, on=tested_on)
    with transaction.atomic():
        noted = _checked(rows, today)
        under_hold = _tasting_holds(rows)
        if under_hold and not already_eaten:
            raise _no_tasting(*under_hold[0])
        audit.save_all(Verb.NOTE, rows, by=by, now=now)
        for row, hold in under_hold:
            _ask_about_tasting(row, hold, today=today)
        _close_tests(rows, by=by, now=now, today=today)
        return noted


def correct_test(
    test: RipenessTest,
    *,
    by: User,
    now: datetime,
    today: date,
    reason: str,
    **changes: Any,
) -> MaturityReading:
    """Put a newer test in place of one; the old one stays readable.

    Raises:
        Refused (reason_missing): no reason is given. no_member_then: what another
            tested moves to a day they were no member. not_current, not_yours and
            others as `note_test`.
    """
    with transaction.atomic():
        old = corrections.lock_current(test, by)
        row = corrections.renewed(old, by=by, now=now, **changes)
        if row.written_by is not None and row.tested_on != old.tested_on:
            permissions.check_was_member(old.orchard, row.by, on=row.tested_on)
        [reading] = _checked([row], today)
        under_hold = _tasting_holds([row])
        if under_hold and old.taste is None:
            raise _no_tasting(*under_hold[0])
        corrections.put_in_place(Verb.CORRECT, old, row, by=by, now=now, reason=reason)
    care_plan.open_after(old.orchard, now=now, today=today)
    return reading


def withdraw_test(
    test: RipenessTest, *, by: User, now: datetime, today: date, reason: str
) -> None:
    """Withdraw a test; picking that only it asked for falls away.

    Raises:
        Refused (reason_missing), not_current, not_yours: as for `noted.withdraw`.
    """
    corrections.withdraw(test, by=by, now=now, reason=reason)
    care_plan.open_after(test.orchard, now=now, today=today)


def _checked(rows: Sequence[RipenessTest], today: date) -> list[MaturityReading]:
    """Check tests of one day in one orchard, and return what they say."""
    for row in rows:
        corrections.check_day(row.tree, row.tested_on, field="tested_on", today=today)
    _check_holds(rows)
    return [_maturity_reading(row) for row in rows]


def _maturity_reading(row: RipenessTest) -> MaturityReading:
    # Fruit that may be there may be tested.
    age = row.tree.dates.greatest_age_on(row.tested_on)
    bears_from = round(figure("bears_from_years").value)
    if age is not None and age < bears_from:
        raise Refused(
            _(
                "%(code)s was under %(years)d years old then, and bore no fruit yet. "
                "Test fruit of an older tree, or correct its age first."
            )
            % {"code": row.tree.code, "years": bears_from}, code="no_fruit",
            field="tree",
        )  # fmt: skip
    least, most = limits("fruits")
    if not least <= row.fruits <= most:
        raise Refused(
            _("Say how many fruit: %(least)d to %(most)d.")
            % {"least": least, "most": most},
            code="out_of_range",
            field="fruits",
        )
    for name in READINGS:
        value, (least, most) = getattr(row, name), limits(name)
        unit, system = READ_IN.get(name, ""), row.orchard.units
        if value is not None and not least <= value <= most:
            raise Refused(
                _(
                    "%(value)s can't be right. It must be from %(least)s to %(most)s. "
                    "Check the unit and the decimal point."
                )
                % {
                    "value": quantity(value, unit, system),
                    "least": quantity(least, unit, system),
                    "most": quantity(most, unit, system),
                }, code="out_of_range",
                field=name,
            )  # fmt: skip
    _check_whole(row, TASTING, _("Say how it tastes, and how many tasted it."))
    _check_whole(
        row,
        TITRATION,
        _("A titration takes three figures: hydroxide used, its strength, and juice."),
    )
    _check_whole(row, WEIGHED, _("Give both masses: of the juice and of the fruit."))
    if row.juice_g and row.fruit_g and row.juice_g >= row.fruit_g:
        raise Refused(
            _("The juice weighs more than the fruit it came from. Check both masses."),
            code="out_of_range",
            field="juice_g",
        )
    measured = (row.brix_read, row.acid_percent, row.titrant_ml, row.juice_percent)
    judged = (row.juice_g, row.taste, row.colour_percent, row.scented)
    if all(value is None for value in (*measured, *judged)):
        raise Refused(
            _("Nothing entered yet. Enter sugar, acid, juice, taste or colour."),
            code="out_of_range",
            field="brix_read",
        )
    if row.brix_read is None and row.juice_c is not None:
        raise Refused(
            _("The temperature belongs to the sugar reading. Give both, or neither."),
            code="out_of_range",
            field="brix_read",
        )
    try:
        return fruit.read_test(row)
    except ValueError:
        # All readings are possible one by one; only a titration can lead beyond.
        raise Refused(
            _("That titration gives more acid than any juice has. Check the figures."),
            code="out_of_range",
            field="titrant_ml",
        ) from None  # fmt: skip


def _check_holds(rows: Sequence[RipenessTest]) -> None:
    """Refuse fruit taken since the tree is to be left alone, or while it was closed."""
    first = rows[0]
    _begins, ends = _tested_between(first)
    found = holds.holds_of(
        first.orchard,
        [row.tree_id for row in rows],
        today=first.tested_on,
        now=ends,
        forbidding=WorkKind.SAMPLING,
    )
    for row in rows:
        for hold in found.get(row.tree_id, ()):
            if hold.since is None or row.tested_on >= hold.since:
                raise Refused(
                    _("%(code)s: %(reason)s Test another tree of its cultivar.")
                    % {"code": row.tree.code, "reason": hold.reason},
                    code="left_alone",
                    field="tree",
                )


def _tested_between(row: RipenessTest) -> tuple[datetime, datetime]:
    """Return the first and the last moment of a test: its day, or now where today."""
    zone = ZoneInfo(row.orchard.time_zone)
    begins = datetime.combine(row.tested_on, time(), tzinfo=zone)
    ends = datetime.combine(row.tested_on + timedelta(days=1), time(), tzinfo=zone)
    if ends > row.received_at:
        return row.received_at, row.received_at
    return begins, ends


def _tasting_holds(rows: Iterable[RipenessTest]) -> list[tuple[RipenessTest, str]]:
    """Return tests that say fruit was tasted which may not be, and until when.

    A test knows its day alone: of a day that is past, whatever stood in its course.
    """
    tasted = [row for row in rows if row.taste is not None]
    if not tasted:
        return []
    orchard = tasted[0].orchard
    begins, ends = _tested_between(tasted[0])
    treated = holds.after_treatments(
        orchard, frozenset(row.tree_id for row in tasted), begins, begun_by=ends
    )
    zone = ZoneInfo(orchard.time_zone)
    return [
        (row, holds.harvest_words(Picked.FRUIT, after.openings.fruit, zone))
        for row in tasted
        if (after := treated.get(row.tree_id)) is not None
        and after.is_locked(after.openings.fruit, begins)
    ]


def _no_tasting(row: RipenessTest, hold: str) -> Refused:
    return Refused(
        _(
            "%(code)s: %(hold)s Leave the taste empty, measure without tasting, and "
            "discard the fruit. If it was eaten already, tick that."
        )
        % {"code": row.tree.code, "hold": hold},
        code="no_tasting",
        field="taste",
    )


def _ask_about_tasting(row: RipenessTest, hold: str, *, today: date) -> None:
    tasks.ask_coordinator(
        row.orchard,
        title=_("Look into the tasting of %(code)s under a hold")
        % {"code": row.tree.code},
        steps=[
            hold,
            _("Ask how everybody is who tasted it. Follow the label's first aid."),
            _("If anybody feels unwell, call the poison line and read out the label."),
        ],
        subject=f"tasting:{row.pk}",
        due_on=today,
        by=row.by,
        now=row.received_at,
        today=today,
    )


def _check_whole(row: RipenessTest, names: tuple[str, ...], sentence: str) -> None:
    missing = [name for name in names if getattr(row, name) is None]
    if missing and len(missing) < len(names):
        raise Refused(sentence, code="out_of_range", field=missing[0])


def _close_tests(
    rows: Sequence[RipenessTest], *, by: User, now: datetime, today: date
) -> None:
    """Close the tests of ripeness of blocks in which all that is asked is tested."""
    orchard, tested_on = rows[0].orchard, rows[0].tested_on
    newest = {row.tree.spot.block_id: row for row in rows}
    asked = (
        Task.objects.in_orchard(orchard)
        .open()
        .with_role(JobRole.RIPENESS_TEST)
        .filter(tree=None, block__in=newest, opens_on__lte=tested_on)
        .order_by("-pk")
    )
    # The first one of each block.
    first = {task.block_id: task for task in asked}
    context = None
    if len(first) > 1:
        context = care_plan.gather_context(orchard, today=today, jobs=())
    for block_id, task in first.items():
        task.orchard, row = orchard, newest[block_id or 0]
        if kinds_to_test(task, today=today, context=context):
            continue
        tasks.close(
            task,
            by=by,
            written_by=row.written_by,
            now=now,
            today=today,
            done_on=tested_on,
            evidence=ngettext(
                "%(count)d fruit of %(tree)s tested",
                "%(count)d fruit of %(tree)s tested",
                row.fruits,
            )
            % {"count": row.fruits, "tree": row.tree.code},
        )


def is_judged_by_colour(orchard: Orchard, code: str) -> bool:
    """Tell whether the fruit of a tree is judged by colour and scent alone."""
    keys = orchard.trees.with_code(code.strip()).values_list(
        "kind__guide_key", flat=True
    )
    cultivars = guide.load().cultivars
    return any(key in cultivars and cultivars[key].is_judged_by_colour for key in keys)


def kinds_to_test(
    task: Task, *, today: date, context: Context | None = None
) -> list[str]:
    """Name the kinds whose fruit a block's test of ripeness still asks for.

    Those that come ripe now, and are neither picked, nor found ready, nor tested for
    this task. `context` is what is known of the whole orchard, where that is read.
    """
    context = context or care_plan.gather_context(
        task.orchard, today=today, block=task.block_id, jobs=()
    )
    sampling = guide.load().job(JobRole.RIPENESS_TEST)
    block = task.block_id
    growing = tuple(row for row in context.trees if block in (None, row.block_id))
    trees = context.free_of(growing, sampling)
    asked = {
        name
        for name, first, last in care_plan.ripe_seasons(trees, context)
        if care_plan.comes_ripe(first, last, today)
    }
    answered = {name for name, _on, _last in care_plan.ready(trees, context)}
    answered |= {
        tests[0].test.tree.kind.guide_key
        for (tested_in, _kind), tests in context.ripe_tests.items()
        if tested_in == block and tests[0].test.tested_on >= task.opens_on
    }
    return sorted(asked - answered)
