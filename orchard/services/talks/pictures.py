"""A set as numbered photos: each with its words beside it as text and inside the file.

References
----------
IPTC Photo Metadata Standard, its properties as written in XMP (from memory): Title
(dc:title), Description (dc:description), Credit Line (photoshop:Credit), Alt Text
(Accessibility) (Iptc4xmpCore:AltTextAccessibility).
ISO 16684-1, XMP: the packet; ISO 16684-3: where it stands in a JPEG (from memory).
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
JFIF_MARKER, APP1_MARKER = b"\xff\xe0", b"\xff\xe1"
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

    Put into the file as it lies in the store, in a segment of its own behind the first:
    a library writes one only by encoding the picture anew, for 0.15 s and at a loss.
    """
    photo = each.place.photo
    assert photo is not None
    file = content(photo, "large")
    packet = XMP_SEGMENT + _packet(each).encode()
    at = 2
    if file[2:4] == JFIF_MARKER:
        at = 4 + int.from_bytes(file[4:6], "big")
    length = (len(packet) + 2).to_bytes(2, "big")
    return b"".join((file[:at], APP1_MARKER, length, packet, file[at:]))


def _packet(each: NumberedPhoto) -> str:
    return PACKET.format(
        title=_in_any_language(each.title),
        caption=_in_any_language(each.place.caption),
        credit=escape(each.place.credit),
        alt_text=_in_any_language(each.place.alt_text),
    )


def _in_any_language(text: str) -> str:
    return IN_ANY_LANGUAGE.format(text=escape(text))
