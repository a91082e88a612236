"""Each sort of file that people bring: taken as it is meant, or refused in words."""

from __future__ import annotations

import struct
import zlib
from io import BytesIO

import pytest
from PIL import Image

from orchard.services import photos
from tests.refusals import refused
from tests.services.photos.test_photos import file, heic, image


def large_of(picture) -> Image.Image:
    return Image.open(BytesIO(picture.sizes["large"]))


def png_of_16_bits(width=60, height=40) -> BytesIO:
    """A grey PNG of 16 bits in three bands, black, half grey and white, by the PNG
    specification (W3C, 3rd edition, from memory)."""

    def chunk(name: bytes, data: bytes) -> bytes:
        check = zlib.crc32(name + data)
        return struct.pack(">I", len(data)) + name + data + struct.pack(">I", check)

    row = b"\0" + b"".join(
        struct.pack(">H", (0, 32768, 65535)[place * 3 // width])
        for place in range(width)
    )
    head = struct.pack(">IIBBBBB", width, height, 16, 0, 0, 0, 0)
    return BytesIO(
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", head)
        + chunk(b"IDAT", zlib.compress(row * height))
        + chunk(b"IEND", b"")
    )


def animated(form) -> BytesIO:
    first, second = image(90, 60), Image.new("RGB", (90, 60), (20, 200, 20))
    return file(form, made=first, save_all=True, append_images=[second])


def test_a_heic_is_taken():
    picture = photos.read_picture(heic())
    assert (picture.file_format, picture.width, picture.height) == ("HEIC", 900, 600)


def test_a_photo_of_48_million_pixels_is_taken():
    picture = photos.read_picture(file(made=image(8000, 6000)))
    assert (picture.width, picture.height) == (8000, 6000)
    assert max(large_of(picture).size) in range(1800, 2049)


def test_a_panorama_keeps_its_shape():
    picture = photos.read_picture(file(made=image(12000, 1500)))
    width, height = large_of(picture).size
    assert width / height == pytest.approx(8, rel=0.02)
    assert min(Image.open(BytesIO(picture.sizes["small"])).size) >= 1


def test_printers_colours_become_those_of_screens():
    picture = photos.read_picture(file(made=image().convert("CMYK")))
    shown = large_of(picture)
    assert shown.mode == "RGB"
    left, right = shown.getpixel((100, 300)), shown.getpixel((800, 300))
    assert left[0] > 120 > left[2]
    assert right[2] > 120 > right[0]


def test_a_picture_of_16_bits_keeps_its_shades():
    shown = large_of(photos.read_picture(png_of_16_bits()))
    black, grey, white = (shown.getpixel((place, 20)) for place in (10, 30, 50))
    assert max(black) < 40
    assert grey == pytest.approx((128, 128, 128), abs=20)
    assert min(white) > 215


@pytest.mark.parametrize("form", ["WEBP", "PNG"])
def test_of_a_moving_picture_the_first_is_kept(form):
    shown = large_of(photos.read_picture(animated(form)))
    red, green, _blue = shown.convert("RGB").getpixel((20, 30))
    assert red > 120 > green


def test_a_moving_gif_is_refused_in_words():
    with refused("bad_picture", match="JPEG, PNG, WebP or HEIC"):
        photos.read_picture(animated("GIF"))


@pytest.mark.parametrize(("form", "name"), [("PNG", "leaf.jpg"), ("JPEG", "leaf.heic")])
def test_a_file_is_what_it_holds_and_not_what_it_is_called(form, name):
    content = file(form)
    content.name = name
    assert photos.read_picture(content).file_format == form


def test_a_text_that_is_called_a_photo_is_refused_in_words():
    content = BytesIO(b"Look at tree A-7, its leaves are yellow." * 20)
    content.name = "leaf.jpg"
    with refused("bad_picture", match="not a photo"):
        photos.read_picture(content)


@pytest.mark.parametrize("share", [0.02, 0.3, 0.6, 0.9])
@pytest.mark.parametrize("form", ["JPEG", "PNG", "WEBP"])
def test_a_cut_file_is_refused_in_words(form, share):
    whole = file(form, made=image(400, 300)).getvalue()
    with refused("bad_picture", match="damaged|not a photo"):
        photos.read_picture(BytesIO(whole[: int(len(whole) * share)]))


def test_an_empty_file_is_refused_in_words():
    with refused("bad_picture", match="empty file"):
        photos.read_picture(BytesIO())


def test_a_png_that_claims_to_be_giant_is_refused_before_it_is_unpacked():
    content = bytearray(png_of_16_bits().getvalue())
    content[16:24] = struct.pack(">II", 60000, 60000)
    content[29:33] = struct.pack(">I", zlib.crc32(bytes(content[12:29])))
    with refused("bad_picture", match="more than 8 million pixels"):
        photos.read_picture(BytesIO(bytes(content)))


def test_a_giant_heic_is_told_how_many_pixels_one_may_have():
    content = bytearray(heic().getvalue())
    # The box that says its size, of ISO/IEC 23008-12, from memory.
    at = content.index(b"ispe") + 8
    assert struct.unpack(">II", content[at : at + 8]) == (900, 600)
    content[at : at + 8] = struct.pack(">II", 16320, 12240)
    with refused("bad_picture", match="more than 13 million pixels"):
        photos.read_picture(BytesIO(bytes(content)))
