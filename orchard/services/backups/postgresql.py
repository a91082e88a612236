"""How PostgreSQL's own programs find the database that the book has."""

from __future__ import annotations

import os

from django.db import connection

NAMES = {
    "NAME": "PGDATABASE",
    "HOST": "PGHOST",
    "PORT": "PGPORT",
    "USER": "PGUSER",
    # In the surroundings, and not on the line that everybody can read.
    "PASSWORD": "PGPASSWORD",
}


def surroundings() -> dict[str, str]:
    """Return the surroundings in which pg_dump and pg_restore work on the database."""
    place = connection.settings_dict
    found = {name: str(place[key]) for key, name in NAMES.items() if place.get(key)}
    return {**os.environ, **found}
