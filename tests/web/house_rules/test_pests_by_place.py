"""Pests by place: suggested for the region, confirmed by a person, never in silence."""

from __future__ import annotations

import pytest

from orchard.records.models import Change, Orchard, PestStatus
from orchard.science import guide
from orchard.science.words import LocalStatus
from orchard.services import house_rules, inspections, orchards
from orchard.services.inspections import SeenSign
from tests.conftest import NOW, make_person
from tests.refusals import refused

pytestmark = pytest.mark.django_db
PESTS = "/alderbrook/pests/"
NOT_SET = "not set: ask the authority"
REGIONS = (
    "med_europe", "florida", "texas", "arizona", "south_australia", "queensland",
    "new_south_wales",
)  # fmt: skip
# Published or remembered standings, some of each: region, pest, status.
STANDINGS = [
    ("med_europe", "CERTCA", "common"),
    ("florida", "CERTCA", "absent"),
    ("south_australia", "DACUTR", "regulated"),
    ("queensland", "DACUTR", "common"),
    ("texas", "DIAACI", "common"),
    ("arizona", "DIAACI", "regulated"),
    ("med_europe", "TRIZER", "regulated"),
    ("florida", "XANTCI", "common"),
    ("texas", "XANTCI", "regulated"),
    ("arizona", "TOXOCI", "absent"),
    ("new_south_wales", "gall_wasp", "common"),
    ("med_europe", "gall_wasp", "absent"),
    ("florida", "ALECWO", "common"),
    ("queensland", "SPIRCI", "absent"),
]


def confirmed(orchard, by, **statuses):
    return house_rules.confirm_pests(
        orchard, statuses=statuses, source="Notice of 3 May", by=by, now=NOW
    )


@pytest.mark.parametrize(("region", "code", "status"), STANDINGS)
def test_the_guide_suggests_what_is_known_of_a_region(region, code, status):
    assert house_rules.suggested_status(region)[code] == status


def test_every_pest_has_a_word_for_every_region_and_some_are_to_be_asked():
    for row in guide.load().standings.values():
        assert tuple(row.by_region) == REGIONS
        assert set(row.read) <= set(REGIONS)
    asked = {
        (code, region)
        for code, row in guide.load().standings.items()
        for region, status in row.by_region.items()
        if status is None
    }
    assert ("SCITAU", "queensland") in asked
    assert ("DEUTTR", "med_europe") in asked
    assert "SCITAU" not in house_rules.suggested_status("queensland")
    assert house_rules.suggested_status("") == {}


def test_what_nobody_set_works_as_absent_and_the_verdict_says_so(tree, vera, cora):
    found = {"by": vera, "now": NOW, "seen_at": NOW}
    fly = [SeenSign("fruit_fly", {"count": 3})]
    before = inspections.record(tree, findings=fly, **found).inspection
    [finding] = before.findings.all()
    assert finding.verdict == "report"
    assert any(NOT_SET in sentence for sentence in finding.because)
    statuses = dict.fromkeys(list(guide.load().signs["fruit_fly"].eppo), "absent")
    confirmed(tree.orchard, cora, **statuses)
    after = inspections.record(tree, findings=fly, **found).inspection
    [finding] = after.findings.all()
    assert finding.verdict == "report"
    assert not any(NOT_SET in sentence for sentence in finding.because)


def test_a_founded_orchard_has_nothing_set_whatever_the_region(orchard, otto):
    made = orchards.found(
        name="Alder Glade", place="Nowhere", time_zone="Europe/Lisbon", latitude="38",
        longitude="-8", region="med_europe", coordinator=otto, now=NOW,
    )  # fmt: skip
    assert set(house_rules.unset_pests(made)) == set(guide.load().standings)
    statuses = house_rules.pest_status(made)
    for code in guide.load().standings:
        assert statuses[code] == LocalStatus.ABSENT
    with refused("bad_details", match="isn't a region here"):
        orchards.correct_details(made, by=otto, now=NOW, region="atlantis")


def test_confirming_keeps_who_and_when_and_leaves_the_rest_open(orchard, cora):
    confirmed(orchard, cora, CERTCA="common", DIAACI="absent")
    row = PestStatus.objects.get(orchard=orchard, code="CERTCA")
    assert (row.status, row.source, row.set_by, row.set_at) == (
        "common", "Notice of 3 May", cora, NOW,
    )  # fmt: skip
    assert "CERTCA" not in house_rules.unset_pests(orchard)
    assert "XANTCI" in house_rules.unset_pests(orchard)
    assert Change.objects.filter(subject_type="peststatus").count() == 2
    with refused("nothing_changed"):
        confirmed(orchard, cora, CERTCA="common")
    with refused("source_missing"):
        house_rules.confirm_pests(
            orchard, statuses={"XANTCI": "absent"}, source=" ", by=cora, now=NOW
        )


@pytest.mark.parametrize("role", ["volunteer", "lead", "educator", "office"])
def test_all_read_that_it_is_not_set_and_none_but_the_coordinator_sets_it(
    client, orchard, role
):
    client.force_login(make_person("Reader", orchard, role))
    page = client.get(PESTS).content.decode()
    assert NOT_SET in page
    assert 'name="pest-CERTCA"' not in page
    answer = client.post(PESTS, {"confirm": "1", "source": "I say so"})
    assert answer.status_code == 403
    assert not PestStatus.objects.exclude(set_by=None).exists()


def test_the_coordinator_confirms_what_the_region_suggests(client, orchard, cora):
    Orchard.objects.update(region="med_europe")
    client.force_login(cora)
    page = client.get(PESTS).content.decode()
    assert '<option value="common" selected' in page
    sent = {
        f"pest-{code}": status
        for code, status in house_rules.suggested_status("med_europe").items()
    }
    refused_page = client.post(PESTS, {"confirm": "1", **sent})
    assert refused_page.status_code == 422
    answer = client.post(PESTS, {"confirm": "1", "source": "Notice", **sent})
    assert answer.status_code == 302
    assert house_rules.confirmed_status(orchard) == house_rules.suggested_status(
        "med_europe"
    )
    assert set(house_rules.unset_pests(orchard)) == {"DEUTTR", "ALECSN", "ERWIAM"}


def test_the_page_names_a_pest_before_its_code(client, orchard, vera):
    client.force_login(vera)
    page = client.get(PESTS).content.decode()
    line = page[page.index('id="pest-CERTCA"') :]
    name = line.index("Mediterranean fruit fly")
    assert name < line.index("Ceratitis capitata") < line.index("CERTCA</p>")


def lines_of(page):
    """Return each pest's line as it stands on a page, folded or not, in order."""
    parts = page.split('<li class="pest" id="pest-')[1:]
    return {part[: part.index('"')]: part for part in parts}


def test_what_is_not_set_comes_first_and_every_pest_is_one_folded_line(
    client, orchard, vera, cora
):
    confirmed(orchard, cora, CERTCA="common", DIAACI="regulated")
    client.force_login(vera)
    lines = lines_of(client.get(PESTS).content.decode())
    assert set(lines) == set(guide.load().pests)
    unset = set(house_rules.unset_pests(orchard))
    order = list(lines)
    assert set(order[: len(unset)]) == unset
    assert order.index("DIAACI") < order.index("CERTCA")
    for code, line in lines.items():
        summary = line[line.index("<summary>") : line.index("</summary>")]
        assert guide.load().pests[code].name.partition("'")[0] in summary
        assert f"{code}</p>" not in summary
        assert "<details open>" not in line
    summary = lines["CERTCA"].partition("</summary>")[0]
    assert "common here" in summary
    assert "Cora, " in summary
    assert "2026" in summary


def test_the_answers_of_all_that_is_not_set_stand_in_their_lines(client, orchard, cora):
    confirmed(orchard, cora, CERTCA="common")
    client.force_login(cora)
    page = client.get(PESTS).content.decode()
    form = page[page.index('id="confirm"') :]
    form = form[: form.index("</form>")]
    for code in house_rules.unset_pests(orchard):
        assert f'name="pest-{code}"' in form
        # A form inside a form would be cut off by the browser.
        assert 'name="code"' not in lines_of(form)[code]
    assert 'name="source"' in form
    assert 'name="code" value="CERTCA"' in page


def test_a_wrong_answer_opens_its_line_and_what_was_chosen_stays(client, orchard, cora):
    client.force_login(cora)
    sent = {"confirm": "1", "source": "Notice", "pest-CERTCA": "gone",
            "pest-DIAACI": "regulated"}  # fmt: skip
    answer = client.post(PESTS, sent)
    assert answer.status_code == 422
    lines = lines_of(answer.content.decode())
    assert "<details open>" in lines["CERTCA"]
    assert "<details open>" not in lines["DIAACI"]
    assert '<option value="regulated" selected' in lines["DIAACI"]
    confirmed(orchard, cora, CERTCA="common")
    alone = client.post(PESTS, {"code": "CERTCA", "status": "gone", "source": "x"})
    assert alone.status_code == 422
    page = alone.content.decode()
    assert "Not saved yet." in page
    assert "<details open>" in lines_of(page)["CERTCA"]
