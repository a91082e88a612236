"""The migrations that have landed, each with its hash.

`python -m tests.landed_migrations` adds new ones to the list and alters no line: a
database that has run a migration never runs it again, so an edit would reach only some.
"""

from __future__ import annotations

from hashlib import sha256
from pathlib import Path

FOLDER = Path(__file__).resolve().parent.parent / "orchard" / "records" / "migrations"
LIST = FOLDER / "landed.txt"


def hashes() -> dict[str, str]:
    """Return the hash of each migration there is, by its name."""
    return {
        path.name: sha256(path.read_bytes()).hexdigest()
        for path in sorted(FOLDER.glob("[0-9]*.py"))
    }


def landed() -> dict[str, str]:
    """Return the hash of each migration in the list, by its name."""
    if not LIST.exists():
        return {}
    lines = LIST.read_text(encoding="utf-8").splitlines()
    return {name: digest for digest, name in map(str.split, lines)}


if __name__ == "__main__":
    rows = sorted({**hashes(), **landed()}.items())
    text = "".join(f"{digest}  {name}\n" for name, digest in rows)
    LIST.write_text(text, encoding="utf-8")
