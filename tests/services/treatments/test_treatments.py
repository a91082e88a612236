"""Uses on record: what is refused, what is kept as a breach, and what is held.

Acceptance lines of the trade's rules by name; the law behind each is named beside it.
"""

from __future__ import annotations

from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from orchard.records.models import Change, Tag, Task, TreatedTree, Treatment
from orchard.science.words import HoldKind
from orchard.services import (
    care_plan,
    holds,
    inspections,
    timeline,
    treatments,
    visitors,
)
from orchard.services.errors import MayNot
from orchard.services.inspections import SeenSign
from tests.conftest import NOW, TODAY, make_tree
from tests.refusals import refused
from tests.services.treatments.helpers import ROME, add, allow, use

pytestmark = pytest.mark.django_db
WHEN = {"now": NOW, "today": TODAY}
AGO = NOW - timedelta(hours=1)
SOON = NOW + timedelta(hours=2)


@pytest.fixture
def garden(orchard):
    return allow(orchard)


@pytest.fixture
def soap(garden, lee):
    return add(garden, lee, NOW)


def record(orchard, *args, by, now=NOW, **options):
    brought = use(*args, **options)
    return treatments.record(orchard, brought, by=by, now=now, today=now.date())


def plan(orchard, *args, by, now=NOW, **options):
    brought = use(*args, **{"at": SOON, **options})
    return treatments.plan(orchard, brought, by=by, now=now, today=now.date())


def held(tree, at, kind=HoldKind.ENTRY):
    found = holds.holds_of(tree.orchard, [tree.pk], today=at.date(), now=at)
    return [hold for hold in found.get(tree.pk, ()) if hold.kind is kind]


def codes(recorded):
    return [breach.code for breach in recorded.breaches]


def test_nobody_enters_or_picks_before_the_labels_end(garden, soap, tree, lee):
    record(garden, soap, tree, at=AGO, by=lee)
    ends = AGO + timedelta(hours=4)
    second = timedelta(seconds=1)
    assert held(tree, ends - second)
    assert held(tree, ends - second, HoldKind.HARVEST)
    assert not held(tree, ends)
    assert not held(tree, ends, HoldKind.HARVEST)
    # Asked for a whole day, what ends in its course is told all day.
    found = holds.holds_of(garden, [tree.pk], today=TODAY)[tree.pk]
    assert {hold.kind for hold in found} == {HoldKind.ENTRY, HoldKind.HARVEST}
    assert "Tue 12 May, 13:00" in found[0].reason


def test_eu_label_that_limits_the_hours_wants_the_start(garden, tree, lee):
    # Regulation (EU) 2023/564: the start where the approval limits the hours.
    garden.record_profile = "eu"
    garden.save()
    product = add(garden, lee, NOW, needs_hours=True)
    brought = use(product, tree, at=AGO)
    brought = type(brought)(
        brought.kind, brought.ended_at, None, brought.trees, amounts=brought.amounts,
        fields=brought.fields,
    )  # fmt: skip
    with refused("start_missing", match="start time"):
        treatments.record(garden, brought, by=lee, **WHEN)
    assert not Treatment.objects.exists()


def test_au_air_blast_without_wind_is_kept_and_due_within_a_day(
    garden, soap, tree, lee
):
    # Victoria and New South Wales ask for the wind of an outdoor spray.
    garden.record_profile = "au"
    garden.save()
    found = record(
        garden, soap, tree, at=AGO, by=lee, method="air_blast", wind_kmh=None,
        wind_from="",
    )  # fmt: skip
    assert codes(found) == ["missing", "missing"]
    task = Task.objects.get(kind="once")
    assert task.due_on == TODAY + timedelta(days=1)
    assert "Complete the record" in task.title
    assert "wind speed" in task.request.steps


def test_home_garden_product_needs_a_reason(garden, tree, lee):
    product = add(garden, lee, NOW, is_home_garden=True)
    with refused("no_reason"):
        record(garden, product, tree, at=AGO, by=lee, licence="")
    found = record(
        garden, product, tree, at=AGO, by=lee, licence="",
        home_garden_reason="Two pots by the door",
    )  # fmt: skip
    assert not found.breaches
    assert held(tree, NOW)


@pytest.mark.parametrize("setting", ["", "banned"])
def test_public_use_unset_refuses_every_plan(garden, soap, tree, lee, setting):
    garden.public_use = setting
    garden.save()
    with refused("breaks_rules", match="public garden"):
        plan(garden, soap, tree, by=lee)
    # What was done is kept with its breach, and holds all the same.
    assert codes(record(garden, soap, tree, at=AGO, by=lee)) == ["public_use"]
    assert held(tree, NOW)


def test_contacts_come_before_the_first_plan(garden, soap, tree, lee):
    garden.poison_phone = ""
    garden.save()
    with refused("breaks_rules", match="poison line"):
        plan(garden, soap, tree, by=lee)
    assert not codes(record(garden, soap, tree, at=AGO, by=lee))


def test_only_low_risk_where_the_garden_says_so(garden, soap, tree, lee):
    garden.public_use = "low_risk"
    garden.save()
    with refused("breaks_rules", match="low risk"):
        plan(garden, soap, tree, by=lee)
    mild = add(garden, lee, NOW, name="Mild soap", is_low_risk=True)
    assert plan(garden, mild, tree, by=lee).is_plan


def test_a_plan_holds_nothing_until_it_is_carried_out(garden, soap, tree, lee):
    row = plan(garden, soap, tree, by=lee)
    assert not held(tree, SOON + timedelta(minutes=5))
    later = SOON + timedelta(hours=1)
    treatments.record(
        garden, use(soap, tree, at=SOON), by=lee, now=later, today=TODAY, plan=row
    )
    assert held(tree, later)
    with refused("not_current"):
        treatments.record(
            garden, use(soap, tree, at=SOON), by=lee, now=later, today=TODAY, plan=row
        )
    assert not treatments.plans_of(_member(garden, lee))


def _member(orchard, user):
    return user.memberships.get(orchard=orchard)


def test_volunteers_record_but_do_not_plan(garden, soap, tree, vera):
    with pytest.raises(MayNot):
        plan(garden, soap, tree, by=vera)
    assert record(garden, soap, tree, at=AGO, by=vera).treatment.by == vera


def until_dry(garden, lee):
    return add(
        garden, lee, NOW, name="Dry soap", entry_rule="until_dry", entry_hours=None
    )


def test_until_dry_is_opened_by_somebody_who_may_say_so(garden, tree, lee, vera):
    ended = datetime(2026, 5, 12, 7, 15, tzinfo=ZoneInfo("Europe/Lisbon"))
    found = record(garden, until_dry(garden, lee), tree, at=ended, by=lee, now=NOW)
    noon = ended + timedelta(hours=5)
    assert held(tree, noon + timedelta(days=400))
    with pytest.raises(MayNot, match="licensed"):
        treatments.confirm_dry(
            found.treatment, dry_at=noon, qualified="L-1", by=vera, now=noon
        )
    assert held(tree, noon)
    with refused("not_qualified"):
        treatments.confirm_dry(
            found.treatment, dry_at=noon, qualified=" ", by=lee, now=noon
        )
    for wrong in (noon + timedelta(minutes=1), ended - timedelta(minutes=1)):
        with refused("wrong_time"):
            treatments.confirm_dry(
                found.treatment, dry_at=wrong, qualified="L-7", by=lee, now=noon
            )
    early = ended + timedelta(hours=3)
    treatments.confirm_dry(
        found.treatment, dry_at=early, qualified="L-7", by=lee, now=noon
    )
    opens = ended + timedelta(hours=4)
    assert held(tree, opens - timedelta(seconds=1))
    assert not held(tree, opens)


def test_rain_entered_later_takes_a_check_away(garden, tree, lee):
    ended = datetime(2026, 5, 12, 6, 0, tzinfo=ZoneInfo("Europe/Lisbon"))
    found = record(garden, until_dry(garden, lee), tree, at=ended, by=lee)
    checked = ended + timedelta(hours=4, minutes=40)
    later = ended + timedelta(hours=8)
    check = treatments.confirm_dry(
        found.treatment, dry_at=checked, qualified="L-7", by=lee, now=later
    )
    assert not held(tree, later)
    spell = treatments.note_wet_spell(
        garden, cause="rain", began_at=checked - timedelta(minutes=10),
        ended_at=checked + timedelta(minutes=20), by=lee, now=later,
    )  # fmt: skip
    assert held(tree, later)
    treatments.withdraw_wet_spell(spell, by=lee, now=later, reason="Other garden")
    assert not held(tree, later)
    treatments.withdraw_dry_check(check, by=lee, now=later, reason="Wrong tree")
    assert held(tree, later)


def test_no_figure_for_fruit_locks_whatever_another_product_says(
    garden, soap, tree, lee
):
    blank = add(garden, lee, NOW, name="Old soap", fruit_days=None)
    three = add(garden, lee, NOW, name="New soap", fruit_days=3)
    record(garden, blank, tree, at=AGO, by=lee)
    record(garden, three, tree, at=AGO, by=lee)
    [hold] = held(tree, NOW + timedelta(days=300), HoldKind.HARVEST)
    assert hold.until_at is None
    assert "not known" in hold.reason


def test_third_use_of_two_is_refused_as_plan_and_kept_as_breach(garden, tree, lee):
    product = add(garden, lee, NOW, most_uses=2, uses_days=365)
    for days in (60, 30):
        record(garden, product, tree, at=AGO - timedelta(days=days), by=lee)
    with refused("breaks_rules", match="allows 2 uses"):
        plan(garden, product, tree, by=lee)
    found = record(garden, product, tree, at=AGO, by=lee)
    assert codes(found) == ["most_uses"]
    assert held(tree, NOW)
    assert found.treatment.breaches[0][0] == "most_uses"
    # The first has fallen out of the label's period by then.
    next_year = SOON + timedelta(days=340)
    treatments.plan(
        garden, use(product, tree, at=next_year), by=lee, now=NOW, today=TODAY
    )


def test_the_same_active_ingredient_counts_across_products(garden, tree, lee):
    one = add(garden, lee, NOW, name="One", most_uses=1)
    other = add(garden, lee, NOW, name="Other", most_uses=1)
    record(garden, one, tree, at=AGO - timedelta(days=3), by=lee)
    with refused("breaks_rules", match="Other: its label allows 1 use"):
        plan(garden, other, tree, by=lee)


def test_days_between_uses(garden, tree, lee):
    product = add(garden, lee, NOW, between_days=14)
    ended = NOW - timedelta(days=13, hours=20)
    record(garden, product, tree, at=ended, by=lee)
    with refused("breaks_rules", match="next use from"):
        plan(garden, product, tree, by=lee)
    # By the clock: at the very time of day, 14 days later.
    opens = ended + timedelta(days=14)
    at = {"now": NOW, "today": TODAY}
    treatments.plan(
        garden, use(product, tree, at=opens + timedelta(minutes=30)), by=lee, **at
    )


def test_what_stands_beneath_and_is_not_on_the_label_stays_locked(
    garden, tree, lee, vera
):
    soap = add(garden, lee, NOW, crops="navel")
    herb = make_tree(garden, "A-2", kind="Meyer lemon")
    herb.kind.group = "lemon"
    herb.kind.save()
    record(garden, soap, tree, at=AGO, by=lee, beneath=(herb,))
    later = NOW + timedelta(days=2)
    assert not held(tree, later, HoldKind.HARVEST)
    assert held(herb, later, HoldKind.HARVEST)
    assert not held(herb, later, HoldKind.ENTRY)
    row = TreatedTree.objects.get(tree=herb)
    with pytest.raises(MayNot):
        treatments.set_adviser_day(
            row, opens_on=TODAY, adviser="Ida", by=vera, now=later
        )
    treatments.set_adviser_day(
        row, opens_on=date(2026, 5, 20), adviser="Ida, 0170", by=lee, now=later
    )
    assert held(herb, datetime(2026, 5, 19, 22, tzinfo=NOW.tzinfo), HoldKind.HARVEST)
    assert not held(herb, datetime(2026, 5, 20, 0, tzinfo=NOW.tzinfo), HoldKind.HARVEST)


def test_leaves_stay_locked_when_only_fruit_is_on_the_label(garden, tree, lee):
    product = add(garden, lee, NOW, fruit_days=7, leaf_days=None)
    record(garden, product, tree, at=AGO, by=lee)
    after = holds.after_treatments(garden, None, AGO + timedelta(days=8))
    opens = after[tree.pk].openings
    assert opens.fruit == AGO + timedelta(days=7)
    assert opens.leaf is None


@pytest.mark.parametrize(
    ("high", "opens"), [(False, date(2026, 9, 29)), (True, date(2026, 8, 30))]
)
def test_raw_manure_on_the_ground(garden, tree, lee, high, opens):
    # US National Organic Program, 7 CFR 205.203(c).
    ended = datetime(2026, 6, 1, 10, tzinfo=ZoneInfo("Europe/Lisbon"))
    record(
        garden, None, tree, at=ended, by=lee, kind="manure",
        now=ended + timedelta(hours=1), details={"fruit_high": high},
    )  # fmt: skip
    ends = ended.replace(month=opens.month, day=opens.day)
    assert held(tree, ends - timedelta(seconds=1), HoldKind.HARVEST)
    assert not held(tree, ends, HoldKind.HARVEST)
    assert not held(tree, ended, HoldKind.ENTRY)


def copper(garden, lee):
    return add(
        garden, lee, NOW, "copper", name="Blue", dose_unit="g_per_m2", most_dose=5.0,
        ingredients=[["copper hydroxide", 500.0, "g/kg"]],
    )  # fmt: skip


def test_copper_is_added_up_over_seven_years(garden, tree, lee):
    # Regulation (EU) 2018/1981: 28 kg/ha in seven years, 2.8 g/m².
    product = copper(garden, lee)
    size = {"size": 20.0, "size_unit": "m2", "dose": 1.0, "total": 20.0, "unit": "g"}
    for year in range(1, 6):
        at = AGO - timedelta(days=365 * year)
        record(garden, product, tree, at=at, by=lee, now=NOW, **size)
    # 2.5 g/m² are given; 0.4 more would make 2.9.
    more = {**size, "dose": 0.8, "total": 16.0}
    with refused("breaks_rules", match=r"2\.9 g of copper"):
        plan(garden, product, tree, by=lee, **more)
    plan(garden, product, tree, by=lee, **{**size, "dose": 0.6, "total": 12.0})


def test_copper_is_told_with_the_years_it_is_added_up_over(
    garden, tree, lee, set_figure
):
    size = {"size": 20.0, "size_unit": "m2", "dose": 1.0, "total": 120.0, "unit": "g"}
    size |= {"amount_reason": "Measured again"}
    product = copper(garden, lee)
    with refused("breaks_rules", match=r"given in seven years, and 2\.8 is the most"):
        plan(garden, product, tree, by=lee, **size)
    set_figure(copper_years=5)
    with refused("breaks_rules", match="given in five years"):
        plan(garden, product, tree, by=lee, **size)


@pytest.mark.parametrize("bbch", [60, 69])
def test_the_first_and_the_last_stage_of_bloom_are_for_bees(
    garden, soap, tree, lee, bbch
):
    # Agustí et al. (1997): 60 to 69 is flowering.
    with refused("breaks_rules", match="Bees: do not spray"):
        plan(garden, soap, tree, by=lee, bbch=bbch)


@pytest.mark.parametrize("bbch", [59, 70])
def test_before_and_after_bloom_bees_forbid_nothing(garden, soap, tree, lee, bbch):
    plan(garden, soap, tree, by=lee, bbch=bbch)


def test_oil_soon_after_sulfur_and_in_heat(garden, tree, lee):
    # University of Florida Bulletin 229: 90 °F; 10 to 14 days, 30 in this book.
    sulfur = add(garden, lee, NOW, "sulfur", name="Yellow")
    oil = add(garden, lee, NOW, "oil", name="Summer oil")
    record(garden, sulfur, tree, at=AGO - timedelta(days=10), by=lee)
    with refused("breaks_rules", match="Oil and sulfur"):
        plan(garden, oil, tree, by=lee)
    typed = add(garden, lee, NOW, "oil", name="Winter oil", oil_sulfur_days=7)
    plan(garden, typed, tree, by=lee)
    with refused("breaks_rules", match="too hot"):
        plan(garden, typed, tree, by=lee, temperature_c=33.0)
    plan(garden, typed, tree, by=lee, temperature_c=32.0, at=SOON + timedelta(days=1))


@pytest.mark.parametrize(
    ("changes", "match"),
    [
        ({"wind_kmh": 2.0}, "Wind of 2 km/h"),
        ({"wind_kmh": 16.0}, "steady 3 km/h to 15 km/h"),
        ({"bbch": 65}, "Bees: do not spray"),
        ({"weeds_flower": True}, "Bees: do not spray"),
        ({"rain_expected": True}, "Rain within 24 hours"),
        ({"licence_until": date(2026, 5, 11)}, "licence ran out on 11 May 2026"),
        ({"expires_on": date(2026, 5, 11)}, "expired on 11 May 2026"),
        ({"dose": 21.0, "total": 210.0}, "above the label's 20 mL per litre"),
    ],
)
def test_what_breaks_a_rule_is_no_plan(garden, soap, tree, lee, changes, match):
    with refused("breaks_rules", match=match):
        plan(garden, soap, tree, by=lee, **changes)
    assert not Treatment.objects.exists()
    found = record(garden, soap, tree, at=AGO, by=lee, **changes)
    assert len(found.breaches) == 1
    assert Task.objects.filter(kind="once", title__startswith="Look into").exists()


def test_a_crop_that_the_label_does_not_name(garden, tree, lee):
    figs = add(garden, lee, NOW, crops="figs")
    with refused("breaks_rules", match="doesn't name what grows at A-1"):
        plan(garden, figs, tree, by=lee)
    nothing = add(garden, lee, NOW, name="Bare", crops="")
    with refused("breaks_rules", match="no crop of its label"):
        plan(garden, nothing, tree, by=lee)


@pytest.mark.parametrize(
    ("changes", "code"),
    [
        ({"minutes": -5}, "wrong_time"),
        ({"at": NOW + timedelta(minutes=5)}, "wrong_time"),
        ({"total": 130.0}, "amount_differs"),
        ({"unit": "kg"}, "not_whole"),
        ({"kind": "oil"}, "wrong_product"),
    ],
)
def test_what_cannot_be_is_refused_even_as_done(garden, soap, tree, lee, changes, code):
    with refused(code):
        record(garden, soap, tree, by=lee, **{"at": AGO, **changes})
    assert not Treatment.objects.exists()
    assert not Change.objects.filter(subject_type="treatment").exists()


def test_a_total_off_by_a_tenth_passes_and_more_with_a_reason(garden, soap, tree, lee):
    assert not codes(record(garden, soap, tree, at=AGO, by=lee, total=110.0))
    reason = {"amount_reason": "The rest was kept"}
    record(garden, soap, tree, at=AGO, by=lee, total=130.0, **reason)


def test_a_tree_that_was_not_here(garden, soap, tree, lee):
    tree.removed_on, tree.state, tree.removal_reason = TODAY, "removed", "Dead"
    tree.save()
    record(garden, soap, tree, at=AGO, by=lee)
    tree.removed_on = TODAY - timedelta(days=1)
    tree.save()
    with refused("tree_gone", match="removed on 11 May"):
        record(garden, soap, tree, at=AGO, by=lee)


def test_painting_closes_the_task_and_holds_nothing(garden, tree, lee):
    task = Task.objects.create(
        orchard=garden, tree=tree, block=tree.spot.block, kind="care", key="whitewash",
        rank=2, occurrence="2026", title="Whitewash", opens_on=TODAY, due_on=TODAY,
        rhythm_days=365, made_at=NOW,
    )  # fmt: skip
    found = record(garden, None, tree, at=AGO, by=lee, kind="trunk_paint")
    task.refresh_from_db()
    assert task.closed_at == NOW
    assert found.treatment.closure.task == task
    assert not held(tree, NOW)
    assert not codes(found)


def test_a_registered_paint_is_plant_protection(garden, tree, lee):
    paint = add(garden, lee, NOW, "trunk_paint", name="Paint", entry_rule="unknown",
                entry_hours=None, fruit_days=None)  # fmt: skip
    record(garden, paint, tree, at=AGO, by=lee)
    assert held(tree, NOW + timedelta(days=99))


def test_a_longer_reading_of_a_label_counts_at_once_a_shorter_does_not(
    garden, tree, lee
):
    product = add(garden, lee, NOW, fruit_days=3)
    found = record(garden, product, tree, at=AGO, by=lee)
    three, seven, one = (AGO + timedelta(days=n, seconds=-1) for n in (3, 7, 1))
    newer = treatments.correct_product(
        product, by=lee, reason="Read again", fruit_days=7, **WHEN
    )
    assert held(tree, seven, HoldKind.HARVEST)
    newest = treatments.correct_product(
        newer, by=lee, reason="New label", fruit_days=1, **WHEN
    )
    assert held(tree, seven, HoldKind.HARVEST)
    # Only on the use itself, by somebody fit to say so.
    shorter = use(newest, tree, at=AGO)
    with refused("not_qualified"):
        treatments.correct(found.treatment, shorter, by=lee, reason="Misread", **WHEN)
    assert held(tree, three, HoldKind.HARVEST)
    treatments.correct(
        found.treatment, shorter, by=lee, reason="Misread", qualified="L-7", **WHEN
    )
    assert held(tree, one, HoldKind.HARVEST)
    assert not held(tree, three, HoldKind.HARVEST)


def test_a_later_end_applies_at_once_and_a_left_out_tree_needs_a_licence(
    garden, soap, tree, lee, vera
):
    found = record(garden, soap, tree, at=AGO, by=vera)
    later = AGO + timedelta(minutes=30)
    newer = treatments.correct(
        found.treatment, use(soap, tree, at=later), by=vera, reason="Clock", **WHEN
    ).treatment
    assert held(tree, later + timedelta(hours=4, seconds=-1))
    other = make_tree(garden, "A-2")
    with pytest.raises(MayNot):
        treatments.correct(
            newer, use(soap, other, at=later), by=vera, reason="Other tree", **WHEN
        )
    with refused("reason_missing"):
        treatments.correct(newer, use(soap, tree, at=later), by=vera, reason="", **WHEN)
    with refused("not_current"):
        treatments.correct(
            found.treatment, use(soap, tree, at=later), by=vera, reason="Twice", **WHEN
        )


def test_withdrawing_needs_a_licence_while_something_is_held(garden, soap, tree, lee):
    found = record(garden, soap, tree, at=AGO, by=lee)
    with refused("not_qualified"):
        treatments.withdraw(found.treatment, by=lee, reason="Never was", **WHEN)
    treatments.withdraw(
        found.treatment, by=lee, reason="Never was", qualified="L-7", **WHEN
    )
    assert not held(tree, NOW)
    assert Change.objects.filter(subject_type="treatment", verb="withdraw").exists()


def test_open_tasks_wait_and_findings_still_open_theirs(garden, soap, tree, lee):
    record(garden, soap, tree, at=AGO, by=lee)
    found = holds.holds_of(garden, [tree.pk], today=TODAY, now=NOW)[tree.pk]
    assert any(hold.forbids(()) for hold in found)
    context = care_plan.gather_context(garden, today=TODAY)
    assert tree.pk in context.holds


def test_a_tree_left_alone_is_not_sprayed(garden, soap, tree, lee):
    inspections.record(
        tree, by=lee, now=AGO, seen_at=AGO,
        findings=[SeenSign("psyllid_nymph", {"count": 2})],
    )  # fmt: skip
    with refused("breaks_rules", match="leave this tree alone"):
        plan(garden, soap, tree, by=lee)


def test_nothing_ends_in_the_zone_of_the_reader(garden, soap, tree, lee):
    record(garden, soap, tree, at=AGO.astimezone(ROME), by=lee)
    [hold] = held(tree, NOW)
    assert "Tue 12 May, 13:00" in hold.reason  # Lisbon summer time


def test_what_was_put_on_a_tree_is_in_its_history(garden, soap, tree, lee):
    found = record(garden, soap, tree, at=AGO, by=lee)
    told = timeline.timeline_of(tree, _member(garden, lee), today=TODAY)
    [event] = [each for each in told.events if each.target and each.target[0] ==
               "treatment"]  # fmt: skip
    assert (event.title, event.note) == ("Insecticidal soap", "Leaf soap")
    assert (event.at, event.by) == (AGO, "Lee")
    treatments.withdraw(
        found.treatment, by=lee, reason="Never was", qualified="L-7", **WHEN
    )
    told = timeline.timeline_of(tree, _member(garden, lee), today=TODAY)
    assert not [each for each in told.events if each.title == "Insecticidal soap"]


def test_the_tag_tells_visitors_what_is_closed_and_nothing_of_a_case(
    garden, soap, tree, lee
):
    tag = Tag.objects.create(tree=tree, token="t" * 22, made_at=NOW)
    inspections.record(
        tree, by=lee, now=AGO, seen_at=AGO,
        findings=[SeenSign("psyllid_nymph", {"count": 2})],
    )  # fmt: skip
    assert visitors.public_face(tag, now=NOW).closed == ()
    record(garden, soap, tree, at=AGO, by=lee)
    closed = visitors.public_face(tag, now=NOW).closed
    assert [text.split(" before")[0] for text in closed] == [
        "No entry", "No picking or tasting of fruit",
    ]  # fmt: skip
    assert visitors.public_face(tag, now=NOW + timedelta(hours=4)).closed == ()


def test_a_plan_is_not_corrected_into_one_that_breaks_a_rule(garden, soap, tree, lee):
    row = plan(garden, soap, tree, by=lee)
    worse = use(soap, tree, at=SOON, dose=25.0, total=250.0)
    with refused("breaks_rules", match="above the label"):
        treatments.correct(row, worse, by=lee, reason="More", **WHEN)
    better = use(soap, tree, at=SOON, dose=12.0, total=120.0)
    newer = treatments.correct(row, better, by=lee, reason="Less", **WHEN).treatment
    assert newer.is_plan
    assert treatments.plans_of(_member(garden, lee)) == [newer]


def test_a_case_that_opened_later_makes_no_breach_of_an_earlier_use(
    garden, soap, tree, lee
):
    inspections.record(
        tree, by=lee, now=AGO, seen_at=AGO,
        findings=[SeenSign("psyllid_nymph", {"count": 2})],
    )  # fmt: skip
    earlier = AGO - timedelta(days=2)
    assert not codes(record(garden, soap, tree, at=earlier, by=lee))
    assert codes(record(garden, soap, tree, at=AGO, by=lee)) == ["hold"]
