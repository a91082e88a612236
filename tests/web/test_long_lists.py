"""Lists that grow with the orchard: in pages, and no more queries for more rows."""

from __future__ import annotations

from datetime import UTC, timedelta
from operator import itemgetter

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from orchard.records.models import (
    Case,
    Finding,
    Harvest,
    HarvestedTree,
    Inspection,
    Round,
    SecondLook,
    Spot,
    TreatedTree,
    Treatment,
    Tree,
)
from orchard.services.photos import unassigned
from tests.conftest import make_tree
from tests.services.photos.test_unassigned import stray

pytestmark = pytest.mark.django_db
HOME = "/alderbrook/"
FEW, MANY = 3, 120


def grow(orchard, count, block="B"):
    """Make some trees in the spots of a block, so many that no pen would."""
    first = make_tree(orchard, f"{block}-1")
    numbers = range(2, count + 1)
    Spot.objects.bulk_create(
        Spot(block=first.spot.block, number=str(n), position=n) for n in numbers
    )
    spots = first.spot.block.spots.exclude(pk=first.spot_id).order_by("position")
    Tree.objects.bulk_create(
        Tree(
            orchard=orchard,
            spot=spot,
            code=f"{block}-{spot.number}",
            kind=first.kind,
            planted_on=first.planted_on,
            entered_at=first.entered_at,
        )
        for spot in spots
    )
    rows = Tree.objects.filter(spot__block=first.spot.block)
    return list(rows.order_by("spot__position", "pk"))


def pick_of(trees, by, at, lot, kg=None):
    """Record a lot with a tree of each weight, 1 kg more each."""
    harvest = Harvest.objects.create(
        orchard=trees[0].orchard,
        lot=lot,
        part="fruit",
        picked_at=at,
        by=by,
        received_at=at,
    )
    HarvestedTree.objects.bulk_create(
        HarvestedTree(harvest=harvest, tree=tree, kg=kg or n)
        for n, tree in enumerate(trees, 1)
    )
    return harvest


def queries_for(client, address):
    with CaptureQueriesContext(connection) as asked:
        assert client.get(address).status_code == 200
    return len(asked)


def pages_from(client, address, links=lambda context: context):
    """Open a list page by page, and return the answers."""
    pages = []
    while address:
        pages.append(client.get(address))
        assert pages[-1].status_code == 200
        address = links(pages[-1].context)["later_url"]
        assert len(pages) < 20
    return pages


def test_yields_by_tree_are_a_page_and_the_heaviest_come_first(orchard, as_vera, vera):
    trees, now = grow(orchard, MANY), timezone.now()
    pick_of(trees[:FEW], vera, now, "few", kg=0.001)
    address = f"{HOME}harvests/"
    few = queries_for(as_vera, address)
    assert 'class="pager"' not in as_vera.get(address).content.decode()
    pick_of(trees, vera, now, "many")
    pick_of(trees, vera, now - timedelta(days=800), "before", kg=1000)
    assert queries_for(as_vera, address) == few

    pages = pages_from(as_vera, address, lambda context: context["tree_links"])
    found = [page.context["yields"].by_tree for page in pages]
    assert [(row.first, row.last, row.total) for row in found] == [
        (1, 50, 120),
        (51, 100, 120),
        (101, 120, 120),
    ]
    names = [row.name for some in found for row in some.rows]
    assert names == [f"B-{n}" for n in range(MANY, 0, -1)]
    assert found[0].rows[0].kg == 120
    # The fold is open where one goes on, and what the list is narrowed to stays.
    assert pages[1].context["tree_links"]["later_url"].endswith("?page=3#by-tree")
    assert '<details class="fold" id="by-tree" open>' in pages[1].content.decode()
    assert "By tree" in pages[1].content.decode()
    narrowed = as_vera.get(address, {"year": now.year, "after": "x"})
    later = narrowed.context["tree_links"]["later_url"]
    assert f"year={now.year}" in later and "after=x" in later
    beyond = as_vera.get(address, {"page": "999"})
    assert beyond.context["yields"].by_tree.number == 3
    for odd in ("-1", "x", "9" * 40, ""):
        shown = as_vera.get(address, {"page": odd}).context["yields"].by_tree
        assert shown.number == 1


def use_on(trees, by, at, *off_label):
    """Record a use on trees, of which some are on no label."""
    use = Treatment.objects.create(
        orchard=trees[0].orchard,
        kind="soap",
        started_at=at,
        ended_at=at,
        by=by,
        received_at=at,
    )
    TreatedTree.objects.bulk_create(
        TreatedTree(
            orchard=tree.orchard,
            treatment=use,
            tree=tree,
            reach="treated",
            is_on_label=tree not in off_label,
        )
        for tree in trees
    )
    return use


@pytest.mark.parametrize("room", ["harvests", "treatments"])
def test_trees_of_a_lot_or_a_use_are_counted_and_paged(orchard, as_vera, vera, room):
    trees, now = grow(orchard, MANY), timezone.now()

    def record(some):
        if room == "harvests":
            return pick_of(some, vera, now, f"lot-{len(some)}").pk
        return use_on(some, vera, now).pk

    few, many = (f"{HOME}{room}/{record(some)}/" for some in (trees[:FEW], trees))
    assert queries_for(as_vera, few) == queries_for(as_vera, many)
    text = as_vera.get(few).content.decode()
    assert "3 trees" in text and 'class="pager"' not in text
    pages = [answer.content.decode() for answer in pages_from(as_vera, many)]
    assert len(pages) == 3 and all("120 trees" in text for text in pages)
    assert "101 to 120 of 120" in pages[-1]
    for number in range(1, MANY + 1):
        named = [f"/trees/B-{number}/" in text for text in pages]
        assert named.index(True) == (number - 1) // 50 and sum(named) == 1
    beyond = as_vera.get(many, {"page": "77"}).content.decode()
    assert "101 to 120 of 120" in beyond


def test_the_whole_lot_is_counted_whatever_page_is_read(orchard, as_vera, vera):
    trees = grow(orchard, MANY)
    lot = pick_of(trees, vera, timezone.now(), "many", kg=0.5)
    lemon = make_tree(orchard, "C-1", kind="Eureka lemon")
    HarvestedTree.objects.create(harvest=lot, tree=lemon, kg=2)
    shown = as_vera.get(f"{HOME}harvests/{lot.pk}/", {"page": "2"}).context
    assert shown["balance"].picked.kg == 62
    assert shown["kinds"] == "Washington navel, Eureka lemon"


def test_trees_that_ask_for_an_adviser_come_first(orchard, as_cora, cora):
    trees = grow(orchard, MANY)
    use = use_on(trees, cora, timezone.now(), trees[90])
    shown = as_cora.get(f"{HOME}treatments/{use.pk}/").context["reached"]
    assert [line.code for line in shown[:2]] == ["B-91", "B-1"]


def test_spots_of_a_block_are_paged_and_saved_page_by_page(orchard, as_cora):
    trees = grow(orchard, MANY)
    few, _other = make_tree(orchard, "C-1"), make_tree(orchard, "C-2")
    little, address = f"{HOME}blocks/C/", f"{HOME}blocks/B/"
    assert queries_for(as_cora, little) == queries_for(as_cora, address)
    assert 'class="pager"' not in as_cora.get(little).content.decode()
    pages = pages_from(as_cora, address)
    shown = [
        [line["spot"].number for line in page.context["arrange"].lines()]
        for page in pages
    ]
    assert [len(numbers) for numbers in shown] == [50, 50, 20]
    assert sum(shown, []) == [tree.spot.number for tree in trees]

    # What was on the page is saved, whatever has moved to it meanwhile.
    spots = Spot.objects.filter(block__code="B")
    before = dict(spots.values_list("pk", "position"))
    sent = {"form": "arrangement"}
    for line in pages[1].context["arrange"].spots:
        sent[f"number_{line.spot.pk}"] = line.spot.number
        sent[f"position_{line.spot.pk}"] = line.spot.position
    moved, renamed = trees[60].spot, trees[70].spot
    sent[f"position_{moved.pk}"] = 999
    sent[f"number_{renamed.pk}"] = "7x"
    spots.filter(pk=trees[0].spot_id).update(position=75)
    answer = as_cora.post(f"{address}?page=2", sent)
    assert answer.url == f"{address}?page=2"
    after = dict(spots.values_list("pk", "position"))
    assert {pk for pk in before if before[pk] != after[pk]} == {
        moved.pk,
        trees[0].spot_id,
    }
    renamed.refresh_from_db()
    assert renamed.number == "7x"
    # A number that another page has is refused, and what was typed stays.
    sent[f"number_{renamed.pk}"] = "5"
    refused = as_cora.post(f"{address}?page=2", sent)
    assert refused.status_code == 422 and "twice" in refused.content.decode()
    assert len(refused.context["arrange"].spots) == 50
    # A spot of another block is not touched.
    other = few.spot
    sent = {"form": "arrangement", f"number_{other.pk}": "9", "position_1": "1"}
    as_cora.post(address, sent)
    other.refresh_from_db()
    assert other.number == "1"


def test_a_tree_leads_to_the_page_of_its_spot(orchard, as_cora):
    trees = grow(orchard, MANY)
    address = as_cora.get(f"{HOME}trees/B-101/").context["spot_url"]
    page = as_cora.get(address.partition("#")[0])
    assert f'id="spot-{trees[100].spot_id}"' in page.content.decode()
    assert page.context["page"].number == 3
    assert as_cora.get(page.context["earlier_url"]).context["page"].number == 2
    for odd in ("x", "9" * 30, str(trees[0].spot_id + 10**6)):
        shown = as_cora.get(f"{HOME}blocks/B/", {"spot": odd})
        assert shown.context["page"].number == 1


def looks_at(trees, by, at):
    """Record a look at each tree with a sign that its observer was not sure of."""
    looks = Inspection.objects.bulk_create(
        Inspection(
            orchard=tree.orchard,
            tree=tree,
            by=by,
            seen_at=at,
            seen_on=at.date(),
            made_at=at,
            received_at=at,
        )
        for tree in trees
    )
    return Finding.objects.bulk_create(
        Finding(
            inspection=look,
            tree=look.tree,
            sign="aphids",
            part="leaf",
            verdict="watch",
            recheck_on=look.seen_on,
            sure=False,
            rule="aphids.1",
            edition="1",
        )
        for look in looks
    )


def suspect(findings, by, at, *, closed=False):
    """Open a case for each of some findings, or close it."""
    answer = {"closed_at": at, "closed_by": by, "outcome": "Not found"}
    Case.objects.bulk_create(
        Case(
            orchard=row.tree.orchard,
            tree=row.tree,
            sign=row.sign,
            finding=row,
            opened_at=at,
            opened_by=by,
            **(answer if closed else {}),
        )
        for row in findings
    )


def test_open_second_looks_are_paged_the_longest_waiting_first(
    orchard, as_cora, cora, vera
):
    trees, now = grow(orchard, MANY), timezone.now()
    address = f"{HOME}second-looks/"

    def ask(findings):
        SecondLook.objects.bulk_create(
            SecondLook(orchard=orchard, finding=row, asked_at=now) for row in findings
        )

    findings = looks_at(trees, vera, now)
    assert "No second looks" in as_cora.get(address).content.decode()
    ask(findings[:FEW])
    few, home = queries_for(as_cora, address), queries_for(as_cora, HOME)
    text = as_cora.get(address).content.decode()
    assert "3 second looks are waiting" in text and 'class="pager"' not in text
    ask(findings[FEW:])
    assert (queries_for(as_cora, address), queries_for(as_cora, HOME)) == (few, home)
    pages = pages_from(as_cora, address)
    assert [len(page.context["rows"]) for page in pages] == [50, 50, 20]
    rows = [row for page in pages for row in page.context["rows"]]
    codes = [look.finding.tree.code for look, _name in rows]
    assert codes == [tree.code for tree in trees]
    # Where all that came after was answered meanwhile, one starts from the top.
    last = SecondLook.objects.latest("pk")
    moment = last.asked_at.astimezone(UTC).isoformat(timespec="microseconds")
    key = f"{moment.replace('.', ',')}.{last.pk}"
    assert len(as_cora.get(address, {"after": key}).context["rows"]) == 50


def test_open_and_closed_cases_are_paged_each_by_itself(orchard, as_cora, cora, vera):
    trees, now = grow(orchard, MANY), timezone.now()
    address = f"{HOME}cases/"
    assert "No open case" in as_cora.get(address).content.decode()
    findings = looks_at(trees, vera, now)
    suspect(findings[:FEW], cora, now)
    suspect(findings[:FEW], cora, now, closed=True)
    few, home = queries_for(as_cora, address), queries_for(as_cora, HOME)
    assert 'class="pager"' not in as_cora.get(address).content.decode()
    suspect(findings[FEW:], cora, now)
    suspect(findings[FEW:], cora, now, closed=True)
    assert (queries_for(as_cora, address), queries_for(as_cora, HOME)) == (few, home)
    shown = as_cora.get(HOME)
    assert shown.context["home"].case.tree == trees[0]
    assert "All 120 open cases" in shown.content.decode()
    for name in ("open", "closed"):
        pages = pages_from(as_cora, address, itemgetter(name))
        rows = [row for page in pages for row in page.context[name]["rows"]]
        codes = [case.tree.code for case, _name in rows]
        assert codes == [tree.code for tree in reversed(trees)]
    # The other list stays where it is.
    both = as_cora.get(pages[1].context["open"]["later_url"])
    first, second = (both.context[name]["rows"][0][0] for name in ("open", "closed"))
    assert (first.tree.code, second.tree.code) == ("B-95", "B-95")


def test_own_second_looks_go_on_those_that_wait_first(orchard, as_vera, vera, lee):
    trees, now = grow(orchard, MANY), timezone.now()
    address = f"{HOME}second-looks/mine/"
    answered = {"answered_at": now, "answered_by": lee, "answer": "agreed"}

    def ask(findings):
        SecondLook.objects.bulk_create(
            SecondLook(
                orchard=orchard,
                finding=row,
                asked_at=now - timedelta(days=1),
                **(answered if trees.index(row.tree) % 2 else {}),
            )
            for row in findings
        )

    findings = looks_at(trees, vera, now)
    assert "You have no second looks" in as_vera.get(address).content.decode()
    ask(findings[:FEW])
    few = queries_for(as_vera, address)
    assert 'class="pager"' not in as_vera.get(address).content.decode()
    ask(findings[FEW:])
    assert queries_for(as_vera, address) == few
    looks = [
        look for page in pages_from(as_vera, address) for look in page.context["looks"]
    ]
    assert len({look.pk for look in looks}) == MANY
    assert [look.answered_at is None for look in looks] == [True] * 60 + [False] * 60
    waiting = pages_from(as_vera, f"{address}?waiting=on")
    assert [len(page.context["looks"]) for page in waiting] == [50, 10]
    assert (
        "51 to 60 of 60"
        in as_vera.get(address, {"waiting": "on", "page": "9"}).content.decode()
    )


def test_all_closed_rounds_are_reached(orchard, as_vera, lee):
    now, address = timezone.now(), f"{HOME}rounds/?list=closed"
    assert "No round was closed yet" in as_vera.get(address).content.decode()

    def walk(numbers):
        Round.objects.bulk_create(
            Round(
                orchard=orchard,
                name=f"Walk {number}",
                walk_on=now.date(),
                made_at=now,
                made_by=lee,
                closed_at=now - timedelta(days=number),
                closed_by=lee,
            )
            for number in numbers
        )

    walk(range(FEW))
    few = queries_for(as_vera, address)
    assert 'class="pager"' not in as_vera.get(address).content.decode()
    walk(range(FEW, 70))
    assert queries_for(as_vera, address) == few
    assert '"?list=closed"' in as_vera.get(f"{HOME}rounds/").content.decode()
    pages = pages_from(as_vera, address)
    names = [row.round.name for page in pages for row in page.context["closed"]]
    assert names == [f"Walk {number}" for number in range(70)]
    assert "list=closed" in pages[1].context["earlier_url"]


def test_photos_without_a_tree_go_on(as_vera, vera, orchard, monkeypatch):
    monkeypatch.setattr(unassigned, "PAGE", 2)
    address = f"{HOME}strays/"
    assert "Every photo has its tree" in as_vera.get(address).content.decode()
    made = [stray(vera) for _n in range(2)]
    few = queries_for(as_vera, address)
    assert 'class="pager"' not in as_vera.get(address).content.decode()
    made += [stray(vera) for _n in range(3)]
    assert queries_for(as_vera, address) == few
    pages = pages_from(as_vera, address)
    shown = [row.photo for page in pages for row in page.context["strays"]]
    assert shown == made
    assert all("5 photos wait" in page.content.decode() for page in pages)


def test_of_many_free_spots_the_code_is_typed(orchard, as_cora):
    tree = make_tree(orchard, "B-1")
    spots = [
        Spot(block=tree.spot.block, number=str(n), position=n) for n in range(2, MANY)
    ]
    Spot.objects.bulk_create(spots[:FEW])
    new, move = f"{HOME}trees/new/", f"{HOME}trees/B-1/spot/"
    few = [queries_for(as_cora, address) for address in (new, move)]
    text = as_cora.get(new).content.decode()
    assert '<option value="B-4">B-4</option>' in text and "datalist" in text
    assert 'id="free-spots"' not in text
    Spot.objects.bulk_create(spots[FEW:])
    assert [queries_for(as_cora, address) for address in (new, move)] == few
    for address in (new, move):
        text = as_cora.get(address).content.decode()
        offered = text.partition('<datalist id="free-spots">')[2].partition("</data")[0]
        assert offered.count("<option") == 50
        assert 'list="free-spots"' in text and '<select name="spot"' not in text
    sent = {"on": "2026-05-01", "reason": "Shade"}
    refused = as_cora.post(move, {**sent, "spot": "B-999"})
    assert refused.status_code == 422
    assert "There is no spot B-999 here" in refused.content.decode()
    assert 'value="B-999"' in refused.content.decode()
    assert as_cora.post(move, {**sent, "spot": "b\u2013110 "}).status_code == 302
    tree.refresh_from_db()
    assert str(tree.spot) == "B-110"
    asked = as_cora.get(new, {"spot": "B-111"}).content.decode()
    assert 'value="B-111"' in asked


def test_of_many_trees_closed_to_picking_some_are_named(orchard, as_vera, vera, lee):
    trees, now = grow(orchard, MANY), timezone.now()
    address = f"{HOME}harvests/new/"

    def close(some):
        use = use_on(some, vera, now)
        use.reached.update(counts=True)

    close(trees[:FEW])
    few = queries_for(as_vera, address)
    text = as_vera.get(address).content.decode()
    assert "B-1, B-2, B-3" in text and "Find a tree" not in text
    close(trees[FEW:])
    assert queries_for(as_vera, address) == few
    text = as_vera.get(address).content.decode()
    assert "B-12 and 108 more" in text and "Find a tree" in text
    assert "B-90" not in text


def test_a_tree_for_slides_is_typed(orchard, client, eddy, vera):
    client.force_login(eddy)
    trees, address = grow(orchard, MANY), f"{HOME}talks/purposes/"

    def show(some):
        for tree in some:
            photo = stray(vera, audience="talks", people="nobody")
            photo.links.create(tree=tree)

    show(trees[:FEW])
    few = queries_for(client, address)
    assert "<option>B-3</option>" in client.get(address).content.decode()
    show(trees[FEW:])
    assert queries_for(client, address) == few
    text = client.get(address).content.decode()
    offered = text.partition('<datalist id="tree-codes">')[2].partition("</data")[0]
    assert offered.count("<option") == 50
    for typed, said in (("", "Say which tree"), ("B-999", "There is no tree B-999")):
        refused = client.post(address, {"purpose": "years", "tree": typed})
        assert refused.status_code == 422 and said in refused.content.decode()
    assert 'value="B-999"' in refused.content.decode()
