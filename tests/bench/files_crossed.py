"""Count the files and rooms of the house that one look at a tree crosses.

    python -m tests.bench.files_crossed

A posted inspection with one finding runs through the test client, on a database made
for it and thrown away; every function it calls is noted. The first post warms what is
kept in memory (the guide, the addresses), the second one is counted.
"""

from __future__ import annotations

import os
import sys
import tempfile
import tomllib
from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from types import FrameType
from typing import Any

ROOT = Path(__file__).resolve().parent.parent.parent
FLOORS = ("web", "demonstration", "services", "records", "science")
FORM = {
    "sign": "sucker",
    "sucker:graft": "below",
    "sucker:woody": "no",
    "note": "One shoot below the graft",
}


@contextmanager
def files_noted(noted: set[Path]) -> Iterator[None]:
    """Note the file of every function of the house that is called meanwhile."""

    def note(frame: FrameType, event: str, _argument: Any) -> None:
        if event == "call":
            files.add(frame.f_code.co_filename)

    files: set[str] = set()
    before = sys.getprofile()
    sys.setprofile(note)
    try:
        yield
    finally:
        sys.setprofile(before)
        noted.update(
            path
            for path in map(Path, files)
            if any(path.is_relative_to(ROOT / "orchard" / floor) for floor in FLOORS)
        )


def corridors() -> frozenset[str]:
    """Return the packages that hold rooms, as the walls of the house have them."""
    with (ROOT / "pyproject.toml").open("rb") as file:
        contracts = tomllib.load(file)["tool"]["importlinter"]["contracts"]
    [doors] = [contract for contract in contracts if contract["type"] == "doors"]
    return frozenset(doors["corridors"])


def floor_and_room(file: Path, corridors: frozenset[str]) -> tuple[str, str]:
    """Return the floor of a file and its room: the first part below its corridors."""
    parts = file.relative_to(ROOT).with_suffix("").parts
    end = next(
        end
        for end in range(1, len(parts) + 1)
        if ".".join(parts[:end]) not in corridors or end == len(parts)
    )
    return parts[1], "/".join(parts[2:end])


def table(files: Iterable[Path]) -> list[str]:
    """Write how many files and rooms were crossed on each floor."""
    known = corridors()
    rooms = Counter(floor_and_room(file, known) for file in files)
    lines = [f"{'floor':14} {'files':>5} {'rooms':>5}  files of each room"]
    for floor in FLOORS:
        here = {
            room: count for (at, room), count in sorted(rooms.items()) if at == floor
        }
        each = ", ".join(f"{room} {count}" for room, count in here.items())
        figures = f"{floor:14} {sum(here.values()):5} {len(here):5}"
        lines.append(f"{figures}  {each}".rstrip())
    lines.append(f"{'all':14} {rooms.total():5} {len(rooms):5}")
    return lines


def look_at_tree() -> Callable[[], None]:
    """Make an orchard with a tree, and return the post of a look at it."""
    from django.test import Client
    from django.urls import reverse

    from orchard.records.models import Inspection, Membership
    from tests.conftest import make_orchard, make_person, make_tree

    orchard = make_orchard()
    tree = make_tree(orchard)
    client = Client(HTTP_HOST="localhost")
    client.force_login(make_person("Vera", orchard, Membership.Role.VOLUNTEER))
    address = reverse("inspection-new", args=[orchard.slug, tree.code])

    def post() -> None:
        before = Inspection.objects.count()
        response = client.post(address, FORM)
        if response.status_code != 302 or Inspection.objects.count() != before + 1:
            raise SystemExit(f"The look was not recorded: {response.status_code}.")

    return post


def main() -> None:
    with tempfile.TemporaryDirectory(prefix="orchard-crossed-") as folder:
        os.environ |= {
            "DATA_DIR": folder,
            "DATABASE_URL": f"sqlite:///{folder}/crossed.sqlite3",
            "DJANGO_SETTINGS_MODULE": "orchard.settings",
            "SECRET_KEY": "bench",
            "HTTPS": "False",
            "DEBUG": "False",
        }
        import django
        from django.core.management import call_command

        django.setup()
        call_command("migrate", verbosity=0)
        post = look_at_tree()
        post()
        crossed: set[Path] = set()
        with files_noted(crossed):
            post()
    print("\n".join(table(crossed)))


if __name__ == "__main__":
    main()
