"""Reading a CSV or XLSX file into rows of text, or saying why it cannot be read."""

from __future__ import annotations

import csv
import io
from collections import Counter
from datetime import date, datetime, time
from lzma import LZMAError
from typing import Any
from zipfile import BadZipFile, ZipFile
from zlib import error as ZlibError

from django.utils.translation import gettext as _

from orchard.services.errors import Refused
from orchard.services.imports.sheets.headings import (
    MOST_COLUMNS,
    ROWS_LOOKED_AT,
    Recognise,
    Sheet,
    heading_row_of,
    sheet_headed,
)

MOST_BYTES = 2 * 1024 * 1024
MOST_UNPACKED = 60 * 1024 * 1024
# Marks of its XML, which is what reading takes time by: a sheet with as many rows and
# columns as are read has some 1,200,000, its texts in a list of their own.
MOST_MARKS = 2_000_000
MOST_ROWS = 5000
# The comma last: where two cut alike, it is the mark of decimals.
DELIMITERS = ";\t|,"
# What comes up from the depths when an XLSX file is damaged in one way or another.
BROKEN = (
    BadZipFile,
    ZlibError,
    ArithmeticError,
    AttributeError,
    EOFError,
    IndexError,
    KeyError,
    LZMAError,
    OSError,
    # A part that is locked or packed in an unknown way.
    RuntimeError,
    SyntaxError,
    TypeError,
    ValueError,
)


def read_sheet(
    file: Any, name: str, *, most_rows: int = MOST_ROWS, recognise: Recognise
) -> Sheet:
    """Read an uploaded table, a CSV or XLSX file told apart by its content.

    `recognise` counts the headings of an import in a row, so that titles above the
    table are told from its headings.

    Raises:
        Refused (not_readable): empty, too large, another type of file, broken, with
            formulas.
    """
    content = file.read(MOST_BYTES + 1)
    if len(content) > MOST_BYTES:
        raise Refused(
            _(
                "The file is larger than 2 MB. Keep only the sheet you need, or send "
                "it in parts."
            ),
            code="not_readable",
            field="file",
        )
    if not content.strip():
        raise Refused(
            _("The file is empty. Was it saved before it was sent?"),
            code="not_readable",
            field="file",
        )
    _refuse_other_types(content)
    if content.startswith(b"PK\x03\x04"):
        table, notes = _read_xlsx(content, most_rows)
    else:
        table, notes = _read_csv(content, most_rows)
    return _sheet(name, table, notes, recognise)


def _refuse_other_types(content: bytes) -> None:
    kinds = {
        b"%PDF": _("a PDF document"),
        b"\xd0\xcf\x11\xe0": _("an old or password-locked spreadsheet (such as .xls)"),
        b"\x89PNG": _("a picture"),
        b"\xff\xd8\xff": _("a picture"),
        b"{\\rtf": _("a text document"),
        b"<!DOC": _("a web page"),
        b"<html": _("a web page"),
    }
    for start, what in kinds.items():
        if content.lstrip()[:8].upper().startswith(start.upper()):
            raise Refused(
                _(
                    "This is %(what)s. Open it in your spreadsheet program and save it "
                    "as XLSX without a password, or as CSV."
                )
                % {"what": what},
                code="not_readable",
                field="file",
            )


Table = list[tuple[int, list[str]]]


def _read_csv(content: bytes, most_rows: int) -> tuple[Table, list[str]]:
    text, notes = _decoded(content)
    delimiter = _delimiter(text)
    if not delimiter:
        raise Refused(
            _(
                "The file has only one column. Separate the columns by commas, "
                "semicolons or tabs; one row holds their headings."
            ),
            code="not_readable",
            field="file",
        )
    if delimiter != ",":
        names = {";": _("semicolons"), "\t": _("tabs"), "|": _("upright strokes")}
        notes.append(
            _("The columns are separated by %(mark)s.") % {"mark": names[delimiter]}
        )
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    table: Table = []
    try:
        for number, cells in enumerate(reader, start=1):
            table.append((number, cells))
            _refuse_too_many(table, most_rows)
    except csv.Error as error:
        raise Refused(
            _(
                "Row %(number)d can't be read: a quotation mark opens or closes where "
                "it should not. Correct it, or save the sheet as XLSX."
            )
            % {"number": len(table) + 1},
            code="not_readable",
            field="file",
        ) from error
    return table, notes


def _decoded(content: bytes) -> tuple[str, list[str]]:
    if content.startswith((b"\xff\xfe", b"\xfe\xff")):
        try:
            text = content.decode("utf-16")
        except UnicodeDecodeError as error:
            raise _not_text() from error
        return text, [_("The file is written in UTF-16; it was read as such.")]
    if b"\x00" in content:
        raise _not_text()
    try:
        return content.decode("utf-8-sig"), []
    except UnicodeDecodeError:
        pass
    try:
        text = content.decode("cp1252")
    except UnicodeDecodeError as error:
        raise _not_text() from error
    return text, [
        _(
            "The file isn't UTF-8; it was read as Windows-1252. Check names with "
            "accents."
        )
    ]


def _not_text() -> Refused:
    return Refused(
        _("This is neither a CSV nor an XLSX file. Save the sheet as one of the two."),
        code="not_readable",
        field="file",
    )


def _delimiter(text: str) -> str:
    """Return the mark that cuts most rows into equally many cells; "" for none."""
    lines = [line for line in text.splitlines() if line.strip()][:ROWS_LOOKED_AT]

    def weight(mark: str) -> tuple[int, int]:
        counts = Counter(_outside_quotes(line, mark) for line in lines)
        del counts[0]
        marks, rows = max(
            counts.items(), key=lambda item: (item[1], item[0]), default=(0, 0)
        )
        return rows, marks

    likeliest = max(DELIMITERS, key=weight)
    return likeliest if weight(likeliest)[0] else ""


def _outside_quotes(line: str, mark: str) -> int:
    return "".join(line.split('"')[::2]).count(mark)


def _read_xlsx(content: bytes, most_rows: int) -> tuple[Table, list[str]]:
    _refuse_other_archives(content)
    # A fifth of what every command takes to begin, and few of them read a workbook.
    from openpyxl import load_workbook

    try:
        book = load_workbook(io.BytesIO(content), read_only=True, keep_links=False)
        sheets = [page for page in book.worksheets if page.sheet_state == "visible"]
        if not sheets:
            raise Refused(
                _("The file has no sheet to read."), code="not_readable", field="file"
            )
        notes = []
        if len(sheets) > 1:
            notes.append(
                _("The file has %(count)d sheets; only the first, “%(name)s”, is read.")
                % {"count": len(sheets), "name": sheets[0].title}
            )
        table = _cells_of(sheets[0], most_rows)
        book.close()
        return table, notes
    except BROKEN as error:
        raise _broken() from error


def _refuse_other_archives(content: bytes) -> None:
    try:
        with ZipFile(io.BytesIO(content)) as archive:
            names = set(archive.namelist())
            size = sum(entry.file_size for entry in archive.infolist())
            marks = _marks_in(archive) if size <= MOST_UNPACKED else 0
    except BROKEN as error:
        raise _broken() from error
    if "xl/workbook.xml" not in names:
        raise Refused(
            _(
                "This is another type of file than XLSX (perhaps ODS, a text document "
                "or a zip archive). Save the sheet as XLSX or CSV."
            ),
            code="not_readable",
            field="file",
        )
    if size > MOST_UNPACKED or marks > MOST_MARKS:
        raise Refused(
            _(
                "The file unpacks to far more than its rows need. Copy them into a "
                "new sheet and send that."
            ),
            code="not_readable",
            field="file",
        )


def _marks_in(archive: ZipFile) -> int:
    """Count the opening marks in the XML of a file, up to one more than may be."""
    marks = 0
    for entry in archive.infolist():
        if not entry.filename.endswith(".xml"):
            continue
        with archive.open(entry) as part:
            while piece := part.read(1024 * 1024):
                marks += piece.count(b"<")
                if marks > MOST_MARKS:
                    return marks
    return marks


def _broken() -> Refused:
    return Refused(
        _("The XLSX file is damaged. Open it, save it again, and send the new file."),
        code="not_readable",
        field="file",
    )


def _cells_of(sheet: Any, most_rows: int) -> Table:
    # Some programs state a wrong size; without it the rows themselves are counted.
    sheet.reset_dimensions()
    table: Table = []
    formulas: list[str] = []
    for number, row in enumerate(sheet.iter_rows(), start=1):
        cells = []
        for cell in row[: MOST_COLUMNS + 1]:
            if cell.data_type in ("f", "e"):
                formulas.append(cell.coordinate)
            cells.append(written(cell.value))
        table.append((number, cells))
        _refuse_too_many(table, most_rows)
    if formulas:
        raise Refused(
            _(
                "Cells with a formula or an error: %(cells)s. Copy the sheet and paste "
                "it as values, then send that."
            )
            % {"cells": ", ".join(formulas[:5]) + (" …" if formulas[5:] else "")},
            code="not_readable",
            field="file",
        )
    return table


def written(value: Any) -> str:
    """Return a spreadsheet's value as text; days as 2021-04-30, whole numbers whole."""
    match value:
        case None:
            return ""
        case bool():
            return "yes" if value else "no"
        case datetime():
            if value.time() == time(0):
                return value.date().isoformat()
            return value.isoformat(" ", "minutes")
        case date():
            return value.isoformat()
        case time():
            return value.isoformat("minutes")
        case float() if value.is_integer():
            return str(int(value))
        case _:
            return str(value)


def _refuse_too_many(table: Table, most_rows: int) -> None:
    if len(table) > most_rows + 1:
        raise Refused(
            _("The file has more than %(most)s rows. Send it in parts.")
            % {"most": f"{most_rows:,}"},
            code="not_readable",
            field="file",
        )


def _sheet(name: str, table: Table, notes: list[str], recognise: Recognise) -> Sheet:
    lines = [
        (number, tuple(" ".join(cell.split()) for cell in cells))
        for number, cells in table
    ]
    filled = [(number, cells) for number, cells in lines if any(cells)]
    if not filled:
        raise Refused(
            _("Every row of the file is empty."), code="not_readable", field="file"
        )
    heading_row = heading_row_of(filled, recognise)
    return sheet_headed(name[:120], filled, heading_row, notes)
