"""The orchard's details, blocks, spots and kinds as pages."""

from __future__ import annotations

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from orchard.records.models import Block, Change, Kind, Orchard
from orchard.services import house_rules
from orchard.web.days_of_year import calendar_day, season_day
from tests.conftest import NOW, make_person, make_spot, make_tree


@pytest.fixture
def page(orchard):
    def address(name, *args):
        return reverse(name, args=[orchard.slug, *args])

    return address


@pytest.fixture
def as_lee(client, lee):
    client.force_login(lee)
    return client


def sent_for(orchard, **changes):
    values = {
        "name": orchard.name,
        "place": orchard.place,
        "time_zone": orchard.time_zone,
        "latitude": orchard.latitude,
        "longitude": orchard.longitude,
        "elevation": orchard.elevation_m,
        "units": orchard.units,
        "maturity_standard": orchard.maturity_standard,
        "frost_from_day": "1",
        "frost_from_month": "11",
        "frost_to_day": "15",
        "frost_to_month": "3",
    }
    return {**values, **changes}


# details


def test_everybody_reads_the_details_and_only_the_coordinator_changes_them(
    client, vera, lee, otto, page, orchard
):
    for person in (vera, lee):
        client.force_login(person)
        response = client.get(page("orchard-details"))
        assert response.status_code == 200
        assert "Save the details" not in response.content.decode()
        sent = sent_for(orchard, name="Mine")
        assert client.post(page("orchard-details"), sent).status_code == 403
    client.force_login(otto)
    assert client.get(page("orchard-details")).status_code == 404


def test_the_frost_season_is_told_in_the_orchards_own_months(
    client, page, vera, southbank
):
    client.force_login(vera)
    html = client.get(page("orchard-details")).content.decode()
    assert "from 1 November to 15 March" in html
    client.force_login(make_person("Sue", southbank, "volunteer"))
    html = client.get(reverse("orchard-details", args=["southbank"])).content.decode()
    assert "from 1 May to 15 September" in html


def test_details_are_changed_and_written_down(as_cora, page, orchard):
    sent = sent_for(orchard, name="Alder Garden", authority_name="The authority")
    response = as_cora.post(page("orchard-details"), sent)
    assert response.status_code == 302
    orchard.refresh_from_db()
    assert orchard.name == "Alder Garden"
    assert (orchard.frost_from, orchard.frost_to) == ("SM9-01", "SM1-15")
    assert Change.objects.filter(subject_type="orchard").exists()


@pytest.mark.parametrize(
    ("changes", "said", "turns"),
    [
        ({"latitude": "38.6"}, "worked out again", False),
        ({"latitude": "-38.5"}, "spring and autumn change places", True),
        ({"time_zone": "Europe/Madrid"}, "worked out again", False),
    ],
)
def test_a_move_on_the_map_asks_before_it_is_kept(
    as_cora, page, orchard, changes, said, turns
):
    response = as_cora.post(page("orchard-details"), sent_for(orchard, **changes))
    assert response.status_code == 422
    html = response.content.decode()
    assert said in html
    assert "Records keep their day" in html
    assert ("change places" in html) is turns
    orchard.refresh_from_db()
    assert str(orchard.latitude) == "38.50000"
    assert orchard.time_zone == "Europe/Lisbon"
    confirmed = sent_for(orchard, confirmed="on", **changes)
    assert as_cora.post(page("orchard-details"), confirmed).status_code == 302
    orchard.refresh_from_db()
    for name, value in changes.items():
        assert str(getattr(orchard, name)).startswith(value)


def test_a_first_region_is_named_without_asking_anything_anew(
    as_cora, page, orchard, cora
):
    set_pest(orchard, cora)
    sent = sent_for(orchard, region="florida")
    assert as_cora.post(page("orchard-details"), sent).status_code == 302
    orchard.refresh_from_db()
    assert orchard.region == "florida"
    assert house_rules.confirmed_status(orchard) == {"DIAACI": "common"}


def test_another_region_asks_about_the_pests_anew_and_says_so_before(
    as_cora, page, orchard, cora
):
    Orchard.objects.update(region="florida")
    set_pest(orchard, cora)
    sent = sent_for(orchard, region="arizona")
    response = as_cora.post(page("orchard-details"), sent)
    assert response.status_code == 422
    html = response.content.decode()
    assert "Yes, ask about the pests again" in html
    assert "worked out again" not in html
    assert "must be confirmed again" in html
    assert house_rules.confirmed_status(orchard) == {"DIAACI": "common"}
    answer = as_cora.post(page("orchard-details"), {**sent, "confirmed": "on"})
    assert answer.url == page("pests")
    orchard.refresh_from_db()
    assert orchard.region == "arizona"
    assert "DIAACI" in house_rules.unset_pests(orchard)
    # Until it is confirmed it works as the guide has it, and the page suggests.
    assert house_rules.pest_status(orchard)["DIAACI"] == "absent"
    line = Change.objects.filter(subject_type="peststatus").latest("id")
    assert (line.before["status"], line.by) == ("common", cora)
    assert line.verb == "ask_anew"
    shown = as_cora.get(page("pests")).content.decode()
    assert "not set: ask the authority" in shown
    suggested = house_rules.suggested_status("arizona")["DIAACI"]
    field = shown[shown.index('name="pest-DIAACI"') :]
    assert f'<option value="{suggested}" selected' in field[: field.index("</select>")]


def test_a_region_that_is_taken_away_is_not_called_a_new_one(
    as_cora, page, orchard, cora
):
    Orchard.objects.update(region="florida")
    set_pest(orchard, cora)
    for region, answered in (
        ("", "No region is set now. Set the pest status here again."),
        ("florida", "Details saved."),
        ("arizona", "Set the pest status for the new region"),
    ):
        orchard.refresh_from_db()
        sent = sent_for(orchard, region=region, confirmed="on")
        html = as_cora.post(page("orchard-details"), sent, follow=True).content.decode()
        assert answered in html
        assert ("new region" in html) is (region == "arizona")
    assert "DIAACI" in house_rules.unset_pests(orchard)


def test_a_region_kept_asks_nothing_and_one_that_is_none_is_refused(
    as_cora, page, orchard, cora
):
    Orchard.objects.update(region="florida")
    set_pest(orchard, cora)
    sent = sent_for(orchard, region="florida", name="Alder Garden")
    assert as_cora.post(page("orchard-details"), sent).status_code == 302
    assert house_rules.confirmed_status(orchard) == {"DIAACI": "common"}
    sent = sent_for(orchard, region="atlantis", confirmed="on")
    assert as_cora.post(page("orchard-details"), sent).status_code == 422
    assert Orchard.objects.get(pk=orchard.pk).region == "florida"


def test_all_read_the_region_and_who_may_change_it(client, page, vera, orchard):
    Orchard.objects.update(region="florida")
    client.force_login(vera)
    html = client.get(page("orchard-details")).content.decode()
    assert "<dt>Region</dt><dd>Florida</dd>" in html
    assert "The coordinator can correct it." in html


def set_pest(orchard, by):
    house_rules.set_pest_status(
        orchard, code="DIAACI", status="common", source="Notice", by=by, now=NOW
    )


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"name": ""}, "required"),
        ({"latitude": "95"}, "from -90 to 90"),
        ({"longitude": "200"}, "from -180 to 180"),
        ({"time_zone": "Mars/Base", "confirmed": "on"}, "a time zone. Write it like"),
        ({"frost_from_day": "", "frost_from_month": "11"}, "the day and the month"),
        (
            {"frost_from_day": "", "frost_from_month": ""},
            "both ends of the frost season",
        ),
        ({"frost_from_day": "40"}, "less than or equal to 31"),
    ],
)
def test_details_that_make_no_sense_are_refused(as_cora, page, orchard, changes, said):
    response = as_cora.post(page("orchard-details"), sent_for(orchard, **changes))
    assert response.status_code == 422
    assert said in response.content.decode()


@pytest.mark.parametrize(
    ("day", "latitude", "kept"),
    [((1, 11), 38.5, "SM9-01"), ((15, 3), 38.5, "SM1-15"), ((1, 5), -34.8, "SM9-01")],
)
def test_a_day_of_the_year_is_kept_by_the_season(day, latitude, kept):
    """Spring begins in March north, in September south (WMO seasons, from memory)."""
    assert season_day(day, latitude) == kept
    assert calendar_day(kept, latitude) == day


# blocks and spots


def test_blocks_are_added_by_those_who_keep_trees(client, vera, lee, page, orchard):
    client.force_login(vera)
    assert "No blocks yet." in client.get(page("blocks")).content.decode()
    assert client.post(page("blocks"), {"code": "N"}).status_code == 403
    client.force_login(lee)
    response = client.post(page("blocks"), {"code": "N", "name": "North wall"})
    assert response.url == page("block-show", "N")
    refused = client.post(page("blocks"), {"code": "n", "name": ""})
    assert refused.status_code == 422
    assert "There is a block n already." in refused.content.decode()


def test_a_block_shows_its_spots_and_what_stands_in_them(as_vera, page, orchard):
    make_tree(orchard, "A-1")
    make_spot(orchard, "2")
    html = as_vera.get(page("block-show", "A")).content.decode()
    assert "Washington navel" in html
    assert "free" in html
    assert "<h1>Block A</h1>" in html
    assert '<button class="button">Save' not in html


def test_spots_are_added_renamed_and_ordered(as_lee, page, orchard):
    spot = make_spot(orchard, "1")
    address = page("block-show", "A")
    as_lee.post(address, {"form": "spots", "numbers": "2-4"})
    assert spot.block.spots.count() == 4
    sent = {"form": "arrangement"}
    for row in spot.block.spots.all():
        sent[f"number_{row.pk}"] = row.number
        sent[f"position_{row.pk}"] = 10 - int(row.number)
    sent[f"number_{spot.pk}"] = "1a"
    sent[f"over_path_{spot.pk}"] = "on"
    assert as_lee.post(address, sent).status_code == 302
    spot.refresh_from_db()
    assert (spot.number, spot.over_path, spot.position) == ("1a", True, 9)
    sent[f"number_{spot.pk}"] = "2"
    refused = as_lee.post(address, sent)
    assert refused.status_code == 422
    assert "twice" in refused.content.decode()


def test_a_block_is_renamed(as_lee, page, orchard):
    make_spot(orchard, "1")
    sent = {"form": "block", "code": "W", "name": "West wall", "position": "3"}
    response = as_lee.post(page("block-show", "A"), sent)
    assert response.url == page("block-show", "W")
    assert Block.objects.get().name == "West wall"
    sent["name"] = ""
    assert as_lee.post(page("block-show", "W"), sent).status_code == 422


@pytest.mark.parametrize("form", ["", "other"])
def test_a_form_nobody_knows_is_not_there(as_lee, page, orchard, form):
    make_spot(orchard, "1")
    assert as_lee.post(page("block-show", "A"), {"form": form}).status_code == 404


def test_a_volunteer_changes_no_block_and_an_outsider_sees_none(
    client, vera, otto, page, orchard
):
    make_spot(orchard, "1")
    client.force_login(vera)
    sent = {"form": "spots", "numbers": "9"}
    assert client.post(page("block-show", "A"), sent).status_code == 403
    client.force_login(otto)
    assert client.get(page("block-show", "A")).status_code == 404


def test_a_block_takes_the_same_queries_for_few_spots_and_many(as_lee, page, orchard):
    counts = []
    for many in (range(1, 4), range(4, 40)):
        for number in many:
            make_tree(orchard, f"A-{number}")
        with CaptureQueriesContext(connection) as queries:
            as_lee.get(page("block-show", "A"))
        counts.append(len(queries))
    assert counts[0] == counts[1]


# kinds


def test_kinds_are_added_from_the_guide_and_beside_it(client, vera, lee, page, orchard):
    client.force_login(vera)
    assert "No cultivars yet." in client.get(page("kinds")).content.decode()
    sent = {"name": "Gate fig", "host": "fig", "other_names": "Fig, Old fig"}
    assert client.post(page("kinds"), sent).status_code == 403
    client.force_login(lee)
    assert client.post(page("kinds"), sent).status_code == 302
    client.post(page("kinds"), {"name": "meyer lemon", "host": "citrus"})
    assert Kind.objects.get(name="Meyer lemon").tender_class == "T3"
    assert Kind.objects.get(name="Gate fig").other_names == ["Fig", "Old fig"]
    refused = client.post(page("kinds"), sent)
    assert refused.status_code == 422
    assert "already has the cultivar" in refused.content.decode()
    html = client.get(page("kinds")).content.decode()
    assert 'value="Meyer lemon"' not in html
    assert 'value="Valencia"' in html


def test_a_kind_is_corrected_and_one_of_the_guide_keeps_its_name(
    as_lee, page, orchard, southbank
):
    as_lee.post(page("kinds"), {"name": "Meyer lemon", "host": "citrus"})
    kind = Kind.objects.get(orchard=orchard)
    sent = {"name": "Other", "host": "fig", "other_names": "Gate lemon"}
    assert as_lee.post(page("kind-show", kind.pk), sent).status_code == 302
    kind.refresh_from_db()
    assert (kind.name, kind.other_names) == ("Meyer lemon", ["Gate lemon"])
    theirs = make_tree(southbank).kind
    assert as_lee.get(page("kind-show", theirs.pk)).status_code == 404


def test_every_page_of_places_has_one_heading(as_cora, page, orchard):
    tree = make_tree(orchard, "A-1")
    for address in (
        page("orchard-details"),
        page("blocks"),
        page("block-show", "A"),
        page("kinds"),
        page("kind-show", tree.kind_id),
    ):
        html = as_cora.get(address).content.decode()
        assert html.count("<h1") == 1, address
        assert " style=" not in html, address
