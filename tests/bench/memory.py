"""What pictures take of a worker's memory: its peak while they come, and what it keeps.

    python -m tests.bench.memory             a table of all pictures
    python -m tests.bench.memory 48          those whose name holds a word

One worker with four threads, as `deploy/orchard.service` has two. It is asked for a
page first; then some pictures are sent at once, and with them somebody signs in, whose
password is hashed as in production. Promise: at most 110 MB more than before, for each
picture and so, since they are read one after the other, for all of them.
"""

from __future__ import annotations

import random
import re
import sys
import tempfile
import time
import urllib.error
import urllib.request
from collections.abc import Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache
from io import BytesIO
from pathlib import Path
from urllib.parse import urlencode

import pillow_heif
from PIL import Image, ImageFilter

from tests.faults.server import Server

MOST_MB = 110
LINE = "----line"
TOKEN = "t" * 32


@dataclass(frozen=True)
class Case:
    """A sort of picture, how many come at once, and what each is answered."""

    name: str
    form: str
    size: tuple[int, int]
    mode: str = "RGB"
    options: tuple[tuple[str, object], ...] = ()
    at_once: int = 4
    status: int = 200


CASES = [
    Case("12 MP JPEG", "JPEG", (4032, 3024)),
    Case("48 MP JPEG", "JPEG", (8064, 6048)),
    Case("60 MP JPEG", "JPEG", (8944, 6708)),
    Case("10 MP JPEG, not halved", "JPEG", (3599, 2760)),
    Case("16 MP progressive JPEG", "JPEG", (4600, 3450), options=(("progressive", 1),)),
    Case("12 MP HEIC", "HEIF", (4032, 3024)),
    Case("13 MP HEIC", "HEIF", (4160, 3120)),
    Case("24 MP HEIC", "HEIF", (5712, 4284), status=422),
    Case("24 MP HEIC of tiles", "HEIF", (5712, 4284), options=(("tile_size", 512),)),
    Case("48 MP HEIC of tiles", "HEIF", (8064, 6048), options=(("tile_size", 512),)),
    Case("8 MP PNG", "PNG", (3840, 2160)),
    Case("8 MP PNG, see-through", "PNG", (3840, 2160), mode="RGBA"),
    Case("4 MP WebP", "WEBP", (2448, 1836)),
    Case("59 MP PNG, one colour", "PNG", (7700, 7700), at_once=8, status=422),
]


@dataclass(frozen=True)
class Memory:
    """A worker's memory, MB: before, at its peak, and a while after."""

    before: float
    peak: float
    kept: float

    @property
    def more(self) -> float:
        return self.peak - self.before


@cache
def content(case: Case) -> bytes:
    """Return a picture's file: blurred spots, as little alike as leaves, and grain.

    With the grain a file is as large as a camera makes it.
    """
    out = BytesIO()
    spots = random.Random(1).randbytes(64 * 48 * 3)
    picture = Image.frombytes("RGB", (64, 48), spots)
    picture = picture.filter(ImageFilter.GaussianBlur(1)).resize(case.size)
    grain = Image.effect_noise(case.size, 40).convert("RGB")
    picture = Image.blend(picture, grain, 0.3).convert(case.mode)
    if "one colour" in case.name:
        picture = Image.new("RGB", case.size, "olive")
    if case.form == "HEIF":
        made = pillow_heif.from_pillow(picture)
        made.save(out, quality=50, **dict(case.options))
    else:
        picture.save(out, case.form, **dict(case.options))
    return out.getvalue()


def memory_of(pid: int | str, name: str) -> float:
    status = Path(f"/proc/{pid}/status").read_text()
    return int(re.search(rf"{name}:\s*(\d+)", status)[1]) / 1024


class Worker:
    """One worker of a server, and those who ask it."""

    def __init__(self, server: Server, world: dict) -> None:
        self.server, self.world = server, world
        status = self.ask(f"/{world['orchard']}/")
        assert status == 200, f"{status}: {server.last_words()}"
        master = server.process.pid
        children = Path(f"/proc/{master}/task/{master}/children").read_text()
        self.pid = int(children.split()[0])

    def ask(self, path: str, body: bytes = b"", sort: str = "") -> int:
        session = self.world["people"][0]["session"] if "sign-in" not in path else ""
        headers = {"Cookie": f"sessionid={session}; csrftoken={TOKEN}"}
        if body:
            headers |= {"Content-Type": sort, "X-CSRFToken": TOKEN}
        request = urllib.request.Request(
            f"http://127.0.0.1:{self.server.port}{path}", body or None, headers
        )
        try:
            with urllib.request.urlopen(request, timeout=120) as answer:
                return answer.status
        except urllib.error.HTTPError as answer:
            return answer.code

    def send(self, file: bytes) -> int:
        body = (
            f'--{LINE}\r\nContent-Disposition: form-data; name="photos";'
            f' filename="a.jpg"\r\n\r\n'
        ).encode()
        body += file + f"\r\n--{LINE}--\r\n".encode()
        path = f"/{self.world['orchard']}/strays/"
        return self.ask(path, body, f"multipart/form-data; boundary={LINE}")

    def sign_in(self) -> int:
        """Be somebody whom nobody knows: their password is hashed all the same."""
        typed = {"email": "nobody@example.org", "password": "under-an-old-tree"}
        form = "application/x-www-form-urlencoded"
        return self.ask("/sign-in/", urlencode(typed).encode(), form)

    def memory_with(self, case: Case) -> Memory:
        """Send the pictures of a case at once, while somebody signs in."""
        file = content(case)
        before = memory_of(self.pid, "VmRSS")
        # From here on a peak is a new one.
        Path(f"/proc/{self.pid}/clear_refs").write_text("5")
        with ThreadPoolExecutor(case.at_once + 1) as phones:
            signed = phones.submit(self.sign_in)
            sent = list(phones.map(self.send, [file] * case.at_once))
        assert signed.result() == 422
        assert sent == [case.status] * case.at_once, sent
        peak = memory_of(self.pid, "VmHWM")
        time.sleep(0.5)
        return Memory(before, peak, memory_of(self.pid, "VmRSS"))


@contextmanager
def worker() -> Iterator[Worker]:
    folder = Path(tempfile.mkdtemp(prefix="orchard-memory-"))
    server = Server(folder, "sqlite")
    server.surroundings["DJANGO_SETTINGS_MODULE"] = "orchard.settings"
    try:
        world = server.seed(people=1, trees=1)
        server.collect_statics()
        server.start("--threads", "4", application="orchard.wsgi", workers=1)
        yield Worker(server, world)
    finally:
        server.close()


def measure(cases: Iterable[Case]) -> Iterator[tuple[Case, Memory]]:
    """Measure each case with a worker of its own."""
    for case in cases:
        with worker() as one:
            yield case, one.memory_with(case)


def main() -> int:
    wanted = [case for case in CASES if all(word in case.name for word in sys.argv[1:])]
    print(f"{'picture':<24}{'file':>9}{'at once':>8}{'before':>8}{'peak':>7}", end="")
    print(f"{'more':>7}{'kept':>7}  MB")
    worst = 0.0
    for case, memory in measure(wanted):
        size = f"{len(content(case)) // 1000} kB"
        print(f"{case.name:<24}{size:>9}{case.at_once:>8}", end="")
        print(f"{memory.before:>8.0f}{memory.peak:>7.0f}{memory.more:>7.0f}", end="")
        print(f"{memory.kept - memory.before:>7.0f}", flush=True)
        worst = max(worst, memory.more)
    print(f"At most {worst:.0f} MB more, and {MOST_MB} are promised.")
    return int(worst > MOST_MB)


if __name__ == "__main__":
    sys.exit(main())
