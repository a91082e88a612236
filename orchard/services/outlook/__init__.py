"""The outlook: frost tonight, heat so far, water needed, sun hours; each explained."""

from __future__ import annotations
