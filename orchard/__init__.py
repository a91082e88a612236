"""The record book of a demonstration orchard."""

from __future__ import annotations

__version__ = "0.1.0"
