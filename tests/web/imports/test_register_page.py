"""A register sent as a file: looked through on a page, then taken in."""

from __future__ import annotations

import html as markup
import re
from io import BytesIO

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from openpyxl import Workbook

from orchard.records.models import Block, Kind, Tree
from orchard.services import trees
from tests.conftest import make_person, make_spot

HEADS = "code,cultivar,block,spot,planted"


@pytest.fixture
def address(orchard):
    return reverse("register", args=[orchard.slug])


@pytest.fixture
def valencia(orchard, cora, now):
    make_spot(orchard, "1")
    make_spot(orchard, "2")
    return trees.add_kind(orchard, by=cora, now=now, name="Valencia")


def file_of(*lines, heads=HEADS, name="trees.csv"):
    text = "\n".join([heads, *lines])
    return SimpleUploadedFile(name, text.encode(), "text/csv")


def fields_of(response) -> dict[str, str]:
    """Return what a browser would send from the page as it stands."""
    page = response.content.decode()
    fields = {}
    for tag in re.findall(r'<input type="hidden"[^>]*>', page):
        name = re.search(r'name="([^"]*)"', tag)[1]
        value = re.search(r'value="([^"]*)"', tag)[1]
        if name != "csrfmiddlewaretoken":
            fields[name] = markup.unescape(value)
    for name, body in re.findall(
        r'<select[^>]* name="(column_\d+|heading_row)">(.*?)</select>', page, re.S
    ):
        # Where none is chosen, a browser sends the first.
        chosen = re.search(r'<option value="([^"]*)" selected', body)
        first = re.search(r'<option value="([^"]*)"', body)
        fields[name] = (chosen or first)[1]
    return fields


def test_only_the_coordinator_takes_in_a_register(client, vera, lee, otto, address):
    for person, status in ((vera, 403), (lee, 403), (otto, 404)):
        client.force_login(person)
        assert client.get(address).status_code == status
        assert client.post(address, {"file": file_of("x")}).status_code == status


def test_the_example_can_be_loaded_and_taken_in(as_cora, orchard, address, cora, now):
    response = as_cora.get(reverse("register-example", args=[orchard.slug]))
    assert response["Content-Disposition"].startswith("attachment")
    for name in (
        "Washington navel",
        "Owari satsuma",
        "Valencia",
        "Meiwa kumquat",
        "Makrut lime",
    ):
        trees.add_kind(orchard, by=cora, now=now, name=name)
    sent = SimpleUploadedFile("example.csv", response.content)
    shown = as_cora.post(address, {"file": sent})
    fields = fields_of(shown) | {"new_block": ["A", "P"]}
    again = as_cora.post(address, {**fields, "step": "look"})
    assert "Import 5 trees" in again.content.decode()
    fields = fields_of(again) | {"new_block": ["A", "P"]}
    done = as_cora.post(address, {**fields, "step": "take"})
    assert done.status_code == 302
    assert Tree.objects.filter(orchard=orchard).count() == 5
    assert Tree.objects.get(code="A-3").believed
    assert Tree.objects.get(code="P-2").own_roots


def test_looking_keeps_nothing(as_cora, address, valencia):
    response = as_cora.post(address, {"file": file_of("A-1,Valencia,A,1,2021-04-30")})
    page = response.content.decode()
    assert response.status_code == 200
    assert "new tree" in page
    assert "30 Apr 2021" in page
    assert page.count("<h1") == 1
    assert not Tree.objects.exists()


def test_what_was_shown_is_taken_in_and_a_second_time_is_here_already(
    as_cora, address, valencia, orchard
):
    shown = as_cora.post(address, {"file": file_of("A-1,Valencia,A,1,2021-04-30")})
    sent = {**fields_of(shown), "step": "take"}
    response = as_cora.post(address, sent)
    assert response.url == reverse("trees", args=[orchard.slug])
    assert "1 tree is new." in as_cora.get(response.url).content.decode()
    assert Tree.objects.count() == 1
    again = as_cora.post(address, {"file": file_of("A-1,Valencia,A,1,2021-04-30")})
    assert "here already" in again.content.decode()
    assert 'value="take"' not in again.content.decode()
    as_cora.post(address, sent)
    assert Tree.objects.count() == 1


def test_headings_below_many_lines_of_notes_stay_the_headings(
    as_cora, address, valencia
):
    notes = [f"Note {number}" for number in range(20)]
    file = file_of(*notes[1:], HEADS, "A-1,Valencia,A,1,2021-04-30", heads=notes[0])
    shown = as_cora.post(address, {"file": file})
    fields = fields_of(shown)
    assert fields["heading_row"] == "21"
    assert as_cora.post(address, {**fields, "step": "take"}).status_code == 302
    assert Tree.objects.get().code == "A-1"


def test_what_was_changed_is_shown_again_before_it_is_taken_in(
    as_cora, address, valencia
):
    shown = as_cora.post(address, {"file": file_of("N-1,Valencia,N,1,")})
    sent = {**fields_of(shown), "new_block": "N", "step": "take"}
    response = as_cora.post(address, sent)
    assert response.status_code == 422
    assert "This is the new preview." in response.content.decode()
    assert not Block.objects.filter(code="N").exists()
    sent = {**fields_of(response), "new_block": "N", "step": "take"}
    assert as_cora.post(address, sent).status_code == 302
    assert Block.objects.filter(code="N").exists()


def test_a_cultivar_is_added_only_when_ticked(as_cora, address, valencia):
    shown = as_cora.post(address, {"file": file_of("A-1,Gate fig,A,1,")})
    assert "Add the cultivar “Gate fig”" in shown.content.decode()
    sent = {**fields_of(shown), "new_kind": "Gate fig", "kind_host": "fig"}
    again = as_cora.post(address, {**sent, "step": "look"})
    sent = {**fields_of(again), "new_kind": "Gate fig", "kind_host": "fig"}
    as_cora.post(address, {**sent, "step": "take"})
    assert Kind.objects.get(name="Gate fig").host == "fig"


def test_the_order_of_day_and_month_is_asked_once(as_cora, address, valencia):
    sent = file_of("A-1,Valencia,A,1,03/04/2021", "A-2,Valencia,A,2,05/04/2021")
    shown = as_cora.post(address, {"file": sent})
    page = shown.content.decode()
    assert page.count('name="order"') == 2
    assert "2 days can be read in two ways." in page
    fields = {**fields_of(shown), "order": "month"}
    again = as_cora.post(address, {**fields, "step": "look"})
    assert "4 Mar 2021" in again.content.decode()
    fields = {**fields_of(again), "order": "month", "step": "take"}
    as_cora.post(address, fields)
    assert str(Tree.objects.get(code="A-1").planted_on) == "2021-03-04"


def test_a_column_nobody_knows_is_named_by_the_person(as_cora, address, valencia):
    sent = file_of("A-1,Valencia,A-1", heads="number,what,where")
    shown = as_cora.post(address, {"file": sent})
    assert "No column found for: code, cultivar, spot" in shown.content.decode()
    fields = fields_of(shown) | {
        "column_0": "code",
        "column_1": "kind",
        "column_2": "spot",
        "step": "look",
    }
    again = as_cora.post(address, fields)
    assert "Import 1 tree" in again.content.decode()


def test_a_refused_row_leaves_no_way_to_take_in(as_cora, address, valencia):
    shown = as_cora.post(address, {"file": file_of("A-1,Valencia,A,1,2021-02-31")})
    page = shown.content.decode()
    assert "a day of the calendar" in page
    assert 'value="take"' not in page
    forced = as_cora.post(address, {**fields_of(shown), "step": "take"})
    assert forced.status_code == 422
    assert not Tree.objects.exists()


def test_an_xlsx_is_taken_as_well(as_cora, address, valencia):
    book = Workbook()
    book.active.append(["code", "cultivar", "spot"])
    book.active.append(["A-1", "Valencia", "A-1"])
    file = BytesIO()
    book.save(file)
    sent = SimpleUploadedFile("trees.xlsx", file.getvalue())
    assert "Import 1 tree" in as_cora.post(address, {"file": sent}).content.decode()


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "The file is empty."),
        (b"%PDF-1.7", "a PDF document"),
        (b"x" * (2 * 1024 * 1024 + 1), "larger than 2 MB"),
        (b"code\nA-1", "only one column"),
    ],
)
def test_a_file_that_cannot_be_read_comes_back_with_a_sentence(
    as_cora, address, content, said
):
    sent = SimpleUploadedFile("trees.csv", content)
    response = as_cora.post(address, {"file": sent})
    assert response.status_code == 422
    assert said in response.content.decode()


def test_no_file_at_all_is_told(as_cora, address):
    response = as_cora.post(address, {})
    assert response.status_code == 422
    assert "Choose a file first." in response.content.decode()


def test_a_sheet_tampered_with_or_of_somebody_else_is_refused(
    as_cora, address, valencia, orchard, client
):
    shown = as_cora.post(address, {"file": file_of("A-1,Valencia,A,1,")})
    fields = {**fields_of(shown), "step": "take"}
    broken = as_cora.post(address, {**fields, "sheet": fields["sheet"][:-2] + "xx"})
    assert broken.status_code == 422
    assert "damaged" in broken.content.decode()
    client.force_login(make_person("Carl", orchard, "coordinator"))
    assert client.post(address, fields).status_code == 422
    assert not Tree.objects.exists()


def test_what_a_file_says_is_shown_as_text_only(as_cora, address, valencia):
    sent = file_of("<b>A-1</b>,<script>alert(1)</script>,A,1,", name="<i>.csv")
    page = as_cora.post(address, {"file": sent}).content.decode()
    assert "<script>alert" not in page
    assert "<b>A-1</b>" not in page
    assert "<i>.csv" not in page


LIST = (
    "Trees of the lower terrace,,,,",
    HEADS,
    "N-1,Valencia,N,1,",
    "P-1,Valencia,P,1,",
    "Total,2,,,",
)


def test_a_title_and_a_total_are_shown_as_left_out(as_cora, address, valencia):
    page = as_cora.post(address, {"file": file_of(*LIST[1:], heads=LIST[0])})
    text = " ".join(page.content.decode().split())
    assert "row 5: Total · 2" in text
    assert '<option value="2" selected>' in text
    assert "Make these 2 blocks: <b>N</b> with spot 1; <b>P</b> with spot 1" in text


def test_one_tick_makes_all_blocks_and_survives_the_mended_file(
    as_cora, address, valencia, orchard
):
    lines = [*LIST, "Q-1,Valencia,Q,1,30 Feb 2021", "junk,,,,"]
    shown = as_cora.post(address, {"file": file_of(*lines[1:], heads=lines[0])})
    ticked = {"new_block": "N P Q", "left_out": ["5", "7"], "step": "look"}
    lines[5] = "Q-1,Valencia,Q,1,2021-03-01"
    lines.insert(3, "R-1,Valencia,R,1,")
    mended = file_of(*lines[1:], heads=lines[0])
    again = as_cora.post(address, {**fields_of(shown), **ticked, "mended": mended})
    text = " ".join(again.content.decode().split())
    assert 'value="N P Q " checked' in text
    assert "Make this block: <b>R</b>" in text
    assert "row 6: Total" in text and "row 8: junk" in text
    sent = {**fields_of(again), "left_out": ["6", "8"], "new_block": ["N P Q", "R"]}
    look = as_cora.post(address, {**sent, "step": "look"})
    assert "Import 4 trees" in look.content.decode()
    done = as_cora.post(address, {**sent, **fields_of(look), "step": "take"})
    assert done.status_code == 302
    assert set(Block.objects.filter(orchard=orchard).values_list("code", flat=True)) > {
        "N", "P", "Q", "R"
    }  # fmt: skip
    assert Tree.objects.count() == 4


def test_a_mended_file_that_cannot_be_read_leaves_the_page_as_it_was(
    as_cora, address, valencia
):
    shown = as_cora.post(address, {"file": file_of("N-1,Valencia,N,1,")})
    sent = {**fields_of(shown), "mended": file_of(heads="%PDF-1.7"), "step": "look"}
    answer = as_cora.post(address, sent)
    assert answer.status_code == 422
    assert "This is a PDF document" in answer.content.decode()
    assert "trees.csv" in answer.content.decode()


def test_the_headings_are_taken_from_the_row_that_is_chosen(as_cora, address, valencia):
    shown = as_cora.post(address, {"file": file_of(HEADS, "A-1,Valencia,A,1,")})
    sent = {**fields_of(shown), "heading_row": "2", "step": "look"}
    text = as_cora.post(address, sent).content.decode()
    assert "Import 1 tree" in text
