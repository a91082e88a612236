"""Each sort of file that people bring: taken as it is meant, or refused in words."""

from __future__ import annotations

import struct
import zlib
from dataclasses import replace
from io import BytesIO
from random import Random

import pytest
from PIL import Image, ImageChops

from orchard.services import photos
from orchard.services.errors import Refused
from orchard.services.photos import images
from orchard.services.photos.tiles import tiles_of
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


def tiled(made=None, *, turn=0) -> bytes:
    """Return a HEIC laid of tiles, as libheif writes it, turned by quarters."""
    out = BytesIO()
    (made or image(1300, 900)).save(out, "HEIF", quality=80, tile_size=256)
    content = bytearray(out.getvalue())
    if turn:
        # In place of how deep its colours are: both are properties of the whole alone.
        at = content.index(b"pixi")
        content[at : at + 5] = b"irot" + bytes([turn])
    return bytes(content)


@pytest.mark.parametrize("times", [1, 2, 4])
@pytest.mark.parametrize("turn", [0, 1, 2, 3])
def test_tiles_make_up_the_picture_that_the_reader_makes_of_them(turn, times):
    """Held against libheif, which lays and turns all tiles at once."""
    content = tiled(turn=turn)
    tiles = tiles_of(content)
    with Image.open(BytesIO(content)) as whole:
        assert tiles.size == whole.size
        expected = whole.convert("RGB")
    shown = tiles.shrunk(times)
    if times == 1:
        assert shown.tobytes() == expected.tobytes()
    # The last tiles lap over the edge, where a turned picture begins to be averaged.
    there = expected.reduce(times)
    assert shown.size == there.size
    inner = (4, 4, there.width - 4, there.height - 4)
    apart = ImageChops.difference(shown.crop(inner), there.crop(inner))
    assert max(high for _low, high in apart.getextrema()) <= (3 if turn else 0)


@pytest.fixture
def few_pixels_whole(monkeypatch):
    """A HEIC may have few pixels, unless it is laid of tiles."""
    monkeypatch.setitem(images.MOST_PIXELS, "HEIF", 100_000)


def test_a_large_heic_laid_of_tiles_is_taken(few_pixels_whole):
    with refused("bad_picture", match="million pixels"):
        photos.read_picture(heic())
    picture = photos.read_picture(BytesIO(tiled(image(2600, 1900), turn=1)))
    assert (picture.width, picture.height) == (1900, 2600)
    assert max(large_of(picture).size) == 2048
    # As the same picture by a JPEG of it, turned against the clock.
    turned = image(2600, 1900).transpose(Image.Transpose.ROTATE_90)
    other = large_of(photos.read_picture(file(made=turned)))
    shown = large_of(picture)
    for at in ((0.3, 0.2), (0.7, 0.2), (0.3, 0.8), (0.7, 0.8)):
        x, y = (round(share * side) for share, side in zip(at, other.size, strict=True))
        assert shown.getpixel((x, y)) == pytest.approx(other.getpixel((x, y)), abs=12)


@pytest.mark.parametrize(
    "spoilt", [b"pitm", b"iinf", b"iloc", b"iref", b"ipma", b"grid"]
)
def test_a_heic_whose_tiles_are_not_described_is_refused(few_pixels_whole, spoilt):
    content = tiled().replace(spoilt, b"xxxx")
    with refused("bad_picture", match="million pixels|damaged|not a photo"):
        photos.read_picture(BytesIO(content))


def test_more_tiles_than_the_picture_has_room_for_are_not_decoded():
    """Each takes its time: a thousand beside one that shows are an attack."""
    tiles = tiles_of(tiled())
    many = replace(
        tiles,
        columns=2 * tiles.columns,
        numbers=2 * tiles.numbers,
        hidden_at=2 * tiles.hidden_at,
    )
    with pytest.raises(ValueError, match="do not make up"):
        many.shrunk(1)


@pytest.mark.parametrize("seed", range(40))
def test_a_heic_of_tiles_with_broken_bytes_is_taken_or_refused(few_pixels_whole, seed):
    dice = Random(seed)
    content = bytearray(tiled(image(600, 400)))
    head = content.index(b"mdat")
    for _byte in range(3):
        content[dice.randrange(head)] = dice.randrange(256)
    try:
        photos.read_picture(BytesIO(bytes(content)))
    except Refused as refusal:
        assert refusal.code == "bad_picture"


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
