"""No picture takes more than its share of a worker's memory."""

from __future__ import annotations

import subprocess
import sys

from tests.bench.memory import CASES, MOST_MB, content
from tests.faults.server import ROOT

# What reading one takes, in a process that does nothing else and began with nothing.
READING = """
import re, sys
import django
django.setup()
import orchard.wsgi
from orchard.services import photos
from orchard.services.errors import Refused
from tests.bench.memory import memory_of
from pathlib import Path
before = memory_of("self", "VmRSS")
Path("/proc/self/clear_refs").write_text("5")
for path in sys.argv[1:]:
    with open(path, "rb") as file:
        try:
            photos.read_picture(file)
        except Refused as refusal:
            print(refusal)
print(memory_of("self", "VmHWM") - before)
"""


def test_the_largest_pictures_that_are_taken_stay_below_the_limit(tmp_path):
    files = []
    for number, case in enumerate(CASES):
        if case.form == "HEIF":
            # Their making takes minutes; the measuring of a worker has them.
            continue
        files.append(tmp_path / str(number))
        files[-1].write_bytes(content(case))
    assert len(files) > 6
    read = subprocess.run(
        [sys.executable, "-c", READING, *map(str, files)],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
    )
    *refusals, more = read.stdout.splitlines()
    assert float(more) < MOST_MB
    # 7,700 x 7,700 pixels of one colour, in a quarter of a megabyte.
    assert refusals == [
        "That picture has more than 8 million pixels. Send a smaller copy."
    ]
