"""The pages of trees: the list, entering, correcting, and the ends of a tree."""

from __future__ import annotations

import re
from datetime import date, timedelta
from decimal import Decimal
from unittest import mock

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from orchard.records.models import Case, Change, Finding, Inspection, Tag, Tree
from orchard.services import trees
from tests.conftest import make_orchard, make_person, make_spot, make_tree


@pytest.fixture
def as_lee(client, lee):
    client.force_login(lee)
    return client


@pytest.fixture
def page(orchard):
    def address(name, *args):
        return reverse(name, args=[orchard.slug, *args])

    return address


def details_of(tree, **changes):
    values = {
        "code": tree.code,
        "kind": tree.kind_id,
        "rootstock": tree.rootstock,
        "setting": tree.setting,
        "planted_on": tree.planted_on or "",
        "born_on": tree.born_on or "",
        "on_display": "on",
    }
    return {**values, **changes}


# the list


def test_the_list_says_what_would_be_here(as_vera, page):
    html = as_vera.get(page("trees")).content.decode()
    assert "No trees yet." in html
    assert html.count("<h1") == 1


def test_the_list_finds_by_word_and_says_when_nothing_is_left(as_vera, page, orchard):
    make_tree(
        orchard, "A-1", kind="Valencia", condition=3, last_seen_on=date(2026, 5, 1)
    )
    make_tree(orchard, "A-2")
    html = as_vera.get(page("trees"), {"q": "valencia"}).content.decode()
    assert "A-1" in html
    assert "A-2" not in html
    assert "condition 3 of 5" in html
    html = as_vera.get(page("trees"), {"q": "quince"}).content.decode()
    assert "No tree matches." in html


@pytest.mark.parametrize(
    "query",
    ["page=abc", "page=-1", "page=999999999999", "state=x", "unseen=x", "block=%00"],
)
def test_the_list_takes_any_address_calmly(as_vera, page, tree, query):
    assert as_vera.get(f"{page('trees')}?{query}").status_code == 200


def test_the_list_takes_the_same_queries_for_few_trees_and_many(as_vera, page, orchard):
    counts = []
    for many in (range(5), range(5, 60)):
        for number in many:
            make_tree(orchard, f"A-{number}")
        with CaptureQueriesContext(connection) as queries:
            response = as_vera.get(page("trees"))
        assert response.status_code == 200
        counts.append(len(queries))
    assert counts[0] == counts[1]


def test_the_list_goes_on_and_keeps_what_was_asked(as_vera, page, orchard):
    for number in range(60):
        make_tree(orchard, f"A-{number}")
    html = as_vera.get(page("trees"), {"q": "A-"}).content.decode()
    assert "1 to 50 of 60" in html
    assert "q=A-&amp;page=2" in html


def test_only_those_who_keep_trees_are_offered_to_enter_one(
    client, vera, lee, page, tree
):
    client.force_login(vera)
    assert page("tree-new") not in client.get(page("trees")).content.decode()
    client.force_login(lee)
    html = client.get(page("trees")).content.decode()
    assert page("tree-new") in html
    assert page("register") not in html


@pytest.mark.parametrize("code", ["%00", "A%00", "Q-9"])
def test_a_code_nobody_has_is_not_there(as_lee, page, tree, code):
    assert as_lee.get(page("trees") + code + "/details/").status_code == 404
    assert as_lee.get(page("blocks") + code + "/").status_code == 404


# who may


@pytest.mark.parametrize(
    "name", ["tree-spot", "tree-state", "tree-removal", "tree-replacement", "tree-tag"]
)
def test_a_volunteer_changes_no_tree_and_an_outsider_sees_none(
    client, vera, otto, page, tree, name
):
    client.force_login(vera)
    assert client.get(page(name, tree.code)).status_code == 403
    assert client.post(page(name, tree.code)).status_code == 403
    client.force_login(otto)
    assert client.get(page(name, tree.code)).status_code == 404


def test_a_volunteer_reads_the_details_and_cannot_correct_them(
    as_vera, page, tree, lee, now, today
):
    trees.correct(
        tree, by=lee, now=now, today=today, reason="label", rootstock="Rough lemon"
    )
    html = as_vera.get(page("tree-details", tree.code)).content.decode()
    assert "Rough lemon" in html
    assert "by Lee" in html
    assert "<textarea" not in html
    sent = details_of(tree, reason="x", rootstock="")
    assert as_vera.post(page("tree-details", tree.code), sent).status_code == 403


# entering


def test_a_tree_is_entered(as_lee, page, orchard, tree):
    spot = make_spot(orchard, "2")
    sent = details_of(tree, code="A-2", spot=spot, planted_on="2025-04-01")
    response = as_lee.post(page("tree-new"), sent)
    assert response.status_code == 302
    assert response.url == page("tree-show", "A-2")
    assert Tree.objects.get(code="A-2").spot == spot


def test_the_spot_asked_for_is_chosen_already(as_lee, page, orchard, tree):
    make_spot(orchard, "2")
    html = as_lee.get(page("tree-new"), {"spot": "A-2"}).content.decode()
    assert '<option value="A-2" selected>A-2</option>' in html


def test_without_a_free_spot_the_page_says_so(as_lee, page, tree):
    assert "No spot is free." in as_lee.get(page("tree-new")).content.decode()


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"code": "A-1"}, "never used twice"),
        ({"code": ""}, "Give the tree a code."),
        ({"code": "a/b"}, "a valid code. Use"),
        ({"kind": ""}, "Choose the cultivar."),
        ({"spot": ""}, "Choose a spot."),
        ({"planted_on": "2999-01-01"}, "is in the future"),
        ({"planted_on": "30/04/2021"}, "Write the day as 2021-04-30."),
        ({"own_roots": "on"}, "own roots has no rootstock"),
        ({"container_litres": "20"}, "This one is in the ground"),
        ({"setting": "container", "container_litres": "-1"}, "above 0"),
        ({"setting": "tree"}, "not one of the available choices"),
    ],
)
def test_a_refused_tree_comes_back_with_the_reason_and_what_was_typed(
    as_lee, page, orchard, tree, changes, said
):
    spot = make_spot(orchard, "2")
    sent = details_of(tree, code="A-2", spot=spot, note="kept words") | changes
    response = as_lee.post(page("tree-new"), sent)
    assert response.status_code == 422
    html = response.content.decode()
    assert said in html
    assert "kept words" in html
    assert Tree.objects.count() == 1


def test_another_orchards_spot_or_kind_is_no_choice(
    as_lee, page, orchard, tree, southbank
):
    theirs = make_tree(southbank, "Z-1")
    make_spot(orchard, "2")
    for changes in (
        {"spot": make_spot(southbank, "7", "Z")},
        {"spot": make_spot(orchard, "2"), "kind": theirs.kind_id},
    ):
        sent = details_of(tree, code="A-2") | changes
        assert as_lee.post(page("tree-new"), sent).status_code == 422


def test_a_spot_taken_meanwhile_is_told(as_lee, page, orchard, tree):
    make_spot(orchard, "2")
    sent = details_of(tree, code="A-2", spot=tree.spot)
    response = as_lee.post(page("tree-new"), sent)
    assert response.status_code == 422
    assert "already has A-1" in response.content.decode()


# correcting


def test_a_correction_with_a_reason_is_kept_and_can_be_read(as_lee, page, tree):
    sent = details_of(tree, rootstock="Sour orange", reason="read the label")
    response = as_lee.post(page("tree-details", tree.code), sent)
    assert response.status_code == 302
    html = as_lee.get(page("tree-details", tree.code)).content.decode()
    assert "<s>Carrizo / Troyer citrange</s>" in html
    assert "read the label" in html


def test_a_correction_without_a_reason_changes_nothing(as_lee, page, tree):
    sent = details_of(tree, rootstock="Sour orange", reason="")
    response = as_lee.post(page("tree-details", tree.code), sent)
    assert response.status_code == 422
    assert "Say in a few words why." in response.content.decode()
    tree.refresh_from_db()
    assert tree.rootstock == "Carrizo / Troyer citrange"


def test_a_corrected_code_leads_to_the_new_address(as_lee, page, tree):
    sent = details_of(tree, code="A-1b", reason="typo")
    response = as_lee.post(page("tree-details", "A-1"), sent)
    assert response.url == page("tree-show", "A-1b")


def test_gallons_are_shown_and_kept_as_litres(client, page, db):
    """15 US gal = 56.78 L (231 cubic inches, NIST SP 811 appendix B, from memory)."""
    orchard = make_orchard("gallons", units="us")
    client.force_login(make_person("Lou", orchard, "lead"))
    tree = make_tree(orchard, setting="container", container_litres=Decimal("57.3"))
    address = reverse("tree-details", args=["gallons", tree.code])
    html = client.get(address).content.decode()
    assert "US gal" in html
    assert 'value="15.1"' in html
    same = details_of(tree, container_litres="15.1", note="seen", reason="x")
    client.post(address, same)
    tree.refresh_from_db()
    assert (tree.container_litres, tree.note) == (Decimal("57.3"), "seen")
    client.post(address, details_of(tree, container_litres="15", reason="x"))
    tree.refresh_from_db()
    assert tree.container_litres == Decimal("56.8")


# what happens to a tree


def test_a_move_is_noted(as_lee, page, orchard, tree, today):
    spot = make_spot(orchard, "7", "B")
    sent = {"spot": spot, "on": "2026-05-01", "reason": "shade"}
    assert as_lee.post(page("tree-spot", tree.code), sent).status_code == 302
    tree.refresh_from_db()
    assert tree.spot == spot
    sent["on"] = "2015-01-01"
    sent["spot"] = make_spot(orchard, "8", "B")
    response = as_lee.post(page("tree-spot", tree.code), sent)
    assert response.status_code == 422
    assert "was planted on" in response.content.decode()


@pytest.mark.parametrize(
    ("what", "state"), [("dead", "dead"), ("rootstock_only", "rootstock_only")]
)
def test_the_end_of_a_tree_is_noted_and_can_be_taken_back(
    as_lee, page, tree, what, state
):
    sent = {"what": what, "on": "2026-05-01", "reason": "frost"}
    assert as_lee.post(page("tree-state", tree.code), sent).status_code == 302
    tree.refresh_from_db()
    assert tree.state == state
    refused = as_lee.post(page("tree-state", tree.code), {"what": "back"})
    assert refused.status_code == 422
    as_lee.post(page("tree-state", tree.code), {"what": "back", "back-reason": "alive"})
    tree.refresh_from_db()
    assert tree.state == "growing"


def test_a_tree_on_own_roots_is_not_offered_rootstock_only(as_lee, page, orchard):
    tree = make_tree(orchard, own_roots=True)
    html = as_lee.get(page("tree-state", tree.code)).content.decode()
    assert "rootstock_only" not in html
    sent = {"what": "rootstock_only", "on": "2026-05-01", "reason": "frost"}
    assert as_lee.post(page("tree-state", tree.code), sent).status_code == 422


def test_a_removal_needs_a_reason_and_shows_the_usual_caution(as_lee, page, tree):
    html = as_lee.get(page("tree-removal", tree.code)).content.decode()
    assert "Take care" in html
    assert "Local rules and licensed practice come first." in html
    sent = {"on": "2026-05-01", "reason": ""}
    assert as_lee.post(page("tree-removal", tree.code), sent).status_code == 422
    sent["reason"] = "blown over"
    assert as_lee.post(page("tree-removal", tree.code), sent).status_code == 302
    html = as_lee.get(page("tree-removal", tree.code)).content.decode()
    assert "It is removed already." in html


@pytest.mark.parametrize("name", ["tree-spot", "tree-removal", "tree-replacement"])
def test_a_suspected_regulated_pest_is_told_before_a_tree_is_moved(
    as_lee, page, tree, orchard, lee, now, today, name
):
    words = "Nothing leaves this tree now."
    assert words not in as_lee.get(page(name, tree.code)).content.decode()
    inspection = Inspection.objects.create(
        orchard=orchard,
        tree=tree,
        by=lee,
        seen_on=today,
        seen_at=now,
        made_at=now,
        received_at=now,
    )
    finding = Finding.objects.create(
        inspection=inspection,
        tree=tree,
        sign="psyllid_nymph",
        verdict="report",
        rule="psyllid_nymph/1",
        edition="test",
        private=True,
    )
    Case.objects.create(
        orchard=orchard,
        tree=tree,
        sign="psyllid_nymph",
        finding=finding,
        opened_at=now,
        opened_by=lee,
    )
    assert words in as_lee.get(page(name, tree.code)).content.decode()


def test_a_replacement_is_entered_in_the_same_spot(as_lee, page, tree):
    sent = details_of(tree, code="A-1b", planted_on="2026-05-01", reason="declined")
    response = as_lee.post(page("tree-replacement", tree.code), sent)
    assert response.url == page("tree-show", "A-1b")
    fresh = Tree.objects.get(code="A-1b")
    assert (fresh.replaces, fresh.spot) == (tree, tree.spot)
    sent["code"] = "A-1c"
    again = as_lee.post(page("tree-replacement", tree.code), sent)
    assert again.status_code == 422
    assert "has been replaced by A-1b" in again.content.decode()


def test_a_replacement_needs_its_day(as_lee, page, tree):
    sent = details_of(tree, code="A-1b", planted_on="")
    response = as_lee.post(page("tree-replacement", tree.code), sent)
    assert response.status_code == 422
    tree.refresh_from_db()
    assert tree.is_standing


def test_a_tag_is_made_and_made_anew(as_lee, page, tree):
    address = page("tree-tag", tree.code)
    assert "No tag yet." in as_lee.get(address).content.decode()
    assert as_lee.post(address).status_code == 302
    first = Tag.objects.get()
    html = as_lee.get(address).content.decode()
    assert f"/t/{first.token}/" in html
    assert "<svg" in html
    assert "style=" not in html
    assert as_lee.post(address, {"reason": ""}).status_code == 422
    assert as_lee.post(address, {"reason": "faded"}).status_code == 302
    first.refresh_from_db()
    assert first.retired_reason == "faded"
    assert Tag.objects.count() == 2
    assert "faded" in as_lee.get(address).content.decode()


def test_every_page_of_a_tree_has_one_heading(as_lee, page, tree):
    for name in (
        "tree-details",
        "tree-spot",
        "tree-state",
        "tree-removal",
        "tree-replacement",
        "tree-tag",
    ):
        html = as_lee.get(page(name, tree.code)).content.decode()
        assert html.count("<h1") == 1, name
        assert " style=" not in html, name


def test_the_history_is_read_with_the_same_queries_however_long(
    as_lee, page, tree, lee, now, today
):
    counts = []
    for number in range(8):
        trees.correct(
            tree, by=lee, now=now, today=today, reason="again", note=f"note {number}"
        )
        with CaptureQueriesContext(connection) as queries:
            as_lee.get(page("tree-details", tree.code))
        counts.append(len(queries))
    assert len(set(counts[1:])) == 1
    assert Change.objects.filter(tree=tree).count() == 8


def test_days_are_read_in_the_orchards_own_zone(client, db):
    """At 20:00 UTC it is already tomorrow in Adelaide (UTC+9:30)."""
    orchard = make_orchard("adelaide-garden", south=True)
    client.force_login(make_person("Lou", orchard, "lead"))
    tree = make_tree(orchard)
    evening = timezone.now().replace(hour=20, minute=0)
    tomorrow = evening.date() + timedelta(days=1)
    with mock.patch("orchard.web.doorkeeper.timezone.now", return_value=evening):
        response = client.post(
            reverse("tree-removal", args=[orchard.slug, tree.code]),
            {"on": tomorrow, "reason": "wind"},
        )
    assert response.status_code == 302
    tree.refresh_from_db()
    assert tree.removed_on == tomorrow


# a year where nobody knows the day


def test_a_tree_is_entered_with_the_year_alone(as_lee, page, orchard, tree):
    sent = details_of(tree, code="A-2", spot=make_spot(orchard, "2"), born_on="")
    today = as_lee.get(page("tree-new")).content.decode()
    # The day that the form shows stands as it was; the year that is typed counts.
    shown = re.search(r'name="planted_on" value="([^"]+)"', today)[1]
    sent |= {"planted_on": shown, "planted_year": "2015"}
    assert as_lee.post(page("tree-new"), sent).status_code == 302
    fresh = Tree.objects.get(code="A-2")
    assert (fresh.planted_on, fresh.planted_precision) == (date(2015, 1, 1), "year")
    html = as_lee.get(page("tree-show", fresh)).content.decode()
    assert '<time class="when" datetime="2015"><b>2015</b></time>' in html
    assert "years since planting" in html and "about" in html
    assert "1 Jan 2015" not in html
    details = as_lee.get(page("tree-details", fresh)).content.decode()
    assert 'name="planted_year" value="2015"' in details


def test_a_day_and_another_year_are_not_both_taken(as_lee, page, orchard, tree):
    sent = details_of(tree, code="A-2", spot=make_spot(orchard, "2").pk)
    sent |= {"planted_on": "2020-04-01", "planted_year": "2015"}
    response = as_lee.post(page("tree-new"), sent)
    assert response.status_code == 422
    assert "Give the day, or only the year, not both." in response.content.decode()


@pytest.mark.parametrize("year", ["15", "20155", "spring"])
def test_a_year_has_four_digits(as_lee, page, orchard, tree, year):
    sent = details_of(tree, code="A-2", spot=make_spot(orchard, "2").pk)
    response = as_lee.post(page("tree-new"), sent | {"planted_year": year})
    assert response.status_code == 422
    assert "Write a year of four digits." in response.content.decode()


def test_a_year_left_as_it_was_stays_and_gives_way_to_a_day(as_lee, page, orchard):
    tree = make_tree(
        orchard, planted_on=date(2015, 1, 1), planted_precision="year", born_on=None
    )
    sent = details_of(tree, planted_on="", planted_year="2015", reason="note added")
    as_lee.post(page("tree-details", tree), sent | {"note": "by the gate"})
    tree.refresh_from_db()
    assert (tree.planted_precision, tree.note) == ("year", "by the gate")
    as_lee.post(page("tree-details", tree), sent | {"planted_on": "2015-04-03"})
    tree.refresh_from_db()
    assert (tree.planted_on, tree.planted_precision) == (date(2015, 4, 3), "day")
