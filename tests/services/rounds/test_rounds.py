"""Rounds: chosen, handed out, walked, watched and closed."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from orchard.records.models import (
    Block,
    Change,
    Membership,
    Photo,
    Receipt,
    Round,
    RoundStop,
    Tree,
)
from orchard.services import inbox, inspections, permissions, rounds
from orchard.services.errors import MayNot, NotThere, Refused
from orchard.services.inspections import Arrival, SeenSign
from orchard.services.rounds import TreeChoice, planning, progress
from tests.conftest import NOW, TODAY, make_orchard, make_person, make_tree
from tests.refusals import refused
from tests.services.inbox.test_inbox import an_entry, send
from tests.services.tasks.test_tasks import make_task


@pytest.fixture
def trees(orchard):
    """Three trees in A and one in B; B is walked first, and A-2 before A-1."""
    made = [make_tree(orchard, code) for code in ("A-1", "A-2", "A-3", "B-1")]
    Block.objects.filter(code="A").update(position=2)
    Block.objects.filter(code="B").update(position=1)
    for tree, place in zip(made, (2, 1, 3, 1), strict=True):
        tree.spot.position = place
        tree.spot.save()
    return made


def member_of(user) -> Membership:
    return Membership.objects.select_related("orchard", "user").get(user=user)


def hand_out(by, trees, **said) -> Round:
    values = {"now": NOW, "today": TODAY, "name": "Morning", "walk_on": TODAY}
    return planning.make_round(
        trees[0].orchard, by=by, trees=trees, **{**values, **said}
    )


def codes(trees):
    return [tree.code for tree in trees]


def walk_of(row) -> list[str]:
    return list(row.stops.order_by("position").values_list("tree__code", flat=True))


def record(tree, by, *, row=None, minutes=0, received=None, **look):
    at = NOW + timedelta(minutes=minutes)
    return inspections.record(
        tree,
        by=by,
        now=received or at,
        seen_at=at,
        arrival=Arrival(round=row),
        **(look or {"all_well": True}),
    ).inspection


def sheet(row, user, today=TODAY):
    return rounds.round_sheet(
        permissions.round_for(member_of(user), row.pk),
        member_of(user),
        today=today,
        now=NOW,
    )


# Which trees


@pytest.mark.parametrize(
    ("choice", "meant"),
    [
        (TreeChoice(), []),
        (TreeChoice(blocks=("A",)), ["A-2", "A-1", "A-3"]),
        (TreeChoice(blocks=("A", "B")), ["B-1", "A-2", "A-1", "A-3"]),
        (TreeChoice(due=True), ["A-1"]),
        (TreeChoice(unseen_days=30), ["B-1", "A-2", "A-3"]),
        (TreeChoice(blocks=("A",), unseen_days=30), ["A-2", "A-3"]),
        (TreeChoice(blocks=("A",), unseen_days=30, due=True), ["A-2", "A-1", "A-3"]),
        (TreeChoice(blocks=("B",), codes=("a-3", "A-3")), ["B-1", "A-3"]),
    ],
)
def test_trees_come_by_block_by_what_is_due_and_by_hand_in_walking_order(
    orchard, trees, vera, choice, meant
):
    make_task(trees[0], "weed_ring")
    make_task(trees[1], "later", due_on=date(2026, 5, 30))
    make_task(trees[3], "x", kind="report", private=True)
    record(trees[0], vera)
    assert codes(rounds.choose_trees(orchard, choice, on=TODAY)) == meant


def test_what_is_due_is_what_is_due_on_the_day_of_the_walk(orchard, trees):
    make_task(trees[0], due_on=TODAY + timedelta(days=3))
    due = TreeChoice(due=True)
    assert rounds.choose_trees(orchard, due, on=TODAY + timedelta(days=2)) == []
    assert rounds.choose_trees(orchard, due, on=TODAY + timedelta(days=3)) == [trees[0]]


def test_a_code_that_names_nothing_is_told(orchard, trees):
    Tree.objects.filter(code="A-3").update(state="dead")
    with refused("unknown_codes", match="Z-9"):
        rounds.choose_trees(orchard, TreeChoice(codes=("A-1", "Z-9")), on=TODAY)
    with refused("unknown_codes", match="A-3"):
        rounds.choose_trees(orchard, TreeChoice(codes=("A-3",)), on=TODAY)
    assert (
        rounds.choose_trees(orchard, TreeChoice(blocks=("A",)), on=TODAY)[0].code
        == "A-2"
    )
    assert len(rounds.choose_trees(orchard, TreeChoice(blocks=("A",)), on=TODAY)) == 2


# Handed out


def test_a_round_is_made_in_the_order_given_and_stands_in_the_ledger(trees, lee, vera):
    row = hand_out(lee, [trees[1], trees[0]], to=vera)
    assert walk_of(row) == ["A-2", "A-1"]
    assert (row.taken_by, row.taken_at) == (vera, NOW)
    line = Change.objects.get(verb="make")
    assert (line.by, line.after["trees"]) == (lee, ["A-2", "A-1"])


@pytest.mark.parametrize(
    ("said", "refusal"),
    [
        ({"name": "  "}, Refused),
        ({"walk_on": TODAY - timedelta(days=1)}, Refused),
        ({"trees": []}, Refused),
    ],
)
def test_what_makes_no_round_is_refused_in_words(orchard, trees, lee, said, refusal):
    values = {"name": "Morning", "walk_on": TODAY, "trees": trees, **said}
    with pytest.raises(refusal):
        planning.make_round(orchard, by=lee, now=NOW, today=TODAY, **values)
    assert not Round.objects.exists()


def test_a_round_has_an_end(orchard, trees, lee, monkeypatch):
    monkeypatch.setattr(planning, "_most_trees", lambda: 3)
    assert hand_out(lee, trees[:3])
    with refused("too_many_trees", match="4 trees"):
        hand_out(lee, trees)


def test_who_leads_hands_out_and_only_to_who_inspects(
    orchard, trees, vera, lee, olga, otto
):
    with pytest.raises(MayNot):
        hand_out(vera, trees)
    with pytest.raises(NotThere):
        hand_out(otto, trees)
    for stranger in (olga, otto):
        with refused("cannot_walk", match=stranger.name):
            hand_out(lee, trees, to=stranger)
    names = [one.user.name for one in rounds.who_may_walk(orchard)]
    assert names == ["Lee", "Vera"]


def test_a_tree_of_another_orchard_or_a_dead_one_is_not_walked_to(trees, lee):
    far = make_tree(make_orchard("far"), "Z-1")
    Tree.objects.filter(pk=trees[2].pk).update(state="dead")
    dead = Tree.objects.get(pk=trees[2].pk)
    for wrong in (far, dead):
        with refused("unknown_codes", match=wrong.code):
            hand_out(lee, [trees[0], wrong])


def test_a_round_is_taken_once_given_back_and_handed_over(trees, vera, lee, eddy):
    row = hand_out(lee, trees)
    rounds.take_round(row, by=vera, now=NOW)
    assert rounds.take_round(row, by=vera, now=NOW).taken_by == vera
    with refused("taken_by_another", match="Vera has this round"):
        rounds.take_round(row, by=eddy, now=NOW)
    with refused("not_yours"):
        rounds.give_back_round(row, by=eddy, now=NOW)
    rounds.give_back_round(row, by=vera, now=NOW)
    rounds.take_round(row, by=eddy, now=NOW)
    with pytest.raises(MayNot):
        rounds.hand_over_round(row, to=vera, by=vera, now=NOW)
    assert rounds.hand_over_round(row, to=vera, by=lee, now=NOW).taken_by == vera
    assert rounds.hand_over_round(row, to=None, by=lee, now=NOW).taken_at is None
    verbs = list(Change.objects.order_by("pk").values_list("verb", flat=True))
    assert verbs == ["make", "take", "give_back", "take", "hand_over", "hand_over"]


def test_the_order_goes_by_number_and_an_empty_one_leaves_out(trees, lee, vera):
    row = hand_out(lee, trees)
    numbers = {stop.tree.code: stop.pk for stop in row.stops.select_related("tree")}
    order = {numbers["B-1"]: 1, numbers["A-1"]: 9, numbers["A-2"]: 1}
    order[numbers["A-3"]] = None
    with pytest.raises(MayNot):
        planning.arrange_round(row, by=vera, now=NOW, order=order)
    planning.arrange_round(row, by=lee, now=NOW, order=order)
    # Two with one number stay as they stood.
    assert walk_of(row) == ["A-2", "B-1", "A-1"]
    planning.arrange_round(row, by=lee, now=NOW, order={}, codes=["a-3", "A-1"])
    assert walk_of(row) == ["A-2", "B-1", "A-1", "A-3"]
    line = Change.objects.filter(verb="arrange").last()
    assert line.before["trees"] == ["A-2", "B-1", "A-1"]
    with refused("no_trees"):
        planning.arrange_round(
            row,
            by=lee,
            now=NOW,
            order=dict.fromkeys(row.stops.values_list("pk", flat=True)),
        )
    assert RoundStop.objects.count() == 4


def test_a_round_is_closed_by_who_walks_or_leads_and_opened_again(
    trees, vera, lee, eddy
):
    row = hand_out(lee, trees, to=vera)
    with refused("not_yours"):
        planning.close_round(row, by=eddy, now=NOW)
    planning.close_round(row, by=vera, now=NOW)
    for verb in (rounds.take_round, rounds.give_back_round, planning.close_round):
        with refused("already_closed"):
            verb(row, by=vera, now=NOW)
    with refused("not_yours"):
        planning.reopen_round(row, by=eddy, now=NOW)
    planning.reopen_round(row, by=vera, now=NOW)
    with refused("not_closed"):
        planning.reopen_round(row, by=lee, now=NOW)
    row.refresh_from_db()
    assert (row.closed_at, row.closed_by) == (None, None)


# Walked


def test_a_stop_is_done_by_anybodys_look_since_the_day_began(trees, vera, lee):
    row = hand_out(lee, trees, to=vera)
    assert sheet(row, vera).next.tree.code == "A-1"
    record(trees[0], lee, minutes=-60 * 9)
    record(trees[1], lee, minutes=-60 * 11)
    told = sheet(row, vera)
    # Lisbon is an hour ahead in May: its day began at 23:00 of the day before.
    assert [stop.look is not None for stop in told.stops] == [True, False, False, False]
    assert told.next.tree.code == "A-2"
    assert (told.seen, codes(stop.tree for stop in told.out)) == (
        1,
        ["A-2", "A-3", "B-1"],
    )


def test_a_photo_without_a_word_leaves_its_stop_out(trees, vera, lee):
    row = hand_out(lee, trees, to=vera)
    photo = Arrival(round=row, photos_follow=True)
    alone = inspections.record(trees[0], by=vera, now=NOW, seen_at=NOW, arrival=photo)
    told = sheet(row, vera)
    [stop] = [one for one in told.stops if one.look]
    assert (stop.look.inspection, stop.is_out) == (alone.inspection.pk, True)
    assert (told.seen, len(told.out), told.next.tree.code) == (0, 4, trees[0].code)
    assert rounds.next_tree(row) == trees[0]
    [[walk], _closed] = rounds.rounds_for(member_of(vera), now=NOW)
    assert (walk.seen, walk.out, walk.last_in) == (0, 4, NOW)
    # What was said of the tree stands, whichever came last.
    check = record(trees[0], vera, row=row, minutes=-5)
    told = sheet(row, vera)
    assert (told.seen, told.next.tree.code) == (1, trees[1].code)
    assert [one.look.inspection for one in told.stops if one.look] == [check.pk]
    assert rounds.next_tree(row) == trees[1]


def test_what_is_withdrawn_or_moved_away_is_out_again(trees, vera, lee):
    row = hand_out(lee, trees, to=vera)
    look = record(trees[0], vera, row=row)
    assert sheet(row, vera).seen == 1
    inspections.withdraw(look, by=vera, now=NOW, reason="Another tree")
    assert sheet(row, vera).seen == 0


def test_each_stop_says_what_is_due_there_and_private_work_only_to_who_leads(
    trees, vera, lee
):
    make_task(trees[0], caution="Thorns.")
    make_task(trees[0], "x", kind="report", private=True, title="Report it")
    make_task(trees[1], "later", opens_on=date(2026, 6, 1), due_on=date(2026, 6, 9))
    row = hand_out(lee, trees)
    assert [task.title for task in sheet(row, vera).stops[0].tasks] == ["Sucker round"]
    assert len(sheet(row, lee).stops[0].tasks) == 2
    assert sheet(row, vera).stops[1].tasks == ()
    assert sheet(row, vera).cautions == ("Thorns.",)


def test_a_tree_that_nothing_may_leave_says_so_without_the_reason(trees, vera, lee):
    row = hand_out(lee, trees)
    record(trees[1], lee, findings=[SeenSign("psyllid_nymph", {"count": 2})])
    told = sheet(row, vera)
    reason = "The coordinator has asked to leave this tree alone: take nothing from it."
    assert [[hold.reason for hold in stop.holds] for stop in told.stops] == [
        [],
        [reason],
        [],
        [],
    ]
    assert told.stops[1].look.signs == 0
    assert told.stops[1].tasks == ()


def test_a_tree_that_died_on_the_way_is_not_waited_for(trees, vera, lee):
    row = hand_out(lee, trees[:2])
    Tree.objects.filter(pk=trees[0].pk).update(state="dead")
    assert codes(stop.tree for stop in sheet(row, vera).out) == ["A-2"]


def test_what_comes_in_late_counts_for_its_round_even_when_that_is_closed(
    trees, vera, lee
):
    row = hand_out(lee, trees, to=vera)
    planning.close_round(row, by=lee, now=NOW + timedelta(hours=1))
    record(trees[0], vera, row=row, minutes=120)
    record(trees[1], vera, minutes=120)
    told = sheet(row, lee)
    assert [stop.look is not None for stop in told.stops[:2]] == [True, False]


def test_the_lead_sees_what_came_in_and_from_whom_it_was_last_heard(
    trees, vera, lee, eddy
):
    row = hand_out(lee, trees, to=vera)
    later = NOW + timedelta(minutes=50)
    record(trees[0], vera, row=row, received=later)
    record(trees[1], eddy, minutes=30)
    Receipt.objects.create(
        key="00000000-0000-0000-0000-000000000001",
        body_hash="a" * 64,
        orchard=trees[0].orchard,
        by=vera,
        kind="photo",
        subject_id=1,
        made_at=NOW,
        received_at=NOW + timedelta(minutes=55),
    )
    told = sheet(row, lee)
    assert [stop.tree.code for stop, _look in told.came_in] == ["A-1", "A-2"]
    assert told.came_in[0][1].received_at == later
    assert [(one.person.name, one.at) for one in told.heard] == [
        ("Vera", NOW + timedelta(minutes=55)),
        ("Eddy", NOW + timedelta(minutes=30)),
    ]


def test_photos_of_the_round_without_a_tree_are_counted(trees, vera, lee):
    row = hand_out(lee, trees, to=vera)
    for number, tree in enumerate([None, None, trees[0]]):
        photo = Photo.objects.create(
            orchard=trees[0].orchard,
            by=vera,
            sha256=f"{number:064d}",
            file_format="JPEG",
            width=9,
            height=9,
            size_bytes=1,
            received_at=NOW,
        )
        photo.rounds.add(row)
        if tree is not None:
            photo.trees.add(tree)
    assert sheet(row, lee).stray_photos == 2


def test_a_look_that_a_phone_brings_belongs_to_its_round(trees, vera, lee, now):
    row = hand_out(lee, trees, to=vera)
    form = [("all_well", "1"), ("round", str(row.pk))]
    kept = send(an_entry(vera, now, form=form, round=row.pk), vera, now)
    assert kept.answer is inbox.Answer.KEPT
    assert sheet(row, lee).stops[0].look.round == row.pk


# Lists


def test_lists_show_open_ones_and_what_was_closed_of_late(trees, vera, lee, eddy):
    first = hand_out(lee, trees, to=vera)
    second = hand_out(lee, trees[:1], name="Evening", walk_on=TODAY + timedelta(days=1))
    third = hand_out(lee, trees[:1], name="Done")
    planning.close_round(third, by=lee, now=NOW)
    record(trees[0], vera, row=first)
    open_ones, closed = rounds.rounds_for(member_of(vera), now=NOW)
    assert [(walk.round, walk.seen, walk.trees) for walk in open_ones] == [
        (first, 1, 4),
        (second, 0, 1),
    ]
    assert open_ones[0].out == 3
    assert open_ones[0].codes == ("A-1", "A-2", "A-3", "B-1")
    assert open_ones[0].heard_at == NOW
    assert [walk.round for walk in closed] == [third]
    later = NOW + progress.REMEMBERED + timedelta(minutes=1)
    assert rounds.rounds_for(member_of(vera), now=later)[1] == ()


def test_the_first_page_tells_a_walker_of_hers_and_a_lead_of_all(
    trees, vera, lee, eddy
):
    mine = hand_out(lee, trees, to=vera)
    free = hand_out(lee, trees)
    others = hand_out(lee, trees, to=eddy)
    hand_out(lee, trees, to=vera, walk_on=TODAY + timedelta(days=1))

    def told(user):
        walks = rounds.on_the_way(member_of(user), today=TODAY)
        return {walk.round for walk in walks}

    assert told(vera) == {mine, free}
    assert told(lee) == {mine, free, others}


def test_a_round_of_another_orchard_is_not_there(trees, lee, otto):
    row = hand_out(lee, trees)
    with pytest.raises(NotThere):
        permissions.round_for(member_of(otto), row.pk)
    assert planning.trees_asked_for(trees[0].orchard, row.pk) == row
    assert planning.trees_asked_for(member_of(otto).orchard, row.pk) is None
    assert planning.trees_asked_for(trees[0].orchard, None) is None


def test_the_number_of_queries_does_not_grow_with_the_walk(
    orchard, trees, vera, lee, django_assert_num_queries
):
    small = hand_out(lee, trees[:1], to=vera)
    record(trees[0], vera, row=small)
    more = [make_tree(orchard, f"C-{n}") for n in range(25)]
    large = hand_out(lee, more, to=vera)
    for tree in more:
        make_task(tree)
        record(tree, vera, row=large)
    member = member_of(lee)
    for row in (small, large):
        row = permissions.round_for(member, row.pk)
        with django_assert_num_queries(9):
            rounds.round_sheet(row, member, today=TODAY, now=NOW)
    with django_assert_num_queries(6):
        rounds.rounds_for(member, now=NOW)
    for _n in range(5):
        hand_out(lee, trees, to=make_person(f"P{_n}", orchard, "volunteer"))
    with django_assert_num_queries(6):
        rounds.rounds_for(member, now=NOW)


def test_a_round_asks_no_more_for_trees_of_which_only_the_year_is_known(
    orchard, vera, lee, django_assert_num_queries
):
    for count in (1, 6):
        plants = [
            make_tree(
                orchard, f"Y{count}-{number}", born_on=None,
                planted_on=date(2026, 1, 1), planted_precision=Tree.Precision.YEAR,
            )
            for number in range(count)
        ]  # fmt: skip
        for plant in plants:
            make_task(plant, "feed_3")
            make_task(plant, "water_sprout", kind="act")
        row = hand_out(lee, plants, to=vera)
        member = member_of(lee)
        row = permissions.round_for(member, row.pk)
        with django_assert_num_queries(8):
            stops = rounds.round_sheet(row, member, today=TODAY, now=NOW).stops
        assert [len(stop.waiting) for stop in stops] == [2] * count
