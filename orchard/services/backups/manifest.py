"""The list that comes with a backup: what it must hold when it is restored."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from pathlib import Path

from django.utils.translation import gettext as _

from orchard.services.backups.contents import Contents, TableContent
from orchard.services.errors import Refused

NAME = "manifest.json"
VERSION = 1
# Of a backup: the database, by its vendor, and the key that signs links and sessions.
DATABASES = {"sqlite": "orchard.sqlite3", "postgresql": "orchard.dump"}
KEY = "secret-key"
# Beside the backups: photos never change, so that each is copied once for all of them.
PHOTOS = "photos"


@dataclass(frozen=True, slots=True)
class Manifest:
    """What a backup holds: its database, table by table, and its photo files."""

    vendor: str
    database_sha256: str
    tables: Contents
    # Their sizes in bytes, by their paths in the store.
    photos: Mapping[str, int]

    def write(self, folder: Path) -> None:
        text = json.dumps({"version": VERSION, **asdict(self)}, indent=1)
        (folder / NAME).write_text(text, encoding="utf-8")

    @classmethod
    def read(cls, folder: Path) -> Manifest:
        """Read it.

        Raises:
            Refused (no_backup): there is none, or it cannot be read.
        """
        try:
            fields = json.loads((folder / NAME).read_text(encoding="utf-8"))
            if fields.pop("version") != VERSION:
                raise ValueError
            tables = {
                table: TableContent(**content)
                for table, content in fields.pop("tables").items()
            }
            return cls(tables=tables, **fields)
        except (OSError, ValueError, TypeError, KeyError, AttributeError):
            raise Refused(
                _("%(folder)s is not a whole backup: its %(name)s can't be read.")
                % {"folder": folder, "name": NAME},
                code="no_backup",
            ) from None


def sha256_of(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
