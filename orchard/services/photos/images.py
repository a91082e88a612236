"""Pictures: what an uploaded file really is, upright and free of all it carries.

Nothing here touches the database. A camera's file holds far more than the picture: the
place, the device, sometimes a second picture. Only what is decoded and written again
leaves the house, so none of it can.
"""

from __future__ import annotations

import hashlib
import warnings
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, tzinfo
from io import BytesIO
from typing import IO

import pillow_heif
from django.conf import settings
from django.utils.translation import gettext as _
from PIL import Image, ImageCms, ImageOps, UnidentifiedImageError

from orchard.services.errors import Refused

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
QUALITY = 82

# Numbers of the Exif standard (CIPA DC-008, from memory).
EXIF_PART = 0x8769
TAKEN_AT = 0x9003
TAKEN_OFFSET = 0x9011
ORIENTATION = 0x0112
TURNED_A_QUARTER = {5, 6, 7, 8}


@dataclass(frozen=True, slots=True)
class Picture:
    """A verified picture: the file as it came, and its three sizes ready to serve."""

    original: bytes
    sha256: str
    file_format: str
    width: int
    height: int
    # The camera's own clock, without a zone unless the camera said one.
    taken: datetime | None
    sizes: Mapping[str, bytes]

    def taken_at(self, zone: tzinfo) -> datetime | None:
        """Return when it was taken; a camera that names no zone is on local time."""
        if self.taken is None or self.taken.tzinfo is not None:
            return self.taken
        return self.taken.replace(tzinfo=zone)


def read_picture(file: IO[bytes]) -> Picture:
    """Decode an uploaded file and make its sizes.

    Raises:
        Refused (bad_picture): the file is empty, too large, broken, or not one of our
            formats.
    """
    content = file.read(settings.PHOTO_MAX_BYTES + 1)
    if not content:
        raise Refused(
            _("That photo is an empty file. Choose it again."),
            code="bad_picture",
            field="photos",
        )
    if len(content) > settings.PHOTO_MAX_BYTES:
        raise Refused(
            _("That photo is larger than %(limit)d MB. Send a smaller copy of it.")
            % {"limit": settings.PHOTO_MAX_BYTES // (1024 * 1024)},
            code="bad_picture",
            field="photos",
        )
    try:
        return _decoded(content)
    except Refused:
        raise
    except UnidentifiedImageError:
        raise Refused(
            _(
                "That file is not a photo we can read, or it is damaged. Send a JPEG, "
                "PNG, WebP or HEIC picture; drawings and documents cannot be kept."
            ),
            code="bad_picture",
            field="photos",
        ) from None
    except (Image.DecompressionBombError, Image.DecompressionBombWarning):
        raise _too_many_pixels() from None
    except Exception:  # A broken file can fail anywhere inside a decoder.
        raise Refused(
            _("That photo is damaged and cannot be opened. Take or choose it again."),
            code="bad_picture",
            field="photos",
        ) from None


def _too_many_pixels() -> Refused:
    return Refused(
        _("That picture has more than %(limit)d million pixels. Send a smaller copy.")
        % {"limit": settings.PHOTO_MAX_PIXELS // 1_000_000},
        code="bad_picture",
        field="photos",
    )


def _decoded(content: bytes) -> Picture:
    with Image.open(BytesIO(content), formats=[*FORMATS]) as image:
        if image.width * image.height > settings.PHOTO_MAX_PIXELS:
            raise _too_many_pixels()
        exif = image.getexif()
        # The HEIC reader turns the picture itself and then says "upright".
        turned = exif.get(ORIENTATION) in TURNED_A_QUARTER
        width, height = image.size[::-1] if turned else image.size
        taken = _moment(exif)
        name = image.format or ""
        # A JPEG can be decoded at a fraction of its size: less memory, much quicker.
        image.draft("RGB", (2 * SIZES["large"], 2 * SIZES["large"]))
        upright = _plain(ImageOps.exif_transpose(image) or image)
    return Picture(
        original=content,
        sha256=hashlib.sha256(content).hexdigest(),
        # A phone's JPEG may hold a second picture; the first one is the photo.
        file_format=FORMATS.get(name, "JPEG"),
        width=width,
        height=height,
        taken=taken,
        sizes=_written(upright),
    )


def _plain(image: Image.Image) -> Image.Image:
    """Return the picture in sRGB on white, with nothing attached to it."""
    profile = image.info.get("icc_profile")
    has_alpha = image.mode in ("RGBA", "LA", "PA") or "transparency" in image.info
    if has_alpha:
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
            image.save(out, "JPEG", quality=QUALITY, progressive=True, optimize=True)
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
            return datetime.strptime(written, form)  # noqa: DTZ007
        except ValueError:
            continue
    return None
