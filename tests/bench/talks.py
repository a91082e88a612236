"""What it takes to write a talk of 30 slides: seconds of processor, and memory.

    python -m tests.bench.talks              time and memory of each file
    python -m tests.bench.talks FOLDER       and leave the files in a folder, to look at

The photos are as large as the book keeps them. Promise: the slides take at most 2 s and
250 MB of memory, all the process has included.
"""

from __future__ import annotations

import os
import resource
import sys
import tempfile
import time
from io import BytesIO
from pathlib import Path
from random import Random

import django

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tests.settings")
django.setup()

from django.core.files.base import ContentFile  # noqa: E402
from django.core.files.storage import default_storage  # noqa: E402
from django.test.utils import override_settings  # noqa: E402
from PIL import Image, ImageFilter  # noqa: E402

from orchard.records.models import Orchard, Photo, Slide, TalkSet  # noqa: E402
from orchard.services import photos, talks  # noqa: E402
from orchard.services.talks import SlidePlace, Talk, TalkSlide  # noqa: E402
from tests.conftest import NOW  # noqa: E402

SLIDES = 30
MOST_SECONDS, MOST_MB = 2.0, 250
Kind = Slide.Kind


def photo_laid_down(number: int) -> Photo:
    """Lay a photo down at the largest size that is kept: blurred spots like leaves."""
    photo = Photo(pk=number, credit="Ana of the orchard")
    spots = Random(number).randbytes(64 * 48 * 3)
    picture = Image.frombytes("RGB", (64, 48), spots)
    picture = picture.filter(ImageFilter.GaussianBlur(1)).resize((2048, 1536))
    for size, side in photos.SIZES.items():
        picture.thumbnail((side, side))
        out = BytesIO()
        picture.save(out, "JPEG", quality=82, progressive=True, optimize=True)
        path = photos.path_of(photo.name, size)
        default_storage.save(path, ContentFile(out.getvalue()))
    return photo


def talk_of(slides: int) -> Talk:
    """Return a talk, each of whose slides between the first and last shows photos."""
    numbers = iter(range(1, 1000))

    def place() -> SlidePlace:
        number = next(numbers)
        return SlidePlace(
            number=number,
            photo=photo_laid_down(number),
            caption=f"What the leaf shows in the light of morning, number {number}",
            alt_text="A leaf against the light, with a pale line winding through it",
        )

    kinds = {0: (Kind.PAIR, 2), 1: (Kind.BEFORE_AFTER, 2), 2: (Kind.SERIES, 4)}
    made = [TalkSlide(1, 1, Kind.TITLE, "Citrus", "The orchard", "", ())]
    for position in range(2, slides):
        kind, count = kinds.get(position % 10, (Kind.PICTURE, 1))
        places = tuple(place() for _ in range(count))
        made.append(TalkSlide(position, position, kind, "A leaf", "", "Ask.", places))
    made.append(TalkSlide(slides, slides, Kind.CREDITS, "Photos", "", "", ()))
    talk_set = TalkSet(title="Citrus", changed_at=NOW, orchard=Orchard(name="Bench"))
    return Talk(talk_set, tuple(made))


def main(folder: str | None) -> int:
    with (
        tempfile.TemporaryDirectory() as media,
        override_settings(MEDIA_ROOT=media),
    ):
        talk = talk_of(SLIDES)
        failed = False
        for name, write in {
            "deck.pptx": talks.deck_of, "photos.zip": talks.pictures_of
        }.items():  # fmt: skip
            begun = time.process_time()
            written = write(talk).read()
            seconds = time.process_time() - begun
            peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
            print(f"{name:12} {seconds:5.2f} s {peak:6.0f} MB {len(written):>11,} B")
            if name == "deck.pptx":
                failed = seconds > MOST_SECONDS or peak > MOST_MB
            if folder:
                Path(folder, name).write_bytes(written)
    print("too much" if failed else "ok")
    return int(failed)


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:2] or [None]))
