"""The demonstration: two invented orchards with believable seasons of history."""

from __future__ import annotations

from orchard.demonstration.making import build, sign_ins, tag_token

__all__ = ["build", "sign_ins", "tag_token"]
