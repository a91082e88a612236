"""Backups: all that the book holds, copied, and proved by what it was copied from."""

from __future__ import annotations

from orchard.services.backups.making import back_up
from orchard.services.backups.restoring import restore

__all__ = ["back_up", "restore"]
