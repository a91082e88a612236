"""What it takes to make the three sizes of a photo of 12 million pixels.

    python -m tests.bench.three_sizes

Ours also verifies the file, hashes it and measures what it shows; libvips only makes
the sizes, of the same pixels and quality, and only where pyvips is installed: a folder
on PYTHONPATH will do. Each runs in processes of its own. Promises: no more processor
than libvips, and at most 110 MB of memory beside what the process had before.
"""

from __future__ import annotations

import importlib.util
import json
import os
import re
import subprocess
import sys
import tempfile
import time
from io import BytesIO
from pathlib import Path

from PIL import Image

from tests import camera

ROOT = Path(__file__).resolve().parent.parent.parent
CPU_MOST, MEMORY_MOST = 1.0, 110.0
TIMES = 7


def ours(file: bytes) -> None:
    from orchard.services import photos

    assert set(photos.read_picture(BytesIO(file)).sizes) == set(photos.SIZES)


def libvips(file: bytes) -> None:
    import pyvips

    from orchard.services.photos import images

    image = None
    # As large as ours, which is a half of the photo, decoded at once to that.
    sizes = {**images.SIZES, "large": camera.WIDTH // 2}
    for name, side in sizes.items():
        shape = {"height": side, "size": "down"}
        if image is None:
            image = pyvips.Image.thumbnail_buffer(
                file, side, export_profile="srgb", **shape
            ).copy_memory()
        else:
            image = image.thumbnail_image(side, **shape).copy_memory()
        image.jpegsave_buffer(
            Q=images.QUALITY[name], interlace=True, optimize_coding=True, strip=True
        )


def memory(name: str) -> float:
    status = Path("/proc/self/status").read_text()
    return int(re.search(rf"{name}:\s*(\d+)", status)[1]) / 1024


def child(way: str, path: str) -> None:
    """Make the sizes again and again; print the least CPU time and the peak."""
    import django

    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tests.settings")
    django.setup()
    make = {"ours": ours, "libvips": libvips}[way]
    tiny = BytesIO()
    Image.new("RGB", (8, 8)).save(tiny, "JPEG")
    # Whatever is only loaded at first use is no cost of a photo.
    make(tiny.getvalue())
    file = Path(path).read_bytes()
    before = memory("VmRSS")
    Path("/proc/self/clear_refs").write_text("5")
    times = []
    for _ in range(TIMES):
        begun = time.process_time()
        make(file)
        times.append(time.process_time() - begun)
    found = {"cpu": min(times), "more": memory("VmHWM") - before}
    sys.stdout.write(json.dumps(found))


def measure() -> dict[str, dict[str, float]]:
    """Return the CPU time, s, and the memory, MB, of each way that there is."""
    ways = ["ours"]
    if importlib.util.find_spec("pyvips"):
        ways.append("libvips")
    with tempfile.NamedTemporaryFile(suffix=".jpg") as file:
        file.write(camera.photo())
        file.flush()
        return {
            way: json.loads(
                subprocess.run(
                    [sys.executable, "-m", "tests.bench.three_sizes", way, file.name],
                    cwd=ROOT,
                    env={**os.environ, "VIPS_CONCURRENCY": "1"},
                    check=True,
                    stdout=subprocess.PIPE,
                ).stdout
            )
            for way in ways
        }


def main() -> int:
    found = measure()
    for way, each in found.items():
        print(f"{way:10}{each['cpu'] * 1000:8.0f} ms of CPU{each['more']:8.0f} MB more")
    fits = found["ours"]["more"] <= MEMORY_MOST
    if "libvips" in found:
        ratio = found["ours"]["cpu"] / found["libvips"]["cpu"]
        print(f"ours / libvips {ratio:.2f}, at most {CPU_MOST:g}")
        fits = fits and ratio <= CPU_MOST
    else:
        print("pyvips is not installed: there is nothing to compare with.")
    return int(not fits)


if __name__ == "__main__":
    if len(sys.argv) > 1:
        child(*sys.argv[1:])
    else:
        sys.exit(main())
