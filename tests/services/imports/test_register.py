"""Registers: read, looked through row by row, taken in whole or not at all.

The US gallon is 231 cubic inches and the inch 2.54 cm, exactly (NIST Special
Publication 811, appendix B, from memory): 15 gal = 15 x 231 x 0.0163870640 L = 56.78 L.
What headings and formats registers come with: common practice, no source.
"""

from __future__ import annotations

import io
import zipfile
from datetime import date
from decimal import Decimal
from functools import partial

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from openpyxl import Workbook

from orchard.records.models import Block, Change, Kind, Spot, Stay, Tree
from orchard.services import trees
from orchard.services.imports import register, sheets
from orchard.services.imports.register import RegisterChoices, columns
from orchard.services.imports.register.cells import container_in, yes_in
from orchard.services.imports.register.shapes import RegisterFate
from orchard.services.imports.sheets import day_in
from tests.conftest import make_spot, make_tree
from tests.refusals import refused

HEADS = "code,cultivar,block,spot,rootstock,planted"


def csv_file(text: str, encoding="utf-8"):
    return io.BytesIO(text.encode(encoding))


read = partial(sheets.read_sheet, recognise=register.count_recognised)


def sheet_of(*lines: str, heads: str = HEADS, name="trees.csv"):
    return read(csv_file("\n".join([heads, *lines])), name)


def xlsx_file(*rows, **sheets):
    book = Workbook()
    for row in rows:
        book.active.append(row)
    for title, more in sheets.items():
        extra = book.create_sheet(title)
        for row in more:
            extra.append(row)
    file = io.BytesIO()
    book.save(file)
    file.seek(0)
    return file


@pytest.fixture
def spots(orchard):
    return [make_spot(orchard, str(number)) for number in range(1, 6)]


@pytest.fixture
def kind(orchard, cora, now):
    trees.add_kind(orchard, by=cora, now=now, name="Valencia")
    return trees.add_kind(orchard, by=cora, now=now, name="Meyer lemon")


@pytest.fixture
def look(orchard, spots, kind, today):
    def looked(sheet, **choices):
        return register.preview(
            orchard, sheet, today=today, choices=RegisterChoices(**choices)
        )

    return looked


@pytest.fixture
def take(orchard, spots, kind, cora, now, today):
    def taken(sheet, **choices):
        return register.import_trees(
            orchard,
            sheet,
            by=cora,
            now=now,
            today=today,
            choices=RegisterChoices(**choices),
        )

    return taken


def only_row(preview):
    (row,) = preview.rows
    return row


def refusal_of(preview) -> str:
    row = only_row(preview)
    assert row.fate is RegisterFate.REFUSED
    assert not preview.can_be_taken_in
    return " ".join(row.reasons)


# reading files


def test_a_csv_with_commas_is_read():
    sheet = sheet_of("A-1,Meyer lemon,A,1,,2021-04-30")
    assert sheet.headings[:2] == ("code", "cultivar")
    assert sheet.rows == ((2, ("A-1", "Meyer lemon", "A", "1", "", "2021-04-30")),)
    assert sheet.notes == ()


@pytest.mark.parametrize(
    ("mark", "said"), [(";", "semicolons"), ("\t", "tabs"), ("|", "upright strokes")]
)
def test_another_separator_is_recognised_and_told(mark, said):
    text = f"code{mark}cultivar\nA-1{mark}Lemon, pink"
    sheet = read(csv_file(text), "trees.csv")
    assert sheet.rows[0][1] == ("A-1", "Lemon, pink")
    assert said in sheet.notes[0]


def test_a_file_of_one_column_is_refused():
    with refused("not_readable", match="only one column"):
        read(csv_file("code\nA-1"), "trees.csv")
    with refused("not_readable", match="only one column"):
        read(csv_file("code:cultivar\nA-1:Lemon"), "trees.csv")


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig"])
def test_utf_8_is_read_without_a_word(encoding):
    sheet = read(csv_file("code,note\nA-1,grüße", encoding), "a.csv")
    assert sheet.headings[0] == "code"
    assert sheet.rows[0][1] == ("A-1", "grüße")
    assert sheet.notes == ()


def test_windows_1252_is_read_with_a_notice():
    sheet = read(csv_file("code,note\nA-1,grüße", "cp1252"), "a.csv")
    assert sheet.rows[0][1] == ("A-1", "grüße")
    assert "Windows-1252" in sheet.notes[0]


def test_utf_16_is_read_with_a_notice():
    sheet = read(csv_file("code\tnote\nA-1\tgrüße", "utf-16"), "a.txt")
    assert sheet.rows[0][1] == ("A-1", "grüße")
    assert "UTF-16" in sheet.notes[0]


@pytest.mark.parametrize(
    "content",
    [b"code,note\nA-1,\x81\xff", b"code,note\nA\x00", b"\xff\xfe\x00\xd8\x00"],
)
def test_bytes_that_are_no_text_are_refused(content):
    with refused("not_readable", match="neither a CSV nor an XLSX"):
        read(io.BytesIO(content), "a.csv")


@pytest.mark.parametrize("content", [b"", b"  \n\n "])
def test_an_empty_file_is_refused(content):
    with refused("not_readable", match="empty"):
        read(io.BytesIO(content), "a.csv")


def test_headings_alone_are_refused():
    with refused("not_readable", match="nothing below"):
        sheet_of()


def test_rows_of_nothing_are_refused_or_passed_over():
    with refused("not_readable", match="Every row"):
        read(csv_file(",,\n,,"), "a.csv")
    sheet = sheet_of("", ",,,,,", "A-1,Meyer lemon,A,1,,")
    assert [number for number, _cells in sheet.rows] == [4]


def test_a_file_too_large_is_refused():
    line = "A-1,Meyer lemon,A,1,," + "x" * 1000
    with refused("not_readable", match="larger than 2 MB"):
        sheet_of(*[line] * 2100)


def test_more_rows_than_a_register_has_are_refused():
    with refused("not_readable", match="5,000 rows"):
        sheet_of(*["A-1,Meyer lemon,A,1,,"] * 5001)
    assert len(sheet_of(*["A-1,Meyer lemon,A,1,,"] * 5000).rows) == 5000


def test_more_columns_than_a_register_has_are_refused():
    with refused("not_readable", match="60 columns"):
        sheet_of("x", heads=",".join(f"h{n}" for n in range(61)))


def test_a_cell_as_long_as_a_letter_is_refused():
    with refused("not_readable", match="Row 2"):
        sheet_of("A-1,Meyer lemon,A,1,," + "x" * 2001)


def test_a_quotation_mark_that_never_closes_is_refused_by_its_row():
    with refused("not_readable", match="Row 3 can't be read"):
        sheet_of("A-1,Meyer lemon,A,1,,", 'A-2,"Meyer lemon,A,2,,')


def test_a_separator_inside_quotation_marks_is_no_separator():
    sheet = sheet_of('A-1,"Lemon, pink",A,1,,')
    assert sheet.rows[0][1][1] == "Lemon, pink"


@pytest.mark.parametrize(
    ("content", "what"),
    [
        (b"%PDF-1.7 x", "a PDF document"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", "old or password-locked"),
        (b"\x89PNG\r\n\x1a\n", "a picture"),
        (b"<!doctype html><p>", "a web page"),
        (b"{\\rtf1 x", "a text document"),
    ],
)
def test_another_type_of_file_is_refused_by_name(content, what):
    with refused("not_readable", match=what):
        read(io.BytesIO(content), "trees.xlsx")


def test_another_archive_is_refused():
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w") as archive:
        archive.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
    file.seek(0)
    with refused("not_readable", match="another type of file than XLSX"):
        read(file, "trees.ods")


def test_an_archive_that_unpacks_to_a_flood_is_refused():
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("xl/workbook.xml", "<a/>")
        archive.writestr("xl/worksheets/sheet1.xml", b"0" * (61 * 1024 * 1024))
    file.seek(0)
    with refused("not_readable", match="unpacks to far more"):
        read(file, "trees.xlsx")


SHARED_TEXTS = (
    b'<Override PartName="/xl/sharedStrings.xml" ContentType="application/vnd.'
    b'openxmlformats-officedocument.spreadsheetml.sharedStrings+xml"/></Types>'
)


def shared_texts(count: int) -> io.BytesIO:
    """Make a small file with a long list of texts that no cell shows."""
    source = xlsx_file(["code", "cultivar"], ["A-1", "Lemon"])
    space = b"http://schemas.openxmlformats.org/spreadsheetml/2006/main"
    texts = b'<sst xmlns="' + space + b'">' + b"<si><t/></si>" * count + b"</sst>"
    file = io.BytesIO()
    with (
        zipfile.ZipFile(source) as old,
        zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as new,
    ):
        for name in old.namelist():
            content = old.read(name)
            if name == "[Content_Types].xml":
                content = content.replace(b"</Types>", SHARED_TEXTS)
            new.writestr(name, content)
        new.writestr("xl/sharedStrings.xml", texts)
    file.seek(0)
    return file


def test_a_small_file_of_endless_texts_is_refused_before_it_is_read(monkeypatch):
    # 3.2 million texts in 133 kB took twenty seconds.
    file = shared_texts(3_200_000)
    assert len(file.getvalue()) < 200_000
    with monkeypatch.context() as patched:
        patched.delattr("openpyxl.load_workbook")
        with refused("not_readable", match="far more than its rows need"):
            read(file, "trees.xlsx")
    assert read(shared_texts(3200), "trees.xlsx").rows


def test_a_damaged_xlsx_is_refused():
    whole = xlsx_file(["code", "cultivar"], ["A-1", "Lemon"]).getvalue()
    with refused("not_readable", match="damaged"):
        read(io.BytesIO(whole[: len(whole) // 2]), "trees.xlsx")
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w") as archive:
        archive.writestr("xl/workbook.xml", "<a")
    file.seek(0)
    with refused("not_readable", match="damaged"):
        read(file, "trees.xlsx")


def marked(content: bytes, *, locked: int = 0, packed: int | None = None) -> bytes:
    """Mark every part of an archive as locked, or as packed in another way."""
    marks = bytearray(content)
    for head, flags in ((b"PK\x03\x04", 6), (b"PK\x01\x02", 8)):
        place = content.find(head)
        while place >= 0:
            marks[place + flags] |= locked
            if packed is not None:
                marks[place + flags + 2] = packed
            place = content.find(head, place + 4)
    return bytes(marks)


def test_an_xlsx_that_is_locked_or_packed_in_another_way_is_refused():
    # The format of zip files: bit 0 of the flags locks a part, method 99 is AES.
    whole = xlsx_file(["code", "cultivar"], ["A-1", "Lemon"]).getvalue()
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_LZMA) as archive:
        archive.writestr("xl/workbook.xml", "<a/>" * 99)
    torn = bytearray(packed.getvalue())
    torn[60:70] = b"0123456789"
    for content in (marked(whole, locked=1), marked(whole, packed=99), bytes(torn)):
        with refused("not_readable", match="damaged"):
            read(io.BytesIO(content), "trees.xlsx")


def test_an_xlsx_with_a_number_that_no_program_holds_is_refused():
    source = xlsx_file(["code", "cultivar"], ["A-1", "Lemon"])
    file = io.BytesIO()
    with zipfile.ZipFile(source) as old, zipfile.ZipFile(file, "w") as new:
        for name in old.namelist():
            content = old.read(name)
            if name == "xl/styles.xml":
                content = content.replace(b'numFmtId="0"', b'numFmtId="%d"' % 10**30)
            new.writestr(name, content)
    file.seek(0)
    with refused("not_readable", match="damaged"):
        read(file, "trees.xlsx")


def test_an_xlsx_is_read_with_its_days_and_numbers():
    file = xlsx_file(
        ["code", "spot", "planted", "litres", "drip"],
        [12, 3.0, date(2021, 4, 3), 57.5, True],
    )
    sheet = read(file, "trees.xlsx")
    assert sheet.rows == ((2, ("12", "3", "2021-04-03", "57.5", "yes")),)


def test_formulas_are_refused_by_their_cells():
    file = xlsx_file(["code", "cultivar"], ["A-1", "=B1"], ["=1+1", "Lemon"])
    with refused("not_readable", match="formula or an error: B2, A3"):
        read(file, "trees.xlsx")


def test_a_formula_as_text_is_refused_by_its_row(look):
    preview = look(sheet_of('=HYPERLINK("x"),Meyer lemon,A,1,,'))
    assert "is a formula" in refusal_of(preview)


def test_only_the_first_of_several_sheets_is_read_and_told():
    file = xlsx_file(["code", "cultivar"], ["A-1", "Lemon"], other=[["x", "y"]])
    sheet = read(file, "trees.xlsx")
    assert len(sheet.rows) == 1
    assert "2 sheets" in sheet.notes[0]


def test_a_sheet_packed_and_unpacked_is_the_same():
    sheet = sheet_of("A-1,Meyer lemon,A,1,,", "A-2,Valencia,A,2,,")
    assert sheets.Sheet.unpacked(sheet.packed()) == sheet


# headings


def test_usual_headings_are_known_whatever_their_case():
    heads = ("Tree ID", "VARIETY", "Bed", "Position", "Date planted", "Notes", "Colour")
    assert columns.mapping_of(heads) == (
        "code",
        "kind",
        "block",
        "spot",
        "planted_on",
        "note",
        "",
    )


def test_a_heading_that_stands_twice_is_taken_once():
    assert columns.mapping_of(("code", "Code")) == ("code", "")


def test_missing_columns_are_named(look):
    preview = look(sheet_of("A-1,x", heads="code,colour"))
    assert preview.rows == ()
    assert "cultivar, spot" in preview.problems[0]
    assert not preview.can_be_taken_in


def test_the_person_says_what_a_column_holds(look):
    sheet = sheet_of("A-1,Meyer lemon,A-1", heads="code,what it is,where")
    preview = look(sheet, mapping=("code", "kind", "spot"))
    assert only_row(preview).fate is RegisterFate.NEW
    assert [column.example for column in preview.columns][1] == "Meyer lemon"
    twice = look(sheet, mapping=("code", "code", "spot"))
    assert any("Two columns" in problem for problem in twice.problems)


# rows


def test_a_good_row_is_a_new_tree_with_all_it_says(look):
    row = only_row(look(sheet_of("A-1,Meyer lemon,A,1,Sour orange,2021-04-30")))
    assert (row.fate, row.number) == (RegisterFate.NEW, 2)
    details = row.plan.details()
    assert details["planted_on"] == date(2021, 4, 30)
    assert details["rootstock"] == "Sour orange"


def test_a_code_twice_in_the_file_is_refused(look):
    preview = look(sheet_of("A-1,Valencia,A,1,,", "a-1,Valencia,A,2,,"))
    assert [row.fate for row in preview.rows] == [
        RegisterFate.NEW,
        RegisterFate.REFUSED,
    ]
    assert "is in row 2 already" in preview.rows[1].reasons[0]


def test_a_code_the_book_holds_for_another_tree_is_refused(look, orchard, spots, kind):
    make_tree(orchard, "A-1", kind=kind, spot=spots[0])
    said = refusal_of(look(sheet_of("A-1,Valencia,A,1,,")))
    assert "here already, but differs" in said
    assert "cultivar is “Meyer lemon” here and “Valencia” in the file" in said


def test_a_code_of_a_removed_tree_is_refused_for_another(
    look, orchard, spots, kind, cora, now, today
):
    tree = make_tree(orchard, "A-1", kind=kind, spot=spots[0])
    trees.remove(tree, by=cora, now=now, today=today, on=today, reason="wind")
    assert "never used twice" in refusal_of(look(sheet_of("A-1,Valencia,A,1,,")))


def test_a_code_before_a_correction_is_refused(
    look, orchard, spots, kind, cora, now, today
):
    tree = make_tree(orchard, "A-1", kind=kind, spot=spots[0])
    trees.correct(tree, by=cora, now=now, today=today, code="A-9", reason="typo")
    said = refusal_of(look(sheet_of("A-1,Meyer lemon,A,2,,")))
    assert "before it was corrected" in said


@pytest.mark.parametrize(
    ("line", "said"),
    [
        (",Meyer lemon,A,1,,", "code is missing"),
        ("A/1,Meyer lemon,A,1,,", "isn't a valid code"),
        ("A-1,,A,1,,", "cultivar is missing"),
        ("A-1,Meyer lemon,A,,,", "spot is missing"),
        ("A-1,Meyer lemon,,1,,", "block is missing"),
        ("A-1,Meyer lemon,A,1/2,,", "isn't a valid"),
        ("A-1,Meyer lemon,A b,1,,", "isn't a valid"),
        ("A-1,Meyer lemon,A,1,,2026-05-13", "is in the future"),
        ("A-1,Meyer lemon,A,1,,0202-05-13", "very long ago"),
        ("A-1,Meyer lemon,A,1,,2021-02-31", "isn't a day of the calendar"),
        ("A-1,Meyer lemon,A,1,,spring", "isn't a date"),
        ("A-1,Meyer lemon,A,1,,2031", "is in the future"),
        ("A-1,Meyer lemon,A,1,,0000", "isn't a year"),
        ("A-1,Meyer lemon,A,1,,30/04/21", "two digits"),
        ("A-1,Meyer lemon,A,1,,03/04/2021", "two ways"),
        ("A-1,Meyer lemon,A,1,,,x", "more cells than there are headings"),
        ("A-1," + "x" * 81 + ",A,1,,", "more than 80 letters"),
        ("A-1,Meyer lemon,A,1," + "x" * 61 + ",", "more than 60 letters"),
    ],
)
def test_a_bad_row_is_refused_with_a_sentence(look, line, said):
    assert said in refusal_of(look(sheet_of(line)))


def test_all_that_is_wrong_with_a_row_is_said_at_once(look):
    said = refusal_of(look(sheet_of("A/1,Meyer lemon,A,9,,2021-02-31")))
    assert "isn't a valid" in said
    assert "no spot 9" in said
    assert "isn't a day of the calendar" in said


def test_grafting_after_planting_is_refused(look):
    heads = "code,cultivar,spot,planted,grafted"
    sheet = sheet_of("A-1,Meyer lemon,A-1,2020-01-01,2021-01-01", heads=heads)
    assert "planted earlier" in refusal_of(look(sheet))


def test_an_unknown_cultivar_is_refused_with_near_names(look):
    said = refusal_of(look(sheet_of("A-1,Mayer lemon,A,1,,")))
    assert "Did you mean Meyer lemon?" in said


def test_an_unknown_cultivar_is_added_only_when_ticked(look, take, orchard):
    sheet = sheet_of("A-1,Gate fig,A,1,,", "A-2,gate fig,A,2,,")
    preview = look(sheet)
    (offered,) = preview.new_kinds
    assert (offered.name, offered.rows, offered.ticked) == ("Gate fig", 2, False)
    with refused("not_imported"):
        take(sheet)
    assert not Kind.objects.filter(name="Gate fig").exists()
    taken = take(sheet, new_kinds=(("Gate fig", "fig"),))
    assert (taken.trees, taken.kinds) == (2, 1)
    assert Kind.objects.get(name="Gate fig").host == "fig"


def test_a_cultivar_by_its_other_name_is_told(look, orchard, kind, cora, now):
    trees.add_kind(orchard, by=cora, now=now, name="Tahiti (Bearss) lime")
    row = only_row(look(sheet_of("A-1,bearss lime,A,1,,")))
    assert row.fate is RegisterFate.NEW
    assert "another name of Tahiti (Bearss) lime" in row.notes[0]


def test_a_question_mark_means_believed_to_be_and_is_told(look):
    row = only_row(look(sheet_of("A-1,Valencia?,A,1,,")))
    assert row.plan.believed
    assert "believed to be" in row.notes[0]


def test_two_trees_in_one_spot_are_refused(look, orchard, spots, kind):
    preview = look(sheet_of("A-1,Valencia,A,1,,", "A-1b,Valencia,A,1,,"))
    assert "Spot A-1 already has the tree of row 2" in preview.rows[1].reasons[0]
    make_tree(orchard, "Z-1", kind=kind, spot=spots[0])
    assert "already has Z-1" in look(sheet_of("A-1,Valencia,A,1,,")).rows[0].reasons[0]


def test_an_unknown_block_is_added_only_when_ticked(look, take):
    sheet = sheet_of("N-1,Valencia,N,1,,", "N-2,Valencia,N,2,,")
    preview = look(sheet)
    assert "There is no block N" in preview.rows[0].reasons[0]
    (offered,) = preview.new_blocks
    assert (offered.block, offered.spots) == ("N", ("1", "2"))
    assert not Block.objects.filter(code="N").exists()
    taken = take(sheet, new_blocks=frozenset({"n"}))
    assert (taken.blocks, taken.spots, taken.trees) == (1, 2, 2)


def test_an_unknown_spot_is_added_only_when_ticked(look, take):
    sheet = sheet_of("A-9,Valencia,A,9,,")
    assert "Block A has no spot 9" in refusal_of(look(sheet))
    assert take(sheet, new_spots=frozenset({"a"})).spots == 1
    assert Change.objects.filter(verb="add", subject_type="spot").count() == 1


def test_a_block_by_its_name_and_a_spot_with_its_block_are_understood(look, spots):
    preview = look(
        sheet_of(
            "A-1,Valencia,Block A,1,,", "A-2,Valencia,,A-2,,", "A-3,Valencia,A,A-3,,"
        )
    )
    assert [row.plan.spot_id for row in preview.rows] == [spot.pk for spot in spots[:3]]


def test_a_rootstock_by_another_name_is_told_and_an_unknown_one_kept(look):
    preview = look(
        sheet_of(
            "A-1,Valencia,A,1,carrizo citrange,",
            "A-2,Valencia,A,2,Benton,",
            "A-3,Valencia,A,3,Sour orang,",
            "A-4,Valencia,A,4,own roots,",
        )
    )
    first, second, third, fourth = preview.rows
    assert first.plan.rootstock == "Carrizo / Troyer citrange"
    assert "is kept as Carrizo / Troyer citrange" in first.notes[0]
    assert second.plan.rootstock == "Benton"
    assert "suckers can't be told" in second.notes[0]
    assert "Near names: Sour orange" in third.notes[0]
    assert fourth.plan.own_roots
    assert fourth.plan.rootstock == ""


# days


@pytest.mark.parametrize(
    "text",
    [
        "2021-04-30",
        "30/04/2021",
        "04/30/2021",
        "30.4.2021",
        "30 Apr 2021",
        "30-April-2021",
        "April 30, 2021",
        "2021-04-30 00:00:00",
    ],
)
def test_a_day_that_can_be_read_in_one_way_is_read(text):
    assert day_in(text, day_first=None) == date(2021, 4, 30)


def test_a_day_that_can_be_read_in_two_ways_is_asked_for():
    with refused("two_ways"):
        day_in("03/04/2021", day_first=None)
    assert day_in("03/04/2021", day_first=True) == date(2021, 4, 3)
    assert day_in("03/04/2021", day_first=False) == date(2021, 3, 4)
    assert day_in("04/04/2021", day_first=None) == date(2021, 4, 4)


def test_a_day_against_what_the_person_said_is_refused():
    with refused("bad_cell", match="can't be read as month first"):
        day_in("30/04/2021", day_first=False)
    with refused("bad_cell", match="can't be read as day first"):
        day_in("04/30/2021", day_first=True)


@pytest.mark.parametrize("text", ["13/13/2021", "29.2.2021", "31 Nov 2021", "0/1/2021"])
def test_a_day_that_never_was_is_refused(text):
    with refused("bad_cell"):
        day_in(text, day_first=True)


def test_the_order_is_asked_once_for_the_whole_file(look):
    sheet = sheet_of(
        "A-1,Valencia,A,1,,03/04/2021",
        "A-2,Valencia,A,2,,05/06/2021",
        "A-3,Valencia,A,3,,30/04/2021",
    )
    preview = look(sheet)
    assert (preview.two_ways, preview.only_day_first, preview.only_month_first) == (
        2,
        1,
        0,
    )
    answered = look(sheet, day_first=True)
    assert answered.can_be_taken_in
    assert answered.rows[0].plan.planted_on == date(2021, 4, 3)


# containers, yes and no


@pytest.mark.parametrize(
    ("text", "potted", "litres"),
    [
        ("", False, None),
        ("ground", False, None),
        ("pot", True, None),
        ("50", True, Decimal("50.0")),
        ("57.5 L", True, Decimal("57.5")),
        ("57,5 litres", True, Decimal("57.5")),
        ("15 gal", True, Decimal("56.8")),
    ],
)
def test_a_container_is_read_with_its_unit(text, potted, litres):
    container = container_in(text, "metric")
    assert (container.potted, container.litres) == (potted, litres)


def test_gallons_are_told_to_be_us_gallons():
    assert container_in("15 gal", "metric").note == "“15 gal” is read as 56.8 L."
    assert container_in("15 gal", "us").note == ""
    assert container_in("50", "us").note == "“50” is read as 13.21 gal."
    assert "not said" in container_in("pot", "metric").note


@pytest.mark.parametrize(
    "text", ["15 in", "big", "1,500", "0", "-5 L", "99999 L", "1.2.3"]
)
def test_a_container_that_cannot_be_read_is_refused(text):
    with refused("bad_cell"):
        container_in(text, "metric")


def test_yes_and_no_are_read_and_nothing_else():
    assert [yes_in(word) for word in ("Yes", "x", "no", "")] == [
        True,
        True,
        False,
        False,
    ]
    with refused("bad_cell", match="neither yes nor no"):
        yes_in("perhaps")


# taking in


def test_taking_in_enters_trees_with_stays_and_ledger(take, cora, now):
    taken = take(
        sheet_of(
            "A-1,Meyer lemon,A,1,Sour orange,2021-04-30",
            "A-2,Valencia,A,2,,",
        )
    )
    assert (taken.trees, taken.here, taken.blocks, taken.spots) == (2, 0, 0, 0)
    tree = Tree.objects.get(code="A-1")
    assert (tree.kind.name, str(tree.spot)) == ("Meyer lemon", "A-1")
    assert Stay.objects.get(tree=tree).since_on == date(2021, 4, 30)
    line = Change.objects.get(tree=tree)
    assert (line.verb, line.by) == ("take in", cora)
    assert "trees.csv" in line.reason
    assert trees.history_of(tree)[0].what == "Imported from a list"


def test_taking_in_again_finds_everything_here_already(take, look):
    heads = HEADS + ",container,believed,note"
    sheet = sheet_of(
        "A-1,Meyer lemon?,A,1,Sour orange,2021-04-30,57.5 L,,near the gate",
        "A-2,Valencia,A,2,own roots,,ground,,",
        heads=heads,
    )
    take(sheet)
    lines = Change.objects.count()
    preview = look(sheet)
    assert [row.fate for row in preview.rows] == [RegisterFate.HERE, RegisterFate.HERE]
    assert not preview.can_be_taken_in
    again = take(sheet)
    assert (again.trees, again.here) == (0, 2)
    assert Change.objects.count() == lines


def test_a_tree_here_already_whose_note_grew_keeps_it(take, look):
    heads = HEADS + ",note"
    sheet = sheet_of("A-1,Valencia,A,1,,,near the gate", heads=heads)
    take(sheet)
    Tree.objects.update(note="near the gate, pruned hard")
    row = only_row(look(sheet))
    assert row.fate is RegisterFate.HERE
    assert "stays" in row.notes[0]


def test_a_tree_removed_since_is_here_and_stays_removed(take, look, cora, now, today):
    sheet = sheet_of("A-1,Valencia,A,1,,")
    take(sheet)
    tree = Tree.objects.get()
    trees.remove(tree, by=cora, now=now, today=today, on=today, reason="wind")
    row = only_row(look(sheet))
    assert row.fate is RegisterFate.HERE
    assert "removed on" in row.notes[0]


def test_a_spot_freed_by_a_removed_tree_can_be_taken_in_the_same_file(
    take, look, cora, now, today
):
    take(sheet_of("A-1,Valencia,A,1,,"))
    tree = Tree.objects.get()
    trees.remove(tree, by=cora, now=now, today=today, on=today, reason="wind")
    preview = look(sheet_of("A-1,Valencia,A,1,,", "A-1b,Meyer lemon,A,1,,"))
    assert [row.fate for row in preview.rows] == [RegisterFate.HERE, RegisterFate.NEW]


def test_one_refused_row_keeps_everything_out(take):
    sheet = sheet_of("A-1,Valencia,A,1,,", "A-2,Valencia,A,2,,2021-02-31")
    with refused("not_imported", match="1 of 2 rows"):
        take(sheet)
    assert not Tree.objects.exists()
    assert not Change.objects.filter(verb="take in").exists()


def test_a_file_without_needed_columns_is_not_taken_in(take):
    with refused("not_imported", match="No column found for"):
        take(sheet_of("A-1,x", heads="code,colour"))


def test_what_somebody_took_meanwhile_is_told_and_nothing_is_taken_in(
    take, orchard, spots, kind, monkeypatch
):
    from orchard.services.imports.register import saving

    looked = saving.preview

    def slow(*args, **kwargs):
        result = looked(*args, **kwargs)
        make_tree(orchard, "A-1", kind=kind, spot=spots[4])
        return result

    monkeypatch.setattr(saving, "preview", slow)
    with refused("not_imported", match="in the meantime"):
        take(sheet_of("A-1,Valencia,A,1,,"))
    assert not Change.objects.filter(verb="take in").exists()


def test_another_orchards_trees_do_not_matter(take, southbank):
    make_tree(southbank, "A-1")
    assert take(sheet_of("A-1,Valencia,A,1,,")).trees == 1
    assert Spot.objects.filter(block__orchard=southbank).count() == 1


def test_looking_takes_the_same_queries_for_few_rows_and_for_many(look):
    counts = []
    for rows in (5, 500):
        sheet = sheet_of(*[f"A-{n},Valencia,B,{n},," for n in range(rows)])
        with CaptureQueriesContext(
            connection,
        ) as queries:
            look(sheet, new_blocks=frozenset({"b"}))
        counts.append(len(queries))
    assert counts[0] == counts[1] == 5


def test_two_thousand_rows_are_taken_in_by_few_queries(take):
    sheet = sheet_of(*[f"B-{n},Valencia,B,{n},,2021-04-30" for n in range(2000)])
    with CaptureQueriesContext(connection) as queries:
        taken = take(sheet, new_blocks=frozenset({"b"}))
    assert (taken.trees, taken.spots) == (2000, 2000)
    assert Tree.objects.count() == 2000
    # A query for each row would be 8,000; SQLite takes about 35 trees in one.
    assert len(queries) < 300


@pytest.mark.parametrize(
    ("text", "year", "is_noted"),
    [
        ("2015", 2015, False),
        ("spring 2015", 2015, True),
        ("Late Autumn 2015", 2015, True),
        ("April 2015", 2015, True),
        ("2015-04", 2015, True),
        ("4/2015", 2015, True),
        ("c. 2015", 2015, True),
        ("~2015", 2015, True),
        ("2015?", 2015, True),
    ],
)
def test_a_year_alone_is_kept_as_such(look, take, text, year, is_noted):
    sheet = sheet_of(f"A-1,Meyer lemon,A,1,,{text}")
    looked = look(sheet)
    assert looked.can_be_taken_in
    assert bool(only_row(looked).notes) is is_noted
    take(sheet)
    tree = Tree.objects.get(code="A-1")
    assert tree.planted_on == date(year, 1, 1)
    assert tree.planted_precision == Tree.Precision.YEAR
    assert tree.note == (f"Planted on: {text}." if is_noted else "")
    again = only_row(look(sheet))
    assert again.fate is RegisterFate.HERE
    assert not any("note differs" in note for note in again.notes)


def test_the_words_of_a_year_stand_behind_the_note_of_the_file(look, take):
    sheet = sheet_of(
        "A-1,Meyer lemon,A,1,,spring 2015,May 2014,Given by a neighbour",
        heads="code,cultivar,block,spot,rootstock,planted,grafted,note",
    )
    (row,) = look(sheet).rows
    assert row.notes[0] == (
        "“spring 2015” counts as 2015. The note of a new tree keeps the words."
    )
    take(sheet)
    tree = Tree.objects.get(code="A-1")
    assert tree.note == (
        "Given by a neighbour\nPlanted on: spring 2015.\nGrafted or sown on: May 2014."
    )
    again = only_row(look(sheet))
    assert again.fate is RegisterFate.HERE
    assert not any("note differs" in note for note in again.notes)


def test_a_year_agrees_with_the_day_that_the_book_has(orchard, look, kind, spots):
    make_tree(orchard, "A-1", kind=kind, spot=spots[0], rootstock="", born_on=None)
    same = look(sheet_of("A-1,Meyer lemon,A,1,,2016"))
    assert only_row(same).fate is RegisterFate.HERE
    other = look(sheet_of("A-1,Meyer lemon,A,1,,2017"))
    assert "planted on is “2016-03-20” here and “2017”" in refusal_of(other)


def test_a_day_differs_from_the_year_that_the_book_has(look, take):
    take(sheet_of("A-1,Meyer lemon,A,1,,2016"))
    other = look(sheet_of("A-1,Meyer lemon,A,1,,2016-03-20"))
    assert "planted on is “2016” here" in refusal_of(other)
