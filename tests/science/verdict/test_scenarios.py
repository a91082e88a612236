"""What people of the trade expect of the verdict and the windows, told as cases.

Each case states what is given and what must follow. The days and shares are working
values of the guide (common practice, no source, unless its row names one).
"""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from orchard.science import guide, verdict, windows
from orchard.science.windows import Done, History
from orchard.science.words import StepKind

NORTH, SOUTH = 33.4, -34.9
NEW_YEAR = {"kind": "calendar", "spans": "SM9-15..SM12-15"}


def windows_of(row, history, start, end=None, latitude=NORTH):
    trigger = windows.read_trigger(row)
    return windows.occurrences(trigger, history, start, end or start, latitude)


def on(day, latitude, **facts):
    """Add what the date says to the facts of a look."""
    return {
        "season": windows.season(day, latitude).value,
        "sm": windows.season_month(day, latitude),
        **facts,
    }


# A window that crosses the new year


def test_window_crossing_new_year_is_one_occurrence():
    """A window that crosses New Year is one occurrence."""
    [found] = windows_of(NEW_YEAR, History(), date(2026, 1, 3))
    assert found.opens == date(2025, 11, 15)
    assert found.due == date(2026, 2, 15)
    assert found.occurrence == "2025"
    both_sides = windows_of(NEW_YEAR, History(), date(2025, 12, 1), date(2026, 2, 1))
    assert both_sides == [found]


def test_window_crossing_new_year_done_on_28_december_does_not_come_back():
    """What crosses New Year and was done on 28 December does not come back."""
    history = History(done=(Done(date(2025, 12, 28)),))
    assert windows_of(NEW_YEAR, history, date(2026, 1, 1)) == []
    [later] = windows_of(NEW_YEAR, history, date(2026, 12, 1))
    assert later.occurrence == "2026"


# The south


def test_south_has_its_gall_job_from_15_february_to_15_august():
    """In the south the gall job stands from 15 February to 15 August.

    Gall wasps leave from the first spring month on: DPIRD notices, 2018-2019.
    """
    trigger = guide.load().jobs["gall_prune"].trigger
    for day in (date(2026, 2, 15), date(2026, 5, 1), date(2026, 8, 15)):
        [found] = windows.occurrences(trigger, History(), day, day, SOUTH)
        assert (found.opens, found.due) == (date(2026, 2, 15), date(2026, 8, 15))
    for day in (date(2026, 2, 14), date(2026, 8, 16)):
        assert windows.occurrences(trigger, History(), day, day, SOUTH) == []


# The same site, moved


def test_same_site_moved_has_its_windows_half_a_year_off_from_then_on():
    """The dates of what was done stay; only windows from the move on are others."""
    row = {"kind": "calendar", "spans": "SM6-15..SM12-15"}
    done = History(done=(Done(date(2025, 9, 1)),))
    moved_on = date(2026, 3, 1)
    assert windows_of(row, done, moved_on) == []
    [south] = windows_of(row, done, moved_on, latitude=SOUTH)
    assert (south.opens, south.due) == (date(2026, 2, 15), date(2026, 8, 15))
    [north] = windows_of(row, done, date(2026, 9, 1))
    assert (north.opens, north.due) == (date(2026, 8, 15), date(2027, 2, 15))
    assert windows_of(row, done, date(2026, 9, 1), latitude=SOUTH) == []


# The leap day


def test_leap_day_and_365_days_is_28_february():
    """365 days after 29 February it is 28 February."""
    history = History(done=(Done(date(2028, 2, 29)),))
    row = {"kind": "interval", "days": 365}
    found = windows_of(row, history, date(2028, 3, 1), date(2029, 3, 1))
    assert found[0].due == date(2029, 2, 28)


def test_leap_day_job_of_every_year_falls_on_the_28th_in_a_common_year():
    """A job of 29 February falls on the 28th where the year has no leap day."""
    row = {"kind": "calendar", "spans": "SM12-29..SM12-29"}
    found = windows_of(row, History(), date(2028, 3, 1), date(2032, 3, 1))
    assert [window.due for window in found] == [
        date(2029, 2, 28),
        date(2030, 2, 28),
        date(2031, 2, 28),
        date(2032, 2, 29),
    ]


# Leaf halves that do not match


LOPSIDED = {"symmetric": False, "side": True, "local_status": "absent"}


@pytest.mark.parametrize("sign", ["hlb_mottle", "winter_yellow", "zinc_manganese"])
def test_leaf_halves_do_not_match_on_one_limb_is_reported_by_tomorrow(sign):
    """Leaf halves that do not match on one limb are reported by tomorrow.

    UF/IFAS EDIS PP328: greening mottle is not mirrored across the midrib.
    """
    facts = LOPSIDED if sign == "hlb_mottle" else {"symmetric": False, "side": True}
    judged = verdict.decide(sign, on(date(2026, 5, 4), NORTH, **facts))
    assert judged.verdict == "report"
    assert judged.due_days == 1
    assert judged.holds == ("nothing_leaves_tree",)


@pytest.mark.parametrize("sign", ["hlb_mottle", "zinc_manganese"])
def test_fact_not_answered_is_watched_with_the_question_and_never_left(sign):
    facts = {"side": True}
    if sign == "hlb_mottle":
        facts["local_status"] = "absent"
    judged = verdict.decide(sign, on(date(2026, 5, 4), NORTH, **facts))
    assert judged.verdict == "watch"
    assert judged.asks == "symmetric"
    assert "match" in guide.load().facts["symmetric"].ask
    assert any("?" in sentence for sentence in judged.because)


# Winter yellow


def test_winter_yellow_even_on_old_leaves_is_left_for_60_days():
    """Yellow leaves in winter, old ones too, are left for 60 days.

    University of Arizona AZ1007: cold soil yellows leaves; they green again.
    """
    answers = {"symmetric": True, "side": False, "soil": "moist", "pct": 40}
    for day, latitude in ((date(2026, 1, 10), NORTH), (date(2026, 7, 10), SOUTH)):
        assert windows.season_month(day, latitude) == 11
        judged = verdict.decide("winter_yellow", on(day, latitude, **answers))
        assert (judged.verdict, judged.recheck_days) == ("leave", 60)
    told = " ".join(guide.load().signs["winter_yellow"].do_not).lower()
    assert "winter" in told
    assert "fertili" in told


# Leafminer


def test_leafminer_on_a_quarter_of_the_leaves_matters_on_a_young_tree_only():
    """Leafminer on a quarter of the leaves matters on a young tree only.

    Young trees under four years: UF/IFAS (Zekri); a grown tree is unharmed.
    """
    young = verdict.decide("leafminer", {"pct": 25, "age_y": 3})
    old = verdict.decide("leafminer", {"pct": 25, "age_y": 12})
    assert (young.verdict, young.due_days, young.recheck_days) == ("act", 7, 14)
    assert old.verdict == "leave"


# Trimmer wound


@pytest.mark.parametrize(
    ("frac", "expected", "due"),
    [
        (0.5, "act", 3),
        (0.24, "watch", None),
        (0.25, "act", 14),
        (0.7499, "act", 3),
        (0.75, "act", 1),
        (0.0001, "watch", None),
        (0.0, "leave", None),
    ],
)
def test_trimmer_wound_is_judged_by_how_far_round_it_goes(frac, expected, due):
    judged = verdict.decide("trimmer_wound", {"frac": frac})
    assert (judged.verdict, judged.due_days) == (expected, due)


# What a hole, a lean or a split is told by


@pytest.mark.parametrize("hole_cm", [None, 0, 0.29, 0.3, 0.59, 0.6, 2])
def test_a_wire_goes_only_into_a_hole_that_was_measured_and_is_a_small_borers(hole_cm):
    """Longhorn holes: 6 to 20 mm, EPPO PM 9/16. Bark beetles 2.5 mm long: UC IPM."""
    facts = {"host": "stone", "frass": True, "yes": True, "hole_cm": hole_cm}
    judged = verdict.decide("gum_stone", facts)
    wired = any("wire" in step.do for step in judged.steps)
    assert wired is (hole_cm in (0.3, 0.59))


def test_droppings_in_gum_ask_for_the_width_of_the_hole():
    judged = verdict.decide("gum_stone", {"host": "stone", "frass": True})
    assert judged.asks == "hole_cm"
    assert "would be Report" in " ".join(judged.because)
    row = guide.load().signs["gum_stone"]
    assert "ruler" in verdict.question_about(guide.load(), row, "hole_cm")


@pytest.mark.parametrize("sign", ["gum_stone", "sawdust_hole", "longhorn_hole"])
def test_where_the_beetle_is_common_an_unmeasured_hole_promises_no_report(sign):
    judged = verdict.decide(sign, {"host": "stone", "local_status": "common"})
    said = " ".join(judged.because)
    assert "would be Act" in said
    assert "Report" not in said


def test_a_lean_is_called_firm_only_when_its_base_was_tested():
    for answer, firm in ((False, True), (None, False)):
        judged = verdict.decide("leaning", {"yes": answer, "over_path": False})
        assert ("stands firm" in " ".join(judged.because)) is firm


@pytest.mark.parametrize("frac", [0.2, 0.5])
def test_bark_split_by_frost_is_scratched_by_a_crew_lead_after_six_weeks(frac):
    judged = verdict.decide("frost_bark", {"frac": frac})
    [scratch] = [step for step in judged.steps if "scratch" in step.do]
    assert scratch.kind is StepKind.PEOPLE
    assert scratch.do.startswith("6 to 12 weeks after the freeze, a crew lead")
    do_not = " ".join(guide.load().signs["frost_bark"].do_not)
    assert "Volunteers only look" in do_not


# Covers


def test_cover_off_is_due_by_10_00_on_the_morning_after():
    """Covers are due to come off by 10:00 on the morning after."""
    trigger = guide.load().jobs["frost_cover_off"].trigger
    covered = History(events=(("frost_cover_on", date(2026, 1, 14)),))
    next_day = date(2026, 1, 15)
    [found] = windows.occurrences(trigger, covered, next_day, next_day, NORTH)
    assert (found.due, found.by_clock) == (next_day, "10:00")
    assert windows.lateness(found, next_day + timedelta(days=1)) > 0


# Newly planted


def test_newly_planted_30_days_ago_with_pale_leaves_is_not_fed():
    """A tree planted 30 days ago with pale leaves is not fed.

    New South Wales DPI (2004): no feed until young trees have settled.
    """
    facts = {"planted_d": 30, "pct": 80, "soil": "moist", "age_y": 2}
    judged = verdict.decide("pale_growing", on(date(2026, 5, 4), NORTH, **facts))
    assert judged.verdict == "watch"
    assert judged.recheck_days
    feeding = [step for step in judged.steps if step.kind is StepKind.FEED]
    assert feeding
    assert all(step.waits for step in feeding)


# Suckers


def test_sucker_at_the_graft_is_watched_until_its_leaf_is_seen():
    """A sucker at the graft is watched until its leaf is seen."""
    unclear = {"graft": "at", "on_own_roots": False}
    judged = verdict.decide("sucker", unclear)
    assert (judged.verdict, judged.asks) == ("watch", "leaf3")
    assert "Photograph" in guide.load().facts["leaf3"].ask
    seen = verdict.decide("sucker", {**unclear, "leaf3": True})
    assert (seen.verdict, seen.due_days) == ("act", 7)
    one_part = verdict.decide("sucker", {**unclear, "leaf3": False})
    assert one_part.verdict == "watch"


def test_own_root_meyer_shoot_from_the_base_is_no_sucker():
    """A shoot from the base of a Meyer lemon on its own roots is no sucker."""
    facts = {"on_own_roots": True, "cultivar": "Meyer lemon", "graft": "below"}
    judged = verdict.decide("sucker", facts)
    assert judged.verdict == "watch"
    assert judged.asks == "leaf3"
    seen = verdict.decide("sucker", {**facts, "leaf3": False})
    assert seen.verdict == "leave"


# Rhythm


def test_a_round_done_late_counts_on_from_the_day_it_was_done():
    """A monthly round done ten days late is due a month after that, not sooner."""
    row = {"kind": "interval", "days": 30}
    done = date(2026, 6, 10)
    [found] = windows_of(row, History(done=(Done(done),)), done + timedelta(days=25))
    assert found.due == date(2026, 7, 10)
