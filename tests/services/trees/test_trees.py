"""Planting, correcting and the lives of trees.

No published figures here; the order of events in a tree's life is common practice,
no source.
"""

from __future__ import annotations

import re
from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from orchard.records.models import Change, Crown, Inspection, Stay, Tag, Tree
from orchard.services import trees, visitors
from orchard.services.errors import Refused
from orchard.services.trees import (
    tags,
)
from tests.conftest import TODAY, make_orchard, make_spot, make_tree
from tests.refusals import refused


@pytest.fixture
def kind(orchard, cora, now):
    return trees.add_kind(orchard, by=cora, now=now, name="Meyer lemon")


@pytest.fixture
def plant(orchard, cora, now, today, kind):
    def planted(code="B-1", **details):
        spot = details.pop("spot", None) or make_spot(
            orchard, number=code[-1:], block="B"
        )
        details.setdefault("kind", kind)
        return trees.plant(
            orchard, by=cora, now=now, today=today, spot=spot, code=code, **details
        )

    return planted


@pytest.fixture
def life(cora, now, today):
    """The arguments that every verb about a tree's life takes."""
    return {"by": cora, "now": now, "today": today}


def last_line(tree) -> Change:
    return Change.objects.filter(tree=tree).order_by("-id").first()


# planting


def test_a_planted_tree_has_a_first_stay_and_a_line_in_the_ledger(plant, cora):
    tree = plant(planted_on=date(2025, 4, 1), rootstock="Swingle citrumelo")
    stay = Stay.objects.get(tree=tree)
    assert (stay.spot, stay.since_on, stay.ended) == (
        tree.spot,
        date(2025, 4, 1),
        False,
    )
    line = last_line(tree)
    assert (line.verb, line.by) == ("plant", cora)
    assert line.after["rootstock"] == "Swingle citrumelo"


def test_a_code_is_never_used_twice_whatever_its_case(plant, orchard):
    plant("B-1")
    with refused("code_taken", match="never used twice") as refusal:
        plant("b-1", spot=make_spot(orchard, "9", "B"))
    assert refusal.value.field == "code"


# Full-width letters, Cyrillic and Greek look-alikes, a dash of a word processor.
@pytest.mark.parametrize(
    "twin", ["\uff22\uff0d\uff11", "\u0412-1", "\u0392-1", "b\u20131"]
)
def test_codes_that_look_the_same_are_one_code(plant, orchard, twin):
    plant("B-1")
    with refused("code_taken", match="B-1 is the code of a tree already|b-1 is"):
        plant(twin, spot=make_spot(orchard, "9", "B"))
    choice = trees.TagChoice(codes=twin)
    assert [tree.code for tree in trees.trees_for_tags(orchard, choice)] == ["B-1"]


def test_a_code_is_kept_in_its_plain_spelling(plant, orchard):
    assert plant("\uff22\uff0d\uff17").code == "B-7"


def test_the_code_of_a_removed_tree_is_not_free(plant, life, orchard):
    tree = plant("B-1")
    trees.remove(tree, on=life["today"], reason="wind", **life)
    with refused("code_taken", match="removed"):
        plant("B-1", spot=make_spot(orchard, "9", "B"))


def test_the_code_before_a_correction_is_not_free(plant, life, orchard):
    tree = plant("B-1")
    trees.correct(tree, code="B-100", reason="typing mistake", **life)
    with refused("code_taken", match="before it was corrected"):
        plant("B-1", spot=make_spot(orchard, "9", "B"))


@pytest.mark.parametrize("code", ["", "new", "NEW", "A/1", "A 1", "-A", "x" * 25])
def test_a_code_that_cannot_be_an_address_is_refused(plant, orchard, code):
    with refused("code_taken", match="isn.t a valid code"):
        plant(code, spot=make_spot(orchard, "9", "B"))


def test_two_trees_cannot_stand_in_one_spot(plant):
    first = plant("B-1")
    with refused("spot_taken", match=r"already has B-1 \(Meyer lemon\)"):
        plant("B-2", spot=first.spot)


def test_planting_in_the_future_is_refused(plant, today):
    with refused("bad_date", match="future"):
        plant(planted_on=today + timedelta(days=1))
    assert plant(planted_on=today).planted_on == today


def test_a_year_long_before_the_orchard_is_refused(plant):
    with refused("bad_date", match="Check the year"):
        plant(planted_on=date(202, 5, 1))


def test_planting_before_grafting_is_refused(plant):
    with refused("bad_date", match="before it is planted"):
        plant(planted_on=date(2020, 1, 1), born_on=date(2021, 1, 1))


def test_own_roots_and_a_rootstock_exclude_each_other(plant):
    with refused("does_not_fit", match="own roots has no rootstock"):
        plant(own_roots=True, rootstock="Sour orange")
    assert plant(own_roots=True).own_roots


@pytest.mark.parametrize("litres", [0, -5, 20_001])
def test_a_container_holds_a_sensible_number_of_litres(plant, litres):
    with refused("does_not_fit", match="up to 20,000 L"):
        plant(setting="container", container_litres=Decimal(litres))
    assert plant(setting="container", container_litres=Decimal("57.5")).pk


def test_litres_without_a_container_are_refused(plant):
    with refused("does_not_fit", match="in the ground"):
        plant(container_litres=Decimal(50))


def test_nothing_of_another_orchard_can_be_planted_in(plant, southbank, kind):
    with refused("wrong_orchard", match="spot belongs"):
        plant(spot=make_spot(southbank))
    theirs = make_tree(southbank).kind
    with refused("wrong_orchard", match="cultivar belongs"):
        plant(kind=theirs)


def test_a_name_too_long_for_its_field_is_told_beside_it(plant):
    with refused("invalid") as refusal:
        plant(label_name="x" * 121)
    assert refusal.value.field == "label_name"


def test_a_refused_tree_leaves_nothing_behind(plant, today):
    with pytest.raises(Refused):
        plant(planted_on=today + timedelta(days=1))
    assert not Tree.objects.exists()
    assert not Change.objects.filter(verb="plant").exists()


# correcting


def test_a_correction_keeps_both_versions_and_its_reason(plant, life, cora):
    tree = plant(rootstock="Sour orange")
    trees.correct(tree, reason="read the label", rootstock="Rough lemon", **life)
    line = last_line(tree)
    assert line.before == {"rootstock": "Sour orange"}
    assert line.after == {"rootstock": "Rough lemon"}
    assert (line.reason, line.by) == ("read the label", cora)


def test_a_correction_without_a_reason_is_refused(plant, life):
    tree = plant()
    with refused("reason_missing", match="Give the reason"):
        trees.correct(tree, reason="  ", note="x", **life)


def test_a_correction_that_changes_nothing_writes_nothing(plant, life):
    tree = plant(setting="container", container_litres=Decimal("50.0"))
    count = Change.objects.count()
    trees.correct(tree, reason="looked", container_litres=Decimal("50"), **life)
    assert Change.objects.count() == count


def test_a_tree_cannot_be_planted_after_it_was_inspected(plant, life, vera, now):
    tree = plant(planted_on=date(2020, 1, 1))
    Inspection.objects.create(
        orchard=tree.orchard,
        tree=tree,
        by=vera,
        seen_on=date(2021, 6, 1),
        seen_at=now,
        made_at=now,
        received_at=now,
    )
    with refused("bad_date", match="first looked at on"):
        trees.correct(tree, reason="label", planted_on=date(2021, 6, 2), **life)
    trees.correct(tree, reason="label", planted_on=date(2021, 6, 1), **life)
    assert Stay.objects.get(tree=tree).since_on == date(2021, 6, 1)


def test_a_tree_cannot_be_planted_after_it_died(plant, life):
    tree = plant(planted_on=date(2020, 1, 1))
    trees.died(tree, on=date(2022, 1, 1), reason="frost", **life)
    with refused("bad_date", match="it died on"):
        trees.correct(tree, reason="label", planted_on=date(2022, 1, 2), **life)


def test_a_correction_to_the_code_of_another_tree_is_refused(plant, life):
    plant("B-1")
    tree = plant("B-2")
    with refused("code_taken"):
        trees.correct(tree, reason="label", code="b-1", **life)
    trees.correct(tree, reason="smaller letters", code="b-2", **life)
    assert tree.code == "b-2"


def test_a_dead_tree_can_still_be_corrected(plant, life):
    tree = plant()
    trees.died(tree, on=life["today"], reason="frost", **life)
    trees.correct(tree, reason="label found", label_name="Lemon", **life)
    assert tree.label_name == "Lemon"


# moving


def test_a_moved_tree_keeps_its_story_and_frees_its_spot(plant, life, orchard):
    tree = plant("B-1", planted_on=date(2020, 1, 1))
    old, new = tree.spot, make_spot(orchard, "7", "C")
    trees.move(tree, spot=new, on=date(2024, 3, 1), reason="too much shade", **life)
    ended, standing = Stay.objects.filter(tree=tree).order_by("id")
    assert (ended.spot, ended.until_on, ended.ended) == (old, date(2024, 3, 1), True)
    assert (standing.spot, standing.since_on, standing.ended) == (
        new,
        date(2024, 3, 1),
        False,
    )
    assert plant("B-2", spot=old).spot == old
    assert last_line(tree).before == {"spot_id": old.pk}


def test_a_move_onto_another_tree_is_refused(plant, life):
    tree, other = plant("B-1"), plant("B-2")
    with refused("spot_taken"):
        trees.move(tree, spot=other.spot, on=life["today"], reason="x", **life)


def test_a_move_to_where_it_stands_is_refused(plant, life):
    tree = plant("B-1")
    with refused("nothing_changed", match="already"):
        trees.move(tree, spot=tree.spot, on=life["today"], reason="x", **life)


def test_a_move_before_planting_or_in_the_future_is_refused(plant, life, orchard):
    tree = plant("B-1", planted_on=date(2020, 1, 1))
    new = make_spot(orchard, "7", "C")
    with refused("bad_date", match="was planted on"):
        trees.move(tree, spot=new, on=date(2019, 1, 1), reason="x", **life)
    tomorrow = life["today"] + timedelta(days=1)
    with refused("bad_date", match="future"):
        trees.move(tree, spot=new, on=tomorrow, reason="x", **life)


def test_a_move_before_the_last_move_is_refused(plant, life, orchard):
    tree = plant("B-1")
    spots = [make_spot(orchard, number, "C") for number in "78"]
    trees.move(tree, spot=spots[0], on=date(2024, 3, 1), reason="x", **life)
    with refused("bad_date", match="brought to its spot"):
        trees.move(tree, spot=spots[1], on=date(2024, 2, 1), reason="x", **life)


# the end of a tree


@pytest.mark.parametrize(
    ("verb", "state"),
    [
        (trees.scion_died, "rootstock_only"),
        (trees.died, "dead"),
        (trees.remove, "removed"),
    ],
)
def test_the_end_is_dated_explained_and_written_down(plant, life, verb, state):
    tree = plant(planted_on=date(2020, 1, 1))
    verb(tree, on=date(2026, 2, 1), reason="frost of the last night", **life)
    tree.refresh_from_db()
    assert tree.state == state
    line = last_line(tree)
    assert line.after["state"] == state
    assert line.after["on"] == "2026-02-01"
    assert line.reason == "frost of the last night"


@pytest.mark.parametrize("verb", [trees.scion_died, trees.died, trees.remove])
def test_the_end_needs_a_reason_and_a_day_that_has_come(plant, life, verb):
    tree = plant(planted_on=date(2020, 1, 1))
    with refused("reason_missing"):
        verb(tree, on=life["today"], reason="", **life)
    with refused("bad_date", match="future"):
        verb(tree, on=life["today"] + timedelta(days=1), reason="x", **life)
    with refused("bad_date", match="was planted"):
        verb(tree, on=date(2019, 1, 1), reason="x", **life)


@pytest.mark.parametrize("verb", [trees.scion_died, trees.died, trees.remove])
def test_nothing_ends_twice(plant, life, verb):
    tree = plant()
    verb(tree, on=life["today"], reason="x", **life)
    with pytest.raises((Refused, Refused)):
        verb(tree, on=life["today"], reason="x", **life)


@pytest.mark.parametrize("verb", [trees.scion_died, trees.died])
def test_a_removed_tree_is_history(plant, life, verb):
    tree = plant()
    trees.remove(tree, on=life["today"], reason="x", **life)
    with refused("not_standing", match="can be read but not changed"):
        verb(tree, on=life["today"], reason="x", **life)


def test_a_tree_on_its_own_roots_leaves_no_rootstock_behind(plant, life):
    tree = plant(own_roots=True)
    with refused("nothing_changed", match="own roots"):
        trees.scion_died(tree, on=life["today"], reason="x", **life)


def test_what_only_has_its_rootstock_left_can_still_die(plant, life):
    tree = plant()
    trees.scion_died(tree, on=date(2026, 1, 1), reason="x", **life)
    with refused("bad_date", match="rootstock only"):
        trees.died(tree, on=date(2025, 12, 31), reason="x", **life)
    trees.died(tree, on=date(2026, 1, 2), reason="x", **life)
    assert tree.state == "dead"


@pytest.mark.parametrize("verb", [trees.scion_died, trees.died, trees.remove])
def test_open_work_falls_away_with_the_tree(plant, life, verb, now, today):
    from orchard.records.models import Closure, Task

    tree = plant()
    task = Task.objects.create(
        orchard=tree.orchard,
        tree=tree,
        rank=2,
        kind="care",
        key="trunk_ring",
        occurrence="2026",
        title="Check the ring",
        opens_on=today,
        due_on=today,
        rhythm_days=60,
        made_at=now,
    )
    verb(tree, on=today, reason="x", **life)
    task.refresh_from_db()
    assert task.closed_at is not None
    assert Closure.objects.get(task=task).how == "cancelled"


def test_a_removed_tree_leaves_its_spot_free_and_its_tag_retired(plant, life, now):
    tree = plant()
    tag = trees.tag_of(tree, now=now)
    trees.remove(tree, on=life["today"], reason="wind", **life)
    tag.refresh_from_db()
    assert tag.retired_at is not None
    assert plant("B-2", spot=tree.spot).spot == tree.spot


# replacing


def test_a_replacement_stands_in_the_same_spot_and_names_its_forerunner(
    plant, life, kind
):
    old = plant("B-1", planted_on=date(2015, 1, 1))
    new = trees.replace(
        old, code="B-1a", kind=kind, planted_on=date(2026, 3, 1), **life
    )
    old.refresh_from_db()
    assert (new.spot, new.replaces) == (old.spot, old)
    assert (old.state, old.removed_on) == ("removed", date(2026, 3, 1))
    assert old.removal_reason == "replaced by B-1a"


def test_a_replacement_takes_over_nothing_of_the_old_story(plant, life, kind):
    old = plant("B-1", planted_on=date(2015, 1, 1))
    old.condition, old.last_seen_on = 1, date(2026, 2, 1)
    old.save()
    new = trees.replace(
        old, code="B-1a", kind=kind, planted_on=date(2026, 3, 1), **life
    )
    assert (new.condition, new.last_seen_on) == (None, None)
    assert not new.findings.exists()
    assert not new.tags.exists()
    assert not new.inspections.exists()


def test_a_removed_tree_can_be_replaced_later_but_not_earlier(plant, life, kind):
    old = plant("B-1", planted_on=date(2015, 1, 1))
    trees.remove(old, on=date(2026, 2, 1), reason="wind", **life)
    with refused("bad_date", match="Plant the new tree after that"):
        trees.replace(old, code="B-1a", kind=kind, planted_on=date(2026, 1, 1), **life)
    new = trees.replace(
        old, code="B-1a", kind=kind, planted_on=date(2026, 2, 1), **life
    )
    assert new.replaces == old


def test_a_tree_is_replaced_once(plant, life, kind):
    old = plant("B-1")
    trees.replace(old, code="B-1a", kind=kind, planted_on=life["today"], **life)
    with refused("already_replaced", match="B-1a already"):
        trees.replace(old, code="B-1b", kind=kind, planted_on=life["today"], **life)


def test_a_refused_replacement_leaves_the_old_tree_standing(plant, life, kind):
    old = plant("B-1")
    with refused("code_taken"):
        trees.replace(old, code="B-1", kind=kind, planted_on=life["today"], **life)
    old.refresh_from_db()
    assert old.is_standing
    with refused("bad_date"):
        trees.replace(
            old,
            code="B-2",
            kind=kind,
            planted_on=life["today"] + timedelta(days=1),
            **life,
        )


# taking back


def test_a_mistaken_end_can_be_taken_back_with_a_reason(plant, life, cora, now):
    tree = plant()
    trees.scion_died(tree, on=date(2026, 1, 1), reason="x", **life)
    trees.died(tree, on=date(2026, 2, 1), reason="x", **life)
    trees.remove(tree, on=date(2026, 3, 1), reason="x", **life)
    with refused("reason_missing"):
        trees.take_back(tree, by=cora, now=now, reason="")
    for state in ("dead", "rootstock_only", "growing"):
        trees.take_back(tree, by=cora, now=now, reason="wrong tree")
        tree.refresh_from_db()
        assert tree.state == state
    verbs = Change.objects.filter(tree=tree).order_by("-id").values_list("verb")[:3]
    assert [verb for (verb,) in verbs] == [
        "take back dead top",
        "take back death",
        "take back",
    ]
    assert Stay.objects.filter(tree=tree, ended=False).count() == 1
    with refused("nothing_to_take_back"):
        trees.take_back(tree, by=cora, now=now, reason="wrong tree")


def test_a_removal_cannot_be_taken_back_once_another_tree_stands_there(
    plant, life, kind, cora, now
):
    tree = plant("B-1")
    trees.replace(tree, code="B-2", kind=kind, planted_on=life["today"], **life)
    with refused("spot_taken"):
        trees.take_back(tree, by=cora, now=now, reason="wrong tree")


# tags


def test_a_token_holds_at_least_96_random_bits_and_fits_an_address(plant, now):
    assert tags.TOKEN_BYTES * 8 >= 96
    tokens = {tags.new_token() for _ in range(500)}
    assert len(tokens) == 500
    assert all(re.fullmatch(r"[A-Za-z0-9_-]{22}", token) for token in tokens)


def test_a_tree_keeps_its_tag_until_it_gets_another(plant, now, cora):
    tree = plant()
    tag = trees.tag_of(tree, now=now)
    assert trees.tag_of(tree, now=now) == tag
    fresh = trees.retag(tree, by=cora, now=now, reason="faded")
    assert fresh.token != tag.token
    tag.refresh_from_db()
    assert (tag.retired_at, tag.retired_reason) == (now, "faded")
    assert Tag.objects.filter(tree=tree, retired_at=None).get() == fresh


def test_a_new_tag_needs_a_reason(plant, now, cora):
    tree = plant()
    with refused("reason_missing"):
        trees.retag(tree, by=cora, now=now, reason=" ")


def test_a_removed_tree_gets_no_tag(plant, life, now):
    tree = plant()
    trees.remove(tree, on=life["today"], reason="x", **life)
    with refused("no_tag"):
        trees.tag_of(tree, now=now)


def test_tags_are_chosen_by_block_by_code_or_by_having_none(plant, orchard, now, cora):
    one, two = plant("B-1"), plant("B-2")
    three = make_tree(orchard, "C-3")
    trees.tag_of(one, now=now)
    chosen = trees.trees_for_tags(orchard, trees.TagChoice(blocks=("B",)))
    assert chosen == [one, two]
    assert trees.trees_for_tags(orchard, trees.TagChoice(codes="c-3, B-1")) == [
        one,
        three,
    ]
    without = trees.trees_for_tags(orchard, trees.TagChoice(only_without=True))
    assert without == [two, three]
    with refused("nothing_to_print", match="Z-9") as refusal:
        trees.trees_for_tags(orchard, trees.TagChoice(codes="B-1 Z-9"))
    assert refusal.value.field == "codes"
    with refused("nothing_to_print", match="No tree matches"):
        trees.trees_for_tags(orchard, trees.TagChoice(blocks=("Z",)))


def test_making_many_tags_takes_the_same_queries_as_making_a_few(
    orchard, cora, now, django_assert_num_queries
):
    few = [make_tree(orchard, f"D-{n}") for n in range(3)]
    many = [make_tree(orchard, f"E-{n}") for n in range(30)]
    for batch in (few, many):
        with django_assert_num_queries(5):
            made = trees.make_tags(batch, by=cora, now=now)
        assert set(made) == {tree.pk for tree in batch}
    assert Change.objects.filter(verb="make", subject_type="tag").count() == 33


# blocks, spots, kinds


def test_blocks_are_added_at_the_end_of_the_walk(orchard, cora, now):
    first = trees.add_block(orchard, by=cora, now=now, code="N", name="North wall")
    second = trees.add_block(orchard, by=cora, now=now, code="S", name="")
    assert (first.position, second.position) == (0, 1)
    assert second.name == "Block S"
    with refused("bad_block", match="already"):
        trees.add_block(orchard, by=cora, now=now, code="n", name="x")


@pytest.mark.parametrize("code", ["", "A B", "A/1", "A-1", "x" * 13, "."])
def test_a_block_code_that_cannot_be_an_address_is_refused(orchard, cora, now, code):
    with refused("bad_block", match="isn.t a valid code"):
        trees.add_block(orchard, by=cora, now=now, code=code, name="x")


def test_a_renamed_block_keeps_its_trees(orchard, cora, now):
    tree = make_tree(orchard, "A-1")
    block = tree.spot.block
    trees.correct_block(block, by=cora, now=now, code="W", name="West wall", position=4)
    assert [line.trees for line in trees.blocks_of(orchard)] == [1]
    line = Change.objects.get(subject_type="block", verb="correct")
    assert line.before["code"] == "A"
    with refused("bad_block", match="name"):
        trees.correct_block(block, by=cora, now=now, code="W", name=" ", position=4)


def test_spots_are_added_as_a_list_with_ranges_all_or_none(orchard, cora, now):
    block = trees.add_block(orchard, by=cora, now=now, code="N", name="North")
    trees.add_spots(block, by=cora, now=now, numbers="1-3, 7, 7a")
    assert [line.spot.number for line in trees.spots_of(block)] == [
        "1",
        "2",
        "3",
        "7",
        "7a",
    ]
    with refused("bad_spot", match="Spot 3"):
        trees.add_spots(block, by=cora, now=now, numbers="8, 3")
    with refused("bad_spot", match="Spot 7A"):
        trees.add_spots(block, by=cora, now=now, numbers="8, 7A")
    assert block.spots.count() == 5
    assert Change.objects.filter(subject_type="spot", verb="add").count() == 5

    [path] = trees.add_spots(block, by=cora, now=now, numbers="9", over_path=["9"])
    assert path.over_path and path.position == 5


@pytest.mark.parametrize("numbers", ["", " , ", "9-1", "1-900", "a b"])
def test_a_list_of_spots_that_makes_no_sense_is_refused(orchard, cora, now, numbers):
    block = trees.add_block(orchard, by=cora, now=now, code="N", name="North")
    with refused("bad_spot"):
        trees.add_spots(block, by=cora, now=now, numbers=numbers)


def test_two_spots_can_swap_their_numbers(orchard, cora, now):
    one, two = make_spot(orchard, "1"), make_spot(orchard, "2")
    plans = [
        trees.SpotPlan(one.pk, "2", 1, False),
        trees.SpotPlan(two.pk, "1", 0, True),
    ]
    assert trees.arrange_spots(one.block, by=cora, now=now, plans=plans) == 2
    assert [line.spot.number for line in trees.spots_of(one.block)] == ["1", "2"]
    line = Change.objects.get(subject_type="spot", subject_id=two.pk)
    assert line.before == {"number": "2", "over_path": False}
    again = trees.arrange_spots(one.block, by=cora, now=now, plans=plans)
    assert again == 0


def test_a_spot_number_cannot_stand_twice_in_a_block(orchard, cora, now):
    one, _two = make_spot(orchard, "1"), make_spot(orchard, "2")
    with refused("bad_spot", match="twice"):
        trees.arrange_spots(
            one.block,
            by=cora,
            now=now,
            plans=[trees.SpotPlan(one.pk, "2", 0, False)],
        )


def test_free_spots_are_those_without_a_standing_tree(plant, life, orchard):
    tree = plant("B-1")
    empty = make_spot(orchard, "2", "B")
    assert trees.free_spots(orchard) == [empty]
    trees.remove(tree, on=life["today"], reason="x", **life)
    assert set(trees.free_spots(orchard)) == {empty, tree.spot}


def test_a_kind_of_the_guide_brings_its_facts(orchard, cora, now):
    kind = trees.add_kind(orchard, by=cora, now=now, name="bearss lime", host="fig")
    assert kind.name == "Tahiti (Bearss) lime"
    assert (kind.host, kind.tender_class) == ("citrus", "T2")
    assert kind.guide_key == "Tahiti (Bearss) lime"


def test_an_own_kind_stands_without_the_guide(orchard, cora, now):
    kind = trees.add_kind(
        orchard, by=cora, now=now, name="Gate fig", host="fig", other_names=["", "Fig "]
    )
    assert (kind.guide_key, kind.host, kind.other_names) == ("", "fig", ["Fig"])
    assert trees.kinds_of(orchard)[0].is_own
    with refused("bad_cultivar", match="already"):
        trees.add_kind(orchard, by=cora, now=now, name="gate FIG")
    with refused("bad_cultivar", match="name"):
        trees.add_kind(orchard, by=cora, now=now, name=" ")


def test_a_kind_of_the_guide_keeps_its_name(orchard, cora, now, kind):
    trees.correct_kind(
        kind,
        by=cora,
        now=now,
        name="Other",
        host="fig",
        group="x",
        other_names=["Gate lemon"],
        tender_class="T1",
    )
    kind.refresh_from_db()
    assert (kind.name, kind.host, kind.tender_class) == ("Meyer lemon", "citrus", "T3")
    assert kind.other_names == ["Gate lemon"]


def test_near_names_are_offered_for_a_mistyped_one():
    names = ["Meyer lemon", "Eureka lemon", "Lisbon lemon", "Valencia"]
    assert trees.near_names("Mayer lemon", names)[0] == "Meyer lemon"
    assert trees.near_names("Valensia", names) == ["Valencia"]
    assert trees.near_names("Quince", names) == []


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ("carrizo citrange", "Carrizo / Troyer citrange"),
        ("Troyer citrange", "Carrizo / Troyer citrange"),
        ("Poncirus trifoliata", "Trifoliate orange (Poncirus trifoliata)"),
        ("Flying Dragon", "Flying Dragon (dwarf trifoliate)"),
    ],
)
def test_a_rootstock_is_known_by_either_of_its_names(written, meant):
    assert trees.rootstock_named(written).name == meant


def test_an_unknown_rootstock_is_not_guessed():
    assert trees.rootstock_named("Carrizzo") is None


# lists and history


def codes_in(listing) -> list[str]:
    return [tree.code for tree in listing.rows]


def test_trees_are_found_by_code_cultivar_and_block(orchard, today, plant):
    plant("B-1")
    make_tree(orchard, "A-1", kind="Valencia")
    make_tree(orchard, "A-2", kind="Valencia", label_name="Gate tree")

    def found(**filters):
        return codes_in(
            trees.tree_list(orchard, today=today, filters=trees.TreeFilters(**filters))
        )

    assert found(text="valen") == ["A-1", "A-2"]
    assert found(text="valencia a-2") == ["A-2"]
    assert found(text="gate") == ["A-2"]
    assert set(found(text="block")) == {"A-1", "A-2", "B-1"}
    assert found(block="b") == ["B-1"]
    assert found(text="nothing like it") == []


def test_trees_are_narrowed_by_state_condition_and_last_look(orchard, today, life):
    fresh = make_tree(orchard, "A-1", condition=2, last_seen_on=today)
    make_tree(orchard, "A-2", condition=5, last_seen_on=today - timedelta(days=91))
    gone = make_tree(orchard, "A-3")
    trees.remove(gone, on=today, reason="x", **life)
    make_tree(orchard, "A-4")
    trees.tag_of(fresh, now=life["now"])

    def found(**filters):
        return codes_in(
            trees.tree_list(orchard, today=today, filters=trees.TreeFilters(**filters))
        )

    assert found() == ["A-1", "A-2", "A-4"]
    assert found(state="removed") == ["A-3"]
    assert found(state="all") == ["A-1", "A-2", "A-3", "A-4"]
    assert found(condition="poor") == ["A-1"]
    assert found(condition="good") == ["A-2"]
    assert found(condition="unscored") == ["A-4"]
    assert found(unseen_days=90) == ["A-2", "A-4"]
    assert found(without_tag=True) == ["A-2", "A-4"]
    assert found(longest_unseen_first=True) == ["A-4", "A-2", "A-1"]


def test_the_list_goes_on_page_by_page_in_two_queries(
    orchard, today, django_assert_num_queries
):
    spots = [make_spot(orchard, str(n)) for n in range(120)]
    first = make_tree(orchard, "A-0", spot=spots[0])
    Tree.objects.bulk_create(
        Tree(
            orchard=orchard,
            spot=spot,
            code=f"A-{n}",
            kind=first.kind,
            entered_at=first.entered_at,
        )
        for n, spot in enumerate(spots[1:], start=1)
    )
    seen = []
    for page in (1, 2, 3):
        with django_assert_num_queries(2):
            listing = trees.tree_list(
                orchard, today=today, filters=trees.TreeFilters(), page=page
            )
            for tree in listing.rows:
                seen.append((tree.code, tree.kind.name, tree.spot.block.code))
    assert len({code for code, *_ in seen}) == 120
    assert (listing.pages, listing.first, listing.last) == (3, 101, 120)
    beyond = trees.tree_list(orchard, today=today, filters=trees.TreeFilters(), page=99)
    assert beyond.number == 3


def test_the_history_of_a_tree_reads_in_words(plant, life, orchard, kind, now, cora):
    tree = plant("B-1", rootstock="Sour orange", planted_on=date(2020, 1, 1))
    trees.correct(tree, reason="label", own_roots=True, rootstock="", **life)
    spot = make_spot(orchard, "7", "C")
    trees.move(tree, spot=spot, on=date(2024, 3, 1), reason="shade", **life)
    trees.tag_of(tree, now=now, by=cora)
    tag, move, correction, entry = trees.history_of(tree)
    assert tag.what == "Tag made"
    assert [(s.name, s.before, s.after) for s in move.steps] == [
        ("spot", "B-1", "C-7"),
        ("on", "", "1 Mar 2024"),
    ]
    assert (correction.reason, correction.by_name) == ("label", "Cora")
    assert ("rootstock", "Sour orange", "") in [
        (s.name, s.before, s.after) for s in correction.steps
    ]
    assert {"cultivar", "spot", "rootstock"} <= {s.name for s in entry.steps}
    assert {s.after for s in entry.steps} >= {
        "Meyer lemon",
        "1 Jan 2020",
        "Sour orange",
    }


def test_the_history_holds_nothing_of_another_tree(plant):
    one, two = plant("B-1"), plant("B-2")
    assert len(trees.history_of(one)) == 1
    assert {line.by_name for line in trees.history_of(two)} == {"Cora"}


# what a tag says


@pytest.mark.parametrize(
    ("south", "months"), [(False, (11, 12, 1, 2)), (True, (5, 6, 7, 8))]
)
def test_the_months_of_ripening_are_those_of_the_hemisphere(db, now, south, months):
    """Navels ripen late May to November in the south: Western Australia's calendar."""
    orchard = make_orchard("somewhere", south=south)
    tree = make_tree(orchard)
    face = visitors.public_face(trees.tag_of(tree, now=now), now=now)
    assert face.ripe_months == months


def test_a_tag_reads_the_size_of_its_own_tree_alone(orchard, cora, now):
    tree, large = make_tree(orchard, "A-1"), make_tree(orchard, "A-2")
    for row, width in ((tree, 1.5), (large, 6.0)):
        Crown.objects.create(
            orchard=orchard, tree=row, measured_on=TODAY, width_m=width, by=cora,
            received_at=now,
        )  # fmt: skip
    tag = visitors.tag_for(trees.tag_of(tree, now=now).token)
    with CaptureQueriesContext(connection) as asked:
        visitors.public_face(tag, now=now)
    [crowns] = [row["sql"] for row in asked if "records_crown" in row["sql"]]
    assert f'"tree_id" = {tree.pk}' in crowns


# finding


@pytest.mark.parametrize("said", ["b-7", "B7", " b 07 ", "B.007", "B-07"])
def test_a_tree_is_found_by_its_code_as_people_say_it(orchard, said):
    tree = make_tree(orchard, "B-07")
    make_tree(orchard, "B-70")
    make_tree(orchard, "A-07")
    assert trees.matching_trees(orchard, said) == tree
    filters = trees.TreeFilters(text=said)
    found = trees.tree_list(orchard, today=TODAY, filters=filters).rows
    assert tree in found


def test_the_tree_that_stands_is_meant_before_the_one_that_is_gone(orchard):
    gone = {"state": "removed", "removed_on": TODAY, "removal_reason": "Frost"}
    make_tree(orchard, "B-7", **gone)
    stands = make_tree(orchard, "B-07")
    assert trees.matching_trees(orchard, "b7") == stands
    make_tree(orchard, "B-007")
    assert trees.matching_trees(orchard, "b7") is None
    assert trees.matching_trees(orchard, "b-007").code == "B-007"


@pytest.mark.parametrize("said", ["", "navel", "B", "B-", "B-7-8", "[b]7"])
def test_what_is_no_code_means_no_tree(orchard, said):
    make_tree(orchard, "B-7")
    assert trees.matching_trees(orchard, said) is None
