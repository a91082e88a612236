"""Ripening: fruit tested, and the tests corrected or withdrawn."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

from django.db import transaction
from django.utils.formats import number_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from orchard.records.models import RipenessTest, Task, Tree, User
from orchard.services import care, growing, noted, ripe_tests, work
from orchard.services.care_facts import BEARS_FROM_YEARS
from orchard.services.refusal import Refused
from orchard.services.ripe_tests import Tested
from orchard.services.weather_events import age_of

__all__ = ["CannotBe", "NoFruit", "correct", "note_and_open", "note_test", "withdraw"]

MATURITY = "job:maturity"
# What a reading may be: lowest and highest that juice or a scale can show.
LIMITS = {
    "brix_read": (1.0, 30.0),
    "juice_c": (10.0, 30.0),
    "acid_percent": (0.05, 15.0),
    "titrant_ml": (0.1, 500.0),
    "normality": (0.001, 2.0),
    "sample_ml": (0.5, 500.0),
    "juice_percent": (1.0, 90.0),
    "fruit_g": (5.0, 100_000.0),
    "juice_g": (1.0, 100_000.0),
}
TITRATION = ("titrant_ml", "normality", "sample_ml")
WEIGHED = ("juice_g", "fruit_g")


class CannotBe(Refused):
    """A figure lies outside what can be, or only half of what it takes was given."""


class NoFruit(Refused):
    """No fruit can be taken from this tree."""


def note_and_open(
    tree: Tree, *, by: User, now: datetime, today: date, **said: Any
) -> tuple[Tested, list[Task]]:
    """Note a test as `note_test` does, and open at once the work it asks for."""
    with transaction.atomic():
        tested = note_test(tree, by=by, now=now, today=today, **said)
        return tested, work.open_next(tree.orchard, now=now, today=today)


def note_test(
    tree: Tree,
    *,
    tested_on: date,
    fruits: int,
    by: User,
    now: datetime,
    today: date,
    note: str = "",
    **readings: Any,
) -> Tested:
    """Note what was measured of some fruit, and close the test that was asked for.

    `readings` are those of the record: sugar as read, acid or its titration, juice in
    percent or both masses, taste.

    Raises:
        NoFruit: the tree grows no longer, or bears none yet. WrongDay: in the future,
        or the tree was not here. CannotBe: nothing measured, half a titration, a figure
        nothing can have.
    """
    if tree.state != Tree.State.GROWING:
        raise NoFruit(
            _("%(code)s no longer grows here. Test fruit of another tree.")
            % {"code": tree.code},
            field="tree",
        )
    row = RipenessTest(
        orchard=tree.orchard,
        tree=tree,
        tested_on=tested_on,
        fruits=fruits,
        note=note.strip(),
        by=by,
        received_at=now,
        **readings,
    )
    with transaction.atomic():
        tested = _checked(row, today)
        noted.keep("note", row, by=by, now=now)
        _close_tests(tested, by=by, now=now, today=today)
        return tested


def correct(
    test: RipenessTest,
    *,
    by: User,
    now: datetime,
    today: date,
    reason: str,
    **changes: Any,
) -> Tested:
    """Put a newer test in place of one; the old one stays readable.

    Raises:
        SaysNothing: no reason is given. NotCurrent, NotYours and others as `note_test`.
    """
    with transaction.atomic():
        old = noted.hold(test, by)
        row = noted.renewed(old, by=by, now=now, **changes)
        tested = _checked(row, today)
        noted.put_in_place("correct", old, row, by=by, now=now, reason=reason)
        work.open_next(old.orchard, now=now, today=today)
        return tested


def withdraw(
    test: RipenessTest, *, by: User, now: datetime, today: date, reason: str
) -> None:
    """Withdraw a test; picking that only it asked for falls away.

    Raises:
        SaysNothing, NotCurrent, NotYours: as for `noted.withdraw`.
    """
    with transaction.atomic():
        noted.withdraw(test, by=by, now=now, reason=reason)
        work.open_next(test.orchard, now=now, today=today)


def _checked(row: RipenessTest, today: date) -> Tested:
    noted.check_day(row.tree, row.tested_on, field="tested_on", today=today)
    age = age_of(row.tree, row.tested_on)
    if age is not None and age < BEARS_FROM_YEARS:
        raise NoFruit(
            _("%(code)s was under %(years)d years old then, and bore none yet. Test "
              "fruit of an older tree, or mend its age first.")
            % {"code": row.tree.code, "years": BEARS_FROM_YEARS},
            field="tree",
        )  # fmt: skip
    if not 1 <= row.fruits <= 200:
        raise CannotBe(_("Say how many fruit: 1 to 200."), field="fruits")
    for name, (least, most) in LIMITS.items():
        value = getattr(row, name)
        if value is not None and not least <= value <= most:
            raise CannotBe(
                _("%(value)s cannot be right: this lies between %(least)s and "
                  "%(most)s. Look at the unit and the decimal sign.")
                % {
                    "value": number_format(value),
                    "least": number_format(least),
                    "most": number_format(most),
                },
                field=name,
            )  # fmt: skip
    _check_whole(
        row,
        TITRATION,
        _("A titration takes three figures: hydroxide used, its strength, and juice."),
    )
    _check_whole(row, WEIGHED, _("Give both masses: that of the juice and the fruit."))
    if row.juice_g and row.fruit_g and row.juice_g >= row.fruit_g:
        raise CannotBe(
            _("The juice weighs more than the fruit it came from. Look at the scale."),
            field="juice_g",
        )
    said = (row.brix_read, row.acid_percent, row.titrant_ml, row.juice_percent)
    if all(one is None for one in (*said, row.juice_g, row.taste)):
        raise CannotBe(
            _("Nothing is measured yet. Give sugar, acid, juice or the taste."),
            field="brix_read",
        )
    if row.brix_read is None and row.juice_c is not None:
        raise CannotBe(
            _("The temperature belongs to the sugar reading. Give both, or neither."),
            field="brix_read",
        )
    try:
        return ripe_tests.read(row)
    except ValueError:
        # All readings are possible one by one; only a titration can lead beyond.
        raise CannotBe(
            _("That titration would be more acid than any juice has. Look at the "
              "figures."),
            field="titrant_ml",
        ) from None  # fmt: skip


def _check_whole(row: RipenessTest, names: tuple[str, ...], sentence: str) -> None:
    missing = [name for name in names if getattr(row, name) is None]
    if missing and len(missing) < len(names):
        raise CannotBe(sentence, field=missing[0])


def _close_tests(tested: Tested, *, by: User, now: datetime, today: date) -> None:
    """Close the block's test of ripeness once all that is asked of it is tested."""
    row = tested.test
    block = row.tree.spot.block
    task = (
        Task.objects.of(row.orchard)
        .open()
        .filter(what=MATURITY, tree=None, block=block, opens_on__lte=row.tested_on)
        .first()
    )
    if task is None or _untested(task, today):
        return
    work.close(
        task,
        by=by,
        now=now,
        today=today,
        done_on=row.tested_on,
        evidence=ngettext(
            "%(count)d fruit of %(tree)s tested",
            "%(count)d fruit of %(tree)s tested",
            row.fruits,
        )
        % {"count": row.fruits, "tree": row.tree.code},
    )


def _untested(task: Task, today: date) -> set[str]:
    """Name the kinds of a block that come ripe now and were not tested for a task."""
    known = care.know(task.orchard, today=today)
    trees = [tree for tree in known.trees if tree.spot.block_id == task.block_id]
    asked = {
        name
        for name, first, last in growing.ripe_seasons(trees, known)
        if growing.comes_ripe(first, last, today)
    }
    done = {
        tests[0].test.tree.kind.guide_key
        for (block, _kind), tests in known.ripe_tests.items()
        if block == task.block_id and tests[0].test.tested_on >= task.opens_on
    }
    return asked - done
