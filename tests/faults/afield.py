"""What real browsers need for a day afield: photos, and a look into their store."""

from __future__ import annotations

import os
import random
import signal
from contextlib import suppress
from datetime import datetime
from io import BytesIO
from pathlib import Path

from PIL import Image

# Numbers of the Exif standard (CIPA DC-008, from memory).
EXIF_PART, TAKEN_AT, TAKEN_OFFSET = 0x8769, 0x9003, 0x9011

# The outbox as it lies on the phone, read past the page's own scripts.
ENTRIES = """() => new Promise((done, failed) => {
  const opening = indexedDB.open("orchard-outbox");
  opening.onerror = failed;
  opening.onsuccess = () => {
    const base = opening.result;
    const table = base.transaction("entries").objectStore("entries");
    const asked = table.index("seq").getAll();
    asked.onsuccess = () => { base.close(); done(asked.result); };
    asked.onerror = failed;
  };
})"""


def photo(number: int, taken: datetime) -> bytes:
    """Make a small photo, another one for each number, with its camera's time."""
    chance = random.Random(number)
    image = Image.effect_noise((96, 64), 60 + number).convert("RGB")
    image.putpixel((0, 0), (chance.randrange(256), chance.randrange(256), number))
    exif = Image.Exif()
    part = exif.get_ifd(EXIF_PART)
    part[TAKEN_AT] = f"{taken:%Y:%m:%d %H:%M:%S}"
    part[TAKEN_OFFSET] = "+00:00"
    out = BytesIO()
    image.save(out, "JPEG", quality=70, exif=exif)
    return out.getvalue()


def kill_all_with(mark: str) -> int:
    """Kill every process whose command line has a mark of this test's own in it."""
    killed = 0
    for folder in Path("/proc").iterdir():
        if not folder.name.isdigit():
            continue
        with suppress(OSError):
            command = (folder / "cmdline").read_bytes().decode(errors="replace")
            if mark in command and int(folder.name) != os.getpid():
                os.kill(int(folder.name), signal.SIGKILL)
                killed += 1
    return killed
