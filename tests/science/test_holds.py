from __future__ import annotations

import math
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from orchard.science import holds
from orchard.science.words import EntryRule, RecordProfile

NEW_YORK = ZoneInfo("America/New_York")
SYDNEY = ZoneInfo("Australia/Sydney")


def local(*parts: int, fold: int = 0, zone: ZoneInfo = NEW_YORK) -> datetime:
    return datetime(*parts, fold=fold, tzinfo=zone)


def applied(
    ended_at: datetime | None,
    entry_hours: float | None,
    harvest_days: int | None,
    name: str = "oil",
) -> holds.Applied:
    return holds.Applied(name, ended_at, entry_hours, harvest_days, NEW_YORK)


@pytest.mark.parametrize(
    ("ended", "hours", "free"),
    [
        (local(2024, 5, 6, 9, 30), 12, local(2024, 5, 6, 21, 30)),
        (local(2024, 5, 6, 9, 30), 4, local(2024, 5, 6, 13, 30)),
        # The clock jumps forward in the night to 10 March.
        (local(2024, 3, 9, 15), 24, local(2024, 3, 10, 16)),
        (local(2024, 3, 9, 22), 12, local(2024, 3, 10, 11)),
        (local(2024, 3, 9, 20), 12, local(2024, 3, 10, 9)),
        # And back in the night to 3 November.
        (local(2024, 11, 2, 20), 12, local(2024, 11, 3, 7)),
        # The hour shown twice: one hour after its first reading is its second.
        (local(2024, 11, 3, 1, 30), 1, local(2024, 11, 3, 1, 30, fold=1)),
        # Half an hour of change and the other hemisphere.
        (
            local(2024, 4, 6, 20, zone=SYDNEY),
            12,
            local(2024, 4, 7, 7, zone=SYDNEY),
        ),
    ],
)
def test_entry_counts_elapsed_hours(
    ended: datetime, hours: float, free: datetime
) -> None:
    # US 40 CFR 170.305: from the end of the application. Clock changes by zoneinfo.
    found = holds.entry_ends(ended, hours)
    assert found.astimezone(UTC) == free.astimezone(UTC)
    assert found.tzinfo is ended.tzinfo


@pytest.mark.parametrize(
    ("ended", "days", "opens"),
    [
        (date(2024, 5, 6), 7, date(2024, 5, 13)),
        (date(2024, 2, 26), 3, date(2024, 2, 29)),
        (date(2023, 12, 30), 14, date(2024, 1, 13)),
        (date(2024, 3, 9), 1, date(2024, 3, 10)),
        (date(2024, 5, 6), 0, date(2024, 5, 6)),
    ],
)
def test_harvest_opens_at_the_same_time_on_the_clock(
    ended: date, days: int, opens: date
) -> None:
    # Own convention: calendar days at the clock time the application ended.
    at = local(ended.year, ended.month, ended.day, 15, 20)
    found = holds.harvest_opens(at, days, NEW_YORK)
    assert (found.date(), found.hour, found.minute) == (opens, 15, 20)


def test_the_phone_s_time_zone_does_not_matter() -> None:
    """The phone's time zone does not matter."""
    ended = local(2024, 6, 1, 23, 30)
    seen_elsewhere = ended.astimezone(SYDNEY)
    found = holds.harvest_opens(seen_elsewhere, 7, NEW_YORK)
    assert found == local(2024, 6, 8, 23, 30)
    assert found.tzinfo is NEW_YORK


def test_a_time_the_clock_skips_or_shows_twice_takes_the_later() -> None:
    skipped = holds.harvest_opens(local(2024, 3, 9, 2, 30), 1, NEW_YORK)
    assert skipped.astimezone(UTC) == datetime(2024, 3, 10, 7, 30, tzinfo=UTC)
    assert (skipped.hour, skipped.minute) == (3, 30)
    twice = holds.harvest_opens(local(2024, 11, 2, 1, 30), 1, NEW_YORK)
    assert twice.astimezone(UTC) == datetime(2024, 11, 3, 6, 30, tzinfo=UTC)
    assert twice.fold == 1


def test_two_products_hold_for_the_longest_and_both_are_named() -> None:
    # US 40 CFR 170.112(a)(3): the longest interval. 3 and 14 days; 4 and 24 hours.
    ended = local(2024, 5, 6, 9, 30)
    found = holds.current(
        [applied(ended, 4, 14, "soap"), applied(ended, 24, 3, "copper")],
        local(2024, 5, 6, 10),
    )
    assert found.entry.active
    assert found.entry.until == local(2024, 5, 7, 9, 30)
    assert [ending.name for ending in found.entry.endings] == ["copper", "soap"]
    assert found.harvest.until == local(2024, 5, 20, 9, 30)
    assert [ending.name for ending in found.harvest.endings] == ["soap", "copper"]


def test_products_on_different_days_hold_to_the_latest_end() -> None:
    found = holds.current(
        [
            applied(local(2024, 5, 1, 9), 48, 0, "early, long"),
            applied(local(2024, 5, 2, 18), 4, 0, "late, short"),
        ],
        local(2024, 5, 2, 20),
    )
    assert found.entry.until == local(2024, 5, 3, 9)


def test_picking_needs_both_clocks() -> None:
    # A 12 h entry interval with 0 days to harvest is common.
    ended = local(2024, 5, 6, 9, 30)
    found = holds.current([applied(ended, 12, 0)], local(2024, 5, 6, 20))
    assert found.harvest.active
    assert found.harvest.until == local(2024, 5, 6, 21, 30)


def test_a_hold_is_over_at_the_very_moment_it_ends() -> None:
    ended = local(2024, 5, 6, 9, 30)
    before = holds.current([applied(ended, 12, 0)], local(2024, 5, 6, 21, 29, 59))
    at = holds.current([applied(ended, 12, 0)], local(2024, 5, 6, 21, 30))
    assert before.entry.active
    assert not at.entry.active
    assert at.entry.until is None
    assert at.entry.endings == ()


def test_a_missing_label_figure_is_unknown_and_locked_however_long_ago() -> None:
    long_ago = local(2020, 5, 6, 9, 30)
    found = holds.current([applied(long_ago, 12, None)], local(2024, 5, 6, 10))
    assert not found.entry.active
    assert found.harvest.active
    assert found.harvest.unknown
    assert found.harvest.until is None
    no_entry = holds.current([applied(long_ago, None, 7)], local(2024, 5, 6, 10))
    assert no_entry.entry.active
    assert no_entry.entry.unknown
    assert no_entry.harvest.unknown


def test_work_that_has_not_ended_is_locked() -> None:
    found = holds.current([applied(None, 4, 7)], local(2024, 5, 6, 10))
    assert found.entry.active
    assert found.entry.unknown
    assert found.harvest.unknown


def test_an_end_in_the_future_holds_already() -> None:
    found = holds.current([applied(local(2024, 5, 6, 12), 0, 0)], local(2024, 5, 6, 10))
    assert found.entry.active


def test_no_treatment_holds_nothing() -> None:
    found = holds.current([], local(2024, 5, 6, 10))
    assert not found.entry.active
    assert not found.harvest.active
    assert not found.harvest.unknown


@given(
    st.lists(
        st.tuples(st.integers(0, 3000), st.floats(0, 200), st.integers(0, 60)),
        min_size=1,
        max_size=6,
    ),
    st.integers(0, 5000),
)
def test_the_worst_holds_whatever_the_order(
    ends: list[tuple[int, float, int]], now: int
) -> None:
    start = datetime(2024, 1, 1, tzinfo=UTC)
    rows = [
        applied(start + timedelta(hours=at), hours, days) for at, hours, days in ends
    ]
    moment = start + timedelta(hours=now)
    found = holds.current(rows, moment)
    assert holds.current(rows[::-1], moment).harvest.until == found.harvest.until
    latest = max(start + timedelta(hours=at + hours) for at, hours, _ in ends)
    assert found.entry.active == (latest > moment)
    if found.entry.active:
        assert found.harvest.active
        assert found.harvest.until >= found.entry.until


def test_the_record_is_due_in_14_days_and_kept_two_years() -> None:
    # US 7 CFR 110.3 (read).
    assert holds.record_due_on(date(2024, 5, 6)) == date(2024, 5, 20)
    assert holds.record_kept_until(date(2024, 5, 6)) == date(2026, 5, 6)
    assert holds.record_kept_until(date(2024, 2, 29)) == date(2026, 3, 1)


@pytest.mark.parametrize(
    ("call", "told"),
    [
        (lambda: holds.entry_ends(datetime(2024, 5, 6), 4), "time zone"),  # noqa: DTZ001
        (lambda: holds.entry_ends(local(2024, 5, 6), None), "hours is None"),
        (lambda: holds.entry_ends(local(2024, 5, 6), -1), "hours"),
        (lambda: holds.entry_ends(local(2024, 5, 6), math.nan), "hours"),
        (lambda: holds.entry_ends(local(2024, 5, 6), 2160.1), "hours"),
        (lambda: holds.harvest_opens(local(2024, 5, 6), 731, NEW_YORK), "days"),
        (lambda: holds.harvest_opens(local(2024, 5, 6), 1.5, NEW_YORK), "whole"),
        (lambda: holds.harvest_opens(local(2024, 5, 6), None, NEW_YORK), "days"),
        (lambda: holds.harvest_opens(local(2024, 5, 6), -1, NEW_YORK), "days"),
        (lambda: holds.current([], datetime(2024, 5, 6)), "now"),  # noqa: DTZ001
    ],
)
def test_moments_and_intervals_without_meaning_are_refused(call, told: str) -> None:
    with pytest.raises(ValueError, match=told):
        call()


ROME, ADELAIDE = ZoneInfo("Europe/Rome"), ZoneInfo("Australia/Adelaide")


def rome(*parts: int) -> datetime:
    return local(*parts, zone=ROME)


def adelaide(*parts: int, fold: int = 0) -> datetime:
    return local(*parts, zone=ADELAIDE, fold=fold)


def hours(number: float, **days: int) -> holds.Label:
    return holds.Label(EntryRule.HOURS, number, **days)


# Worked examples of the rule "elapsed hours, days by the clock, both clocks": computed
# with zoneinfo, own arithmetic; the rules are US 40 CFR 170.305 for entry, for days a
# convention of this book.
@pytest.mark.parametrize(
    ("ended", "opens"),
    [
        (rome(2026, 5, 6, 9, 30), rome(2026, 5, 6, 21, 30)),
        (rome(2026, 3, 28, 20), rome(2026, 3, 29, 9)),
        (rome(2026, 10, 24, 20), rome(2026, 10, 25, 7)),
        (adelaide(2026, 10, 3, 20), adelaide(2026, 10, 4, 9)),
        (adelaide(2027, 4, 3, 20), adelaide(2027, 4, 4, 7)),
    ],
)
def test_twelve_hours_of_no_entry_cross_a_change_of_the_clock(
    ended: datetime, opens: datetime
) -> None:
    zone = ended.tzinfo
    found = holds.openings(hours(12, fruit_days=0), ended, zone).entry
    assert found == opens.astimezone(UTC)


def test_two_products_in_one_tank_hold_for_the_longest_of_each() -> None:
    ended = rome(2026, 10, 24, 15)
    first = holds.openings(hours(4, fruit_days=3), ended, ROME)
    second = holds.openings(hours(24, fruit_days=14), ended, ROME)
    both = first.later(second)
    assert both == second.later(first)
    assert both.entry == rome(2026, 10, 25, 14).astimezone(UTC)
    assert both.fruit == rome(2026, 11, 7, 15).astimezone(UTC)


@pytest.mark.parametrize(
    ("ended", "days", "opens"),
    [
        (rome(2026, 3, 25, 16), 7, rome(2026, 4, 1, 16)),
        (adelaide(2026, 10, 1, 2, 30), 3, adelaide(2026, 10, 4, 3, 30)),
        (rome(2026, 3, 26, 2, 30), 3, rome(2026, 3, 29, 3, 30)),
        (adelaide(2026, 3, 29, 2, 30), 7, adelaide(2026, 4, 5, 2, 30, fold=1)),
    ],
)
def test_days_to_harvest_end_at_the_same_time_on_the_clock(
    ended: datetime, days: int, opens: datetime
) -> None:
    label = hours(0, fruit_days=days)
    found = holds.openings(label, ended, ended.tzinfo)
    assert found.fruit == opens.astimezone(UTC)


@pytest.mark.parametrize(
    ("dry_at", "opens"),
    [
        (adelaide(2027, 1, 12, 10, 40), adelaide(2027, 1, 12, 11, 15)),
        (adelaide(2027, 1, 12, 13, 5), adelaide(2027, 1, 12, 13, 5)),
        (None, None),
    ],
)
def test_until_dry_opens_four_hours_after_the_end_at_the_earliest(
    dry_at: datetime | None, opens: datetime | None
) -> None:
    label = holds.Label(EntryRule.UNTIL_DRY, None, 0)
    found = holds.openings(label, adelaide(2027, 1, 12, 7, 15), ADELAIDE, dry_at)
    assert found.entry == (opens.astimezone(UTC) if opens else None)
    assert found.fruit == found.entry
    assert found.last is None  # nothing is said of leaves and flowers


def test_no_days_to_harvest_still_wait_for_entry_and_none_named_stay_locked() -> None:
    ended = rome(2026, 6, 2, 18)
    found = holds.openings(hours(12, fruit_days=0), ended, ROME)
    assert found.fruit == rome(2026, 6, 3, 6).astimezone(UTC)
    assert found.leaf is None
    assert holds.openings(hours(12), ended, ROME).fruit is None


def test_uses_on_other_days_keep_their_own_clocks_and_the_latest_end_rules() -> None:
    first = holds.openings(hours(4, fruit_days=14), rome(2026, 9, 1, 8), ROME)
    second = holds.openings(hours(4, fruit_days=3), rome(2026, 9, 10, 18), ROME)
    assert first.later(second).fruit == rome(2026, 9, 15, 8).astimezone(UTC)
    corrected = holds.openings(hours(4, fruit_days=7), rome(2026, 9, 10, 18), ROME)
    assert first.later(corrected).fruit == rome(2026, 9, 17, 18).astimezone(UTC)
    # The same product again, 14 days between uses: by the clock as well.
    assert holds.harvest_opens(rome(2026, 9, 1, 8), 14, ROME) == rome(2026, 9, 15, 8)


def test_a_label_without_a_figure_never_opens() -> None:
    found = holds.openings(holds.Label(EntryRule.UNKNOWN), rome(2020, 1, 1), ROME)
    assert found == holds.Openings(None, None, None, None)
    known = holds.openings(holds.NO_HOLD, rome(2026, 1, 1), ROME)
    assert known.last == rome(2026, 1, 1).astimezone(UTC)
    assert known.later(found) == found.later(known) == found


def test_it_cannot_be_dry_before_the_end() -> None:
    with pytest.raises(ValueError, match="before applied_end"):
        holds.dry_opens(rome(2026, 6, 2, 18), rome(2026, 6, 2, 17, 59))


@pytest.mark.parametrize(
    ("near_soil", "opens"), [(True, date(2026, 9, 29)), (False, date(2026, 8, 30))]
)
def test_raw_manure_keeps_fruit_on_the_tree(near_soil: bool, opens: date) -> None:
    # US National Organic Program, 7 CFR 205.203(c): 120 and 90 days.
    days = holds.manure_days(near_soil=near_soil)
    assert (date(2026, 6, 1) + timedelta(days=days)) == opens


@pytest.mark.parametrize(
    ("profile", "used_on", "due_on", "kept_until"),
    [
        ("us", date(2024, 5, 6), date(2024, 5, 20), date(2026, 5, 6)),
        ("us", date(2024, 2, 29), date(2024, 3, 14), date(2026, 3, 1)),
        ("eu", date(2026, 5, 6), date(2026, 5, 6), date(2029, 12, 31)),
        ("au", date(2026, 5, 6), date(2026, 5, 7), date(2029, 5, 6)),
        ("other", date(2026, 5, 6), date(2026, 5, 7), date(2029, 12, 31)),
    ],
)
def test_records_are_due_and_kept_by_the_orchard_s_profile(
    profile: str, used_on: date, due_on: date, kept_until: date
) -> None:
    """Records are due, and kept, by the orchard's profile."""
    # US 7 CFR 110.3 (read); EU 1107/2009 article 67 as German practice counts (read at
    # second hand); New South Wales: 24 hours from memory, 3 years read.
    assert holds.record_due_on(used_on, RecordProfile(profile)) == due_on
    assert holds.record_kept_until(used_on, RecordProfile(profile)) == kept_until
