"""A set as numbered photos: each with its words beside it as text and inside the file.

References
----------
IPTC Photo Metadata Standard, its properties as written in XMP (from memory): Title
(dc:title), Description (dc:description), Credit Line (photoshop:Credit), Alt Text
(Accessibility) (Iptc4xmpCore:AltTextAccessibility).
ISO 16684-1, XMP: the packet; ISO 16684-3: where it stands in a JPEG (from memory).
IPTC-NAA Information Interchange Model, version 4: its datasets and their longest values
(from memory). Older readers know these alone; they have none for a description.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC
from tempfile import SpooledTemporaryFile
from typing import IO
from xml.sax.saxutils import escape
from zipfile import ZIP_DEFLATED, ZIP_STORED, ZipFile, ZipInfo

from django.utils.text import slugify
from django.utils.translation import gettext as _

from orchard.services.talks.reading import SlidePlace, Talk, TalkSlide, content

# Of the segments of a JPEG file (ISO/IEC 10918-1, ISO 16684-3; from memory).
JFIF_MARKER, APP1_MARKER, APP13_MARKER = b"\xff\xe0", b"\xff\xe1", b"\xff\xed"
XMP_SEGMENT = b"http://ns.adobe.com/xap/1.0/\0"
PACKET = """\
<?xpacket begin="\ufeff" id="W5M0MpCehiHzreSzNTczkc9d"?>
<x:xmpmeta xmlns:x="adobe:ns:meta/">
<rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">
<rdf:Description rdf:about=""
 xmlns:dc="http://purl.org/dc/elements/1.1/"
 xmlns:photoshop="http://ns.adobe.com/photoshop/1.0/"
 xmlns:Iptc4xmpCore="http://iptc.org/std/Iptc4xmpCore/1.0/xmlns/">
<dc:title>{title}</dc:title>
<dc:description>{caption}</dc:description>
<photoshop:Credit>{credit}</photoshop:Credit>
<Iptc4xmpCore:AltTextAccessibility>{alt_text}</Iptc4xmpCore:AltTextAccessibility>
</rdf:Description>
</rdf:RDF>
</x:xmpmeta>
<?xpacket end="w"?>"""
# The block of the model's datasets, in the one segment that carries such blocks.
IIM_SEGMENT, IIM_BLOCK = b"Photoshop 3.0\0", b"8BIM\x04\x04\0\0"
IN_UTF_8, MODEL_VERSION = b"\x1b%G", b"\x00\x04"
# So many bytes a value may have.
HEADLINE_MOST, CREDIT_MOST, CAPTION_MOST = 256, 32, 2000
IN_ANY_LANGUAGE = '<rdf:Alt><rdf:li xml:lang="x-default">{text}</rdf:li></rdf:Alt>'


# A larger pack is written to the disk.
MOST_IN_MEMORY = 8 * 1024 * 1024


@dataclass(frozen=True, slots=True)
class NumberedPhoto:
    """A photo of a set under the number of its slide, and a letter beside others."""

    number: str
    slide: TalkSlide
    place: SlidePlace

    @property
    def title(self) -> str:
        return self.slide.title or self.place.caption

    @property
    def file_name(self) -> str:
        words = slugify(self.place.caption)[:40].strip("-")
        return f"{self.number}-{words}.jpg" if words else f"{self.number}.jpg"


def numbered(talk: Talk) -> Iterator[NumberedPhoto]:
    """Yield the photos of a set in order, each with its number."""
    for slide in talk.slides:
        for at, place in enumerate(slide.shown):
            letter = chr(ord("a") + at) if len(slide.shown) > 1 else ""
            yield NumberedPhoto(f"{slide.position:02}{letter}", slide, place)


def pictures_of(talk: Talk) -> IO[bytes]:
    """Pack the photos of a finished set, with a text of all that is said of them."""
    stamp = talk.talk_set.changed_at.astimezone(UTC).timetuple()[:6]
    packed = SpooledTemporaryFile(max_size=MOST_IN_MEMORY)  # noqa: SIM115
    lines = [talk.talk_set.title, talk.talk_set.orchard.name, ""]
    with ZipFile(packed, "w") as pack:
        for each in numbered(talk):
            part = ZipInfo(each.file_name, date_time=stamp)
            pack.writestr(part, with_words(each), compress_type=ZIP_STORED)
            lines += _said_of(each)
        text = ZipInfo(_("captions") + ".txt", date_time=stamp)
        pack.writestr(text, "\r\n".join(lines), compress_type=ZIP_DEFLATED)
    packed.seek(0)
    return packed


def _said_of(each: NumberedPhoto) -> list[str]:
    return [
        each.file_name,
        each.place.caption,
        _("Photo: %(names)s") % {"names": each.place.credit},
        _("Description: %(text)s") % {"text": each.place.alt_text},
        "",
    ]


def with_words(each: NumberedPhoto) -> bytes:
    """Return a photo's file with its title, caption, credit and description inside.

    Put into the file as it lies in the store, in segments of their own behind the
    first: a library writes one only by encoding the picture anew, for 0.15 s and at a
    loss.
    """
    photo = each.place.photo
    assert photo is not None
    file = content(photo, "large")
    at = 2
    if file[2:4] == JFIF_MARKER:
        at = 4 + int.from_bytes(file[4:6], "big")
    words = (
        _segment(APP1_MARKER, XMP_SEGMENT + _packet(each).encode()),
        _segment(APP13_MARKER, IIM_SEGMENT + _iim(each)),
    )
    return b"".join((file[:at], *words, file[at:]))


def _segment(marker: bytes, inside: bytes) -> bytes:
    return marker + (len(inside) + 2).to_bytes(2, "big") + inside


def _iim(each: NumberedPhoto) -> bytes:
    """Return the words as datasets; a credit too long for its own ends the caption."""
    credit, caption = each.place.credit, each.place.caption
    short = credit if len(credit.encode()) <= CREDIT_MOST else ""
    if not short:
        caption += "\n" + _("Photo: %(names)s") % {"names": credit}
    sets = (
        (1, 90, IN_UTF_8),
        (2, 0, MODEL_VERSION),
        (2, 105, _cut(each.title, HEADLINE_MOST)),
        (2, 110, short.encode()),
        (2, 120, _cut(caption, CAPTION_MOST)),
    )
    written = b"".join(
        bytes((0x1C, record, number)) + len(value).to_bytes(2, "big") + value
        for record, number, value in sets
        if value
    )
    # A block is filled up to a whole number of pairs of bytes.
    return (
        IIM_BLOCK
        + len(written).to_bytes(4, "big")
        + written
        + b"\0" * (len(written) % 2)
    )


def _cut(text: str, most: int) -> bytes:
    """Return as many whole letters as so many bytes hold."""
    return text.encode()[:most].decode(errors="ignore").encode()


def _packet(each: NumberedPhoto) -> str:
    return PACKET.format(
        title=_in_any_language(each.title),
        caption=_in_any_language(each.place.caption),
        credit=escape(each.place.credit),
        alt_text=_in_any_language(each.place.alt_text),
    )


def _in_any_language(text: str) -> str:
    return IN_ANY_LANGUAGE.format(text=escape(text))
