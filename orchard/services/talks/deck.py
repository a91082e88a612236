"""A set as slides that anybody can edit: one file, 16 to 9, with all that goes along.

The slides are those of a presentation as its owner would make them: titles, texts and
captions stand in placeholders of layouts, so that a change of the layout or the outline
view reaches all of them. The layouts are written here into the blank file that comes
with the library, whose own traces (printer, preview, program, names) are taken out.

References
----------
ISO/IEC 29500-1, Office Open XML: presentations (from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime
from io import BytesIO
from typing import IO, Any, NamedTuple
from zipfile import ZIP_DEFLATED, ZIP_STORED, ZipFile, ZipInfo

from django.utils.translation import gettext as _
from pptx import Presentation
from pptx.opc.constants import CONTENT_TYPE, RELATIONSHIP_TYPE
from pptx.opc.package import XmlPart
from pptx.oxml import parse_xml
from pptx.util import Emu, Inches, Pt

from orchard.records.models import Slide
from orchard.services.talks.reading import SlidePlace, Talk, TalkSlide, content

Kind = Slide.Kind
Box = tuple[int, int, int, int]
WIDTH, HEIGHT = Inches(13.333), Inches(7.5)
EDGE, GAP = Inches(0.6), Inches(0.3)
INNER = WIDTH - 2 * EDGE
# Every system has this face, or one of the same widths in its place.
FACE = "Arial"
OWN_FACE = (b'typeface="Calibri"', f'typeface="{FACE}"'.encode())
OWN_COLOURS = (
    (b'<a:sysClr val="windowText" lastClr="000000"/>', b'<a:srgbClr val="13211A"/>'),
    (b'<a:sysClr val="window" lastClr="FFFFFF"/>', b'<a:srgbClr val="FBF8EE"/>'),
)
TOP, TITLE_HEIGHT = Inches(0.35), Inches(0.9)
# Below the pictures: their captions, and below these all credits in one line.
CREDIT_TOP, CREDIT_HEIGHT = Inches(7.0), Inches(0.35)
MOST_CAPTIONS = 6
# Numbers of the placeholders of our layouts.
TITLE, BODY, CREDIT, FIRST_CAPTION = 0, 1, 20, 10
# What the library's own blank file carries that says where it was made.
TRACES = (
    RELATIONSHIP_TYPE.PRINTER_SETTINGS,
    RELATIONSHIP_TYPE.THUMBNAIL,
    RELATIONSHIP_TYPE.EXTENDED_PROPERTIES,
)
NAMES = (
    'xmlns:a="http://schemas.openxmlformats.org/drawingml/2006/main" '
    'xmlns:p="http://schemas.openxmlformats.org/presentationml/2006/main"'
)


class Frame(NamedTuple):
    """The boxes of a photo and of its caption: left, top, width, height."""

    picture: Box
    caption: Box


def deck_of(talk: Talk) -> IO[bytes]:
    """Write a finished set as a file of slides; the same set gives the same file."""
    presentation = Presentation()
    _blank(presentation)
    layouts = {layout.name: layout for layout in presentation.slide_layouts}
    for each in talk.slides:
        _SlideWriter(presentation, layouts[_layout_of(each)], each, talk).write()
    _own_themes(presentation)
    properties = presentation.core_properties
    at = talk.talk_set.changed_at.astimezone(UTC).replace(tzinfo=None, microsecond=0)
    properties.title = talk.talk_set.title
    properties.author = properties.last_modified_by = talk.talk_set.orchard.name
    properties.created = properties.modified = at
    properties.revision = 1
    written = BytesIO()
    presentation.save(written)
    return _dated(written, at)


def _layout_of(slide: TalkSlide) -> str:
    if slide.kind == Kind.TITLE:
        return "Title"
    return "Photos" if slide.shown else "Text"


class _SlideWriter:
    """Writes one slide."""

    def __init__(
        self, presentation: Any, layout: Any, slide: TalkSlide, talk: Talk
    ) -> None:
        self.slide = slide
        self.talk = talk
        self.page = presentation.slides.add_slide(layout)
        self.fields = {
            each.placeholder_format.idx: each for each in self.page.placeholders
        }

    def write(self) -> None:
        places = self.slide.shown
        if places:
            self._pictures(places)
        self._text(TITLE, self.slide.title)
        self._text(BODY, self._body())
        credits = dict.fromkeys(place.credit for place in places)
        photos = _("Photo: %(names)s") if len(places) == 1 else _("Photos: %(names)s")
        names = " · ".join(credits)
        self._text(CREDIT, photos % {"names": names} if places else "")
        if self.slide.note:
            self.page.notes_slide.notes_text_frame.text = self.slide.note

    def _body(self) -> str:
        if self.slide.kind != Kind.CREDITS:
            return self.slide.text
        return "\n".join(line for line in (*self.talk.credits, self.slide.text) if line)

    def _text(self, number: int, text: str, size: int = 0) -> None:
        """Fill a placeholder; one that stays empty is taken off the slide."""
        field = self.fields.get(number)
        if field is None:
            return
        if not text:
            field._element.getparent().remove(field._element)
            return
        field.text_frame.text = text
        if size:
            for paragraph in field.text_frame.paragraphs:
                paragraph.font.size = Pt(size)
        elif number == BODY and len(text) > 320:
            for paragraph in field.text_frame.paragraphs:
                paragraph.font.size = Pt(20)

    def _pictures(self, places: Sequence[SlidePlace]) -> None:
        has_title = bool(self.slide.title or self.slide.text)
        top = TOP + TITLE_HEIGHT + GAP // 2 if has_title else TOP
        for number, place in enumerate(places):
            frame = _frame(number, len(places), top)
            self._picture(place, frame.picture)
            field = self.fields[FIRST_CAPTION + number]
            field.left, field.top, field.width, field.height = frame.caption
            self._text(
                FIRST_CAPTION + number,
                self._caption(place, number),
                _caption_size(place.caption, len(places)),
            )
        for number in range(len(places), MOST_CAPTIONS):
            self._text(FIRST_CAPTION + number, "")

    def _caption(self, place: SlidePlace, number: int) -> str:
        if self.slide.kind == Kind.BEFORE_AFTER and len(self.slide.places) == 2:
            before_after = (_("Before"), _("After"))
            return f"{before_after[number]}: {place.caption}"
        return place.caption

    def _picture(self, place: SlidePlace, box: Box) -> None:
        """Put a photo into a box, whole, above its caption."""
        left, top, width, height = box
        photo = place.photo
        assert photo is not None
        size = "large" if len(self.slide.shown) < 3 else "middle"
        picture = self.page.shapes.add_picture(
            BytesIO(content(photo, size)), Emu(left), Emu(top)
        )
        scale = min(width / picture.width, height / picture.height)
        picture.width = Emu(int(picture.width * scale))
        picture.height = Emu(int(picture.height * scale))
        if len(self.slide.shown) > 1:
            picture.top = Emu(top + height - picture.height)
        marks = picture._element.nvPicPr.cNvPr
        marks.set("descr", place.alt_text)


def _caption_size(text: str, count: int) -> int:
    """Choose a size in points in which the longest captions still fit their box."""
    if count == 1:
        return 22 if len(text) <= 120 else 18
    if count == 2:
        return 18 if len(text) <= 110 else 13 if len(text) <= 220 else 11
    return 14 if len(text) <= 60 else 11 if len(text) <= 120 else 9


def _frame(number: int, count: int, top: int) -> Frame:
    """Return where a photo of so many stands below a line, and where its caption.

    One has its caption beside it, where a slide is wider than a photo; up to four stand
    in a row, more in two.
    """
    room = CREDIT_TOP - top
    if count == 1:
        beside = Inches(3.4)
        picture = (EDGE, top, INNER - beside - GAP, room - GAP // 2)
        return Frame(picture, (EDGE + INNER - beside, top, beside, room - GAP // 2))
    across = count if count <= 4 else 3
    rows = -(-count // across)
    row, column = divmod(number, across)
    width = (INNER - GAP * (across - 1)) // across
    caption = Inches(1.0) if count < 5 else Inches(0.75)
    most = (room - GAP // 2 * (rows - 1)) // rows - caption
    # A row of small photos stands in the middle, its captions at their feet.
    height = min(most, width)
    left = EDGE + column * (width + GAP)
    upper = top + (most - height) // 2 + row * (most + caption + GAP // 2)
    return Frame((left, upper, width, height), (left, upper + height, width, caption))


def _blank(presentation: Any) -> None:
    """Make the library's blank file ours: format, face, paper and three layouts."""
    presentation.slide_width, presentation.slide_height = WIDTH, HEIGHT
    master = presentation.slide_master
    for layout in list(presentation.slide_layouts)[3:]:
        presentation.slide_layouts.remove(layout)
    fields = {
        "Title": (
            _field(TITLE, "ctrTitle", EDGE, Inches(2.2), INNER, Inches(1.8), 44),
            _field(BODY, "subTitle", EDGE, Inches(4.1), INNER, Inches(1.6), 24),
        ),
        "Text": (
            _field(TITLE, "title", EDGE, TOP, INNER, TITLE_HEIGHT, 32),
            _field(BODY, "body", EDGE, Inches(1.6), INNER, Inches(5.2), 26),
        ),
        "Photos": (
            _field(TITLE, "title", EDGE, TOP, INNER, TITLE_HEIGHT, 28),
            *(
                _field(
                    FIRST_CAPTION + number, "body", EDGE, Inches(6), INNER,
                    Inches(1), 18,
                )
                for number in range(MOST_CAPTIONS)
            ),
            _field(
                CREDIT, "body", EDGE, CREDIT_TOP, INNER, CREDIT_HEIGHT, 12, align="r"
            ),
        ),
    }  # fmt: skip
    for layout, name in zip(presentation.slide_layouts, fields, strict=True):
        layout.name = name
        layout._element.attrib.pop("type", None)
        _replace_fields(layout, fields[name])
    for field in list(master.placeholders):
        if field.placeholder_format.type not in (1, 2):
            field._element.getparent().remove(field._element)
    for field, (left, top, width, height) in zip(
        master.placeholders,
        (
            (EDGE, TOP, INNER, TITLE_HEIGHT),
            (EDGE, Inches(1.6), INNER, Inches(5.2)),
        ),
        strict=True,
    ):
        field.left, field.top, field.width, field.height = left, top, width, height
    _without_traces(presentation)


def _field(
    number: int, kind: str, left: int, top: int, width: int, height: int, size: int,
    *, align: str = "l",
) -> Any:  # fmt: skip
    """Return a placeholder of a layout: plain text, without a bullet."""
    anchor = "b" if kind == "ctrTitle" else "ctr" if kind == "title" else "t"
    bold = ' b="1"' if "itle" in kind and kind != "subTitle" else ""
    text_kind = f'type="{kind}" ' if kind != "body" or number != BODY else ""
    index = f'idx="{number}"' if number else ""
    prompt = _("Title") if not number else _("Text")
    return parse_xml(
        f"<p:sp {NAMES}><p:nvSpPr>"
        f'<p:cNvPr id="{number + 2}" name="{prompt} {number}"/>'
        '<p:cNvSpPr><a:spLocks noGrp="1"/></p:cNvSpPr>'
        f"<p:nvPr><p:ph {text_kind}{index}/></p:nvPr></p:nvSpPr>"
        f'<p:spPr><a:xfrm><a:off x="{left}" y="{top}"/>'
        f'<a:ext cx="{width}" cy="{height}"/></a:xfrm></p:spPr>'
        f'<p:txBody><a:bodyPr anchor="{anchor}"><a:normAutofit/></a:bodyPr>'
        f'<a:lstStyle><a:lvl1pPr marL="0" indent="0" algn="{align}"><a:buNone/>'
        f'<a:defRPr sz="{size * 100}"{bold}/></a:lvl1pPr></a:lstStyle>'
        f"<a:p><a:r><a:t>{prompt}</a:t></a:r></a:p></p:txBody></p:sp>"
    )


def _replace_fields(layout: Any, fields: Sequence[Any]) -> None:
    tree = layout.shapes._spTree
    for field in list(layout.placeholders):
        tree.remove(field._element)
    for field in fields:
        tree.append(field)


def _own_themes(presentation: Any) -> None:
    """Write all texts in one face, in ink on paper, also those added later by hand.

    Notes are for printing: they stay black on white.
    """
    for part in presentation.part.package.iter_parts():
        if part.content_type != CONTENT_TYPE.OFC_THEME:
            continue
        if isinstance(part, XmlPart):
            for face in part._element.iter("{*}latin"):
                face.set("typeface", FACE)
        else:
            part._blob = part.blob.replace(*OWN_FACE)
    theme = presentation.slide_master.part.part_related_by(RELATIONSHIP_TYPE.THEME)
    for colours in OWN_COLOURS:
        theme._blob = theme.blob.replace(*colours)


def _without_traces(presentation: Any) -> None:
    for owner in (presentation.part, presentation.part.package):
        for number, relation in list(owner._rels.items()):
            if relation.reltype in TRACES:
                owner._rels.pop(number)


def _dated(written: IO[bytes], at: datetime) -> IO[bytes]:
    """Give every part of a file the day of the set in place of today's.

    Pictures are packed already.
    """
    dated = BytesIO()
    stamp = at.timetuple()[:6]
    with ZipFile(written) as old, ZipFile(dated, "w") as new:
        for name in old.namelist():
            part = ZipInfo(name, date_time=stamp)
            kind = ZIP_STORED if name.endswith(".jpg") else ZIP_DEFLATED
            new.writestr(part, old.read(name), compress_type=kind)
    dated.seek(0)
    return dated
