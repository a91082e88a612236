"""Pictures: what an uploaded file really is, upright and free of all it carries.

Nothing here touches the database. A camera's file holds far more than the picture: the
place, the device, sometimes a second picture. Only what is decoded and written again
leaves the house, so none of it can.

A picture takes far more room decoded than as a file. So each is made small while it is
decoded or at once after it, only then turned and coloured, one at a time in a process,
and how many pixels it may have depends on how much of it must be held to read it.
"""

from __future__ import annotations

import hashlib
import warnings
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, tzinfo
from io import BytesIO
from math import ceil
from typing import IO

import pillow_heif
from django.conf import settings
from django.utils.translation import gettext as _
from PIL import Image, ImageCms, ImageOps, UnidentifiedImageError
from PIL.Image import Transpose

from orchard.science.pictures import (
    SMALLEST,
    SQUARE,
    brightness,
    likeness,
    sharpness,
)
from orchard.services.errors import Refused
from orchard.services.memory import much_memory
from orchard.services.photos.tiles import Tiles, tiles_of

pillow_heif.register_heif_opener()
# A small file that unpacks to a giant picture is an attack or a mistake, not a photo.
warnings.filterwarnings("error", category=Image.DecompressionBombWarning)

SIZES: Mapping[str, int] = {"large": 2048, "middle": 1024, "small": 320}
# By the reader's name for them.
FORMATS: Mapping[str, str] = {
    "JPEG": "JPEG",
    "PNG": "PNG",
    "WEBP": "WEBP",
    "HEIF": "HEIC",
}
# Of a small size many stand on one page.
QUALITY: Mapping[str, int] = {"large": 82, "middle": 82, "small": 60}
# So wide a large size may be where a JPEG can be decoded at once to about it: a half
# or a quarter of what phones take is a little less than the size asked for.
LEAST_LARGE = 1800
# A JPEG of more pixels is halved at least, also where that is smaller still.
MOST_AS_THEY_ARE = 10_000_000
# The most pixels of each, so that none takes more than about 100 MB to read. A JPEG of
# a camera is read at a fraction of its size; a progressive one is held whole, at some
# bytes a pixel; all others are held whole as they come, some more than once.
MOST_PIXELS: Mapping[str, int] = {
    "JPEG": 60_000_000,
    "progressive": 16_000_000,
    "HEIF": 13_000_000,
    # A HEIC laid of tiles is read tile by tile.
    "tiles": 60_000_000,
    "PNG": 8_500_000,
    "WEBP": 4_500_000,
}
# How a file of each begins; what else is taken is HEIF, which begins with a length.
HEADS: Mapping[str, bytes] = {"JPEG": b"\xff\xd8", "PNG": b"\x89PNG", "WEBP": b"RIFF"}

# Numbers of the Exif standard (CIPA DC-008, from memory).
EXIF_PART = 0x8769
TAKEN_AT = 0x9003
TAKEN_OFFSET = 0x9011
ORIENTATION = 0x0112
# A camera that says another year was never told the day.
YEARS = range(1970, 2100)
TURNED_A_QUARTER = {5, 6, 7, 8}
# What sets a picture upright, by its orientation.
UPRIGHT: Mapping[int, Transpose] = {
    2: Transpose.FLIP_LEFT_RIGHT,
    3: Transpose.ROTATE_180,
    4: Transpose.FLIP_TOP_BOTTOM,
    5: Transpose.TRANSPOSE,
    6: Transpose.ROTATE_270,
    7: Transpose.TRANSVERSE,
    8: Transpose.ROTATE_90,
}


@dataclass(frozen=True, slots=True)
class Measures:
    """What is measured on the small size of a picture; None where it is too small."""

    sharpness: float | None
    brightness: float
    likeness: int


@dataclass(frozen=True, slots=True)
class Picture:
    """A verified picture: the file as it came, and its three sizes ready to serve."""

    # Not its bytes: many pictures may come at once.
    original: IO[bytes]
    size_bytes: int
    sha256: str
    file_format: str
    width: int
    height: int
    # The camera's own clock, without a zone unless the camera said one.
    taken: datetime | None
    sizes: Mapping[str, bytes]
    measures: Measures

    def taken_at(self, zone: tzinfo) -> datetime | None:
        """Return when it was taken; a camera that names no zone is on local time."""
        if self.taken is None or self.taken.tzinfo is not None:
            return self.taken
        return self.taken.replace(tzinfo=zone)


def read_picture(file: IO[bytes]) -> Picture:
    """Decode an uploaded file and make its sizes. The file stays open, to be stored.

    Raises:
        Refused (bad_picture): the file is empty, too large, broken, or not one of our
            formats.
    """
    size, digest = _measured(file)
    if not size:
        raise Refused(
            _("That photo is an empty file. Choose it again."),
            code="bad_picture",
            field="photos",
        )
    if size > settings.PHOTO_MAX_BYTES:
        raise Refused(
            _("That photo is larger than %(limit)d MB. Send a smaller copy of it.")
            % {"limit": settings.PHOTO_MAX_BYTES // (1024 * 1024)},
            code="bad_picture",
            field="photos",
        )
    try:
        with much_memory:
            return _decoded(file, size, digest)
    except Refused:
        raise
    except UnidentifiedImageError:
        raise Refused(
            _(
                "That file is not a photo we can read, or it is damaged. Send a JPEG, "
                "PNG, WebP or HEIC picture; drawings and documents can't be kept."
            ),
            code="bad_picture",
            field="photos",
        ) from None
    except (Image.DecompressionBombError, Image.DecompressionBombWarning):
        raise _too_many_pixels(_most_of_its_sort(file)) from None
    except Exception:  # A broken file can fail anywhere inside a decoder.
        raise Refused(
            _("That photo is damaged and can't be opened. Take or choose it again."),
            code="bad_picture",
            field="photos",
        ) from None


def _measured(file: IO[bytes]) -> tuple[int, str]:
    """Return size and hash of a file, read piece by piece; of one too large no hash."""
    digest, size = hashlib.sha256(), 0
    file.seek(0)
    while size <= settings.PHOTO_MAX_BYTES and (piece := file.read(64 * 1024)):
        digest.update(piece)
        size += len(piece)
    return size, digest.hexdigest()


def _most_of_its_sort(file: IO[bytes]) -> int:
    """Return how many pixels a file may have, by its first bytes, before it is read."""
    file.seek(0)
    begins = file.read(4)
    sort = next((sort for sort, head in HEADS.items() if begins.startswith(head)), "")
    return MOST_PIXELS.get(sort, MOST_PIXELS["HEIF"])


def _too_many_pixels(most: int) -> Refused:
    return Refused(
        _("That picture has more than %(limit)d million pixels. Send a smaller copy.")
        % {"limit": most // 1_000_000},
        code="bad_picture",
        field="photos",
    )


def _decoded(file: IO[bytes], size: int, sha256: str) -> Picture:
    with Image.open(file, formats=[*FORMATS]) as image:
        name = image.format or ""
        sort = "progressive" if image.info.get("progressive") else name
        # A phone's JPEG may hold a second picture; the first one is the photo.
        most = MOST_PIXELS.get(sort, MOST_PIXELS["JPEG"])
        tiles = None
        if name == "HEIF" and image.width * image.height > most:
            tiles = _tiles_of(file, image)
            most = MOST_PIXELS["tiles"] if tiles else most
        if image.width * image.height > most:
            raise _too_many_pixels(most)
        exif = image.getexif()
        # The HEIC reader turns the picture itself and then says "upright".
        orientation = exif.get(ORIENTATION, 1)
        width, height = image.size
        if orientation in TURNED_A_QUARTER:
            width, height = height, width
        taken = _moment(exif)
        profile = image.info.get("icc_profile")
        shrunk = None if tiles else _shrunk(image)
    if tiles:
        shrunk = _fitted(tiles.shrunk(_times(width, height)))
        shrunk.info = {"icc_profile": profile}
    assert shrunk is not None
    if orientation in UPRIGHT:
        shrunk = shrunk.transpose(UPRIGHT[orientation])
    sizes = _written(_plain(shrunk))
    return Picture(
        original=file,
        size_bytes=size,
        sha256=sha256,
        file_format=FORMATS.get(name, "JPEG"),
        width=width,
        height=height,
        taken=taken,
        sizes=sizes,
        measures=measured(BytesIO(sizes["small"])),
    )


def measured(small: IO[bytes]) -> Measures:
    """Measure a picture by its small size."""
    with Image.open(small) as image:
        grey = image.convert("L")
    square = grey.resize((SQUARE, SQUARE), Image.Resampling.BOX)
    levels = grey.tobytes()
    return Measures(
        sharpness=sharpness(levels, *grey.size) if min(grey.size) >= SMALLEST else None,
        brightness=brightness(levels),
        likeness=likeness(square.tobytes()),
    )


def _shrunk(image: Image.Image) -> Image.Image:
    """Return a picture at its largest size, decoded to no more of it than needed."""
    factor = LEAST_LARGE / max(image.size)
    if image.width * image.height > MOST_AS_THEY_ARE:
        factor = min(factor, 0.5)
    if factor < 1:
        least = (ceil(image.width * factor), ceil(image.height * factor))
        image.draft("RGB", least)
    image.load()
    if image.mode.startswith("I"):
        # Greys of 16 bits: brought to 8 by hand, for all above would become white.
        image = image.convert("I").point(lambda level: level * (1 / 256)).convert("L")
    elif image.mode == "PA" or "transparency" in image.info:
        image = image.convert("RGBA")
    elif image.mode not in ("L", "LA", "RGB", "RGBA", "CMYK"):
        # A palette's numbers cannot be averaged, nor can those of a single bit.
        image = image.convert("RGB")
    return _fitted(image)


def _tiles_of(file: IO[bytes], image: Image.Image) -> Tiles | None:
    """Return the tiles of a HEIC; None where it has none, or they make up another."""
    if image.mode != "RGB":
        return None
    file.seek(0)
    try:
        tiles = tiles_of(file.read())
    except (ValueError, IndexError, KeyError):
        return None
    return tiles if tiles and tiles.size == image.size else None


def _times(width: int, height: int) -> int:
    """Return how many times smaller tiles are made, so that a large size is left."""
    times = 1
    while max(width, height) // (2 * times) >= LEAST_LARGE:
        times *= 2
    return times


def _fitted(image: Image.Image) -> Image.Image:
    side = SIZES["large"]
    # By whole numbers first, which takes no room but that of the result.
    times = max(image.size) // side
    if times > 1:
        image = image.reduce(times)
    if max(image.size) > side:
        return ImageOps.contain(image, (side, side), Image.Resampling.LANCZOS)
    # Not the file itself, which is closed.
    return image.copy()


def _plain(image: Image.Image) -> Image.Image:
    """Return the picture in sRGB on white, with nothing attached to it."""
    profile = image.info.get("icc_profile")
    if image.mode in ("RGBA", "LA"):
        layer = image.convert("RGBA")
        image = Image.new("RGB", layer.size, "white")
        image.paste(layer, mask=layer.getchannel("A"))
    elif profile and image.mode in ("RGB", "CMYK", "L"):
        image = _in_srgb(image, profile)
    clean = image.convert("RGB")
    # Comments and packets ride along in `info` and would be written out again.
    clean.info = {}
    return clean


def _in_srgb(image: Image.Image, profile: bytes) -> Image.Image:
    try:
        converted = ImageCms.profileToProfile(
            image,
            ImageCms.ImageCmsProfile(BytesIO(profile)),
            ImageCms.createProfile("sRGB"),
            outputMode="RGB",
        )
    except (ImageCms.PyCMSError, OSError, ValueError):
        # A profile that makes no sense is common; the colours are near enough.
        return image
    return converted or image


def _written(image: Image.Image) -> dict[str, bytes]:
    """Return each size as JPEG, every one made from the next larger.

    A picture that is no larger than two of the sizes is the same file in both.
    """
    files: dict[str, bytes] = {}
    written = b""
    for name, side in SIZES.items():
        if not written or max(image.size) > side:
            image = image.copy()
            image.thumbnail((side, side), Image.Resampling.LANCZOS)
            image.info = {}
            out = BytesIO()
            image.save(
                out, "JPEG", quality=QUALITY[name], progressive=True, optimize=True
            )
            written = out.getvalue()
        files[name] = written
    return files


def _moment(exif: Image.Exif) -> datetime | None:
    """Return when the camera says it took the picture, or None."""
    part = exif.get_ifd(EXIF_PART)
    text = str(part.get(TAKEN_AT, "")).strip("\x00 ")
    offset = str(part.get(TAKEN_OFFSET, "")).strip("\x00 ")
    for written, form in (
        (f"{text} {offset}", "%Y:%m:%d %H:%M:%S %z"),
        (text, "%Y:%m:%d %H:%M:%S"),
    ):
        try:
            moment = datetime.strptime(written, form)  # noqa: DTZ007
        except ValueError:
            continue
        return moment if moment.year in YEARS else None
    return None
