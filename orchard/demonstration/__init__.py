"""The demonstration: two invented orchards with believable seasons of history."""

from __future__ import annotations

from orchard.demonstration.making import build, sign_ins, tag_token
from orchard.demonstration.sign_drawings import sign_files, word_files

__all__ = ["build", "sign_files", "sign_ins", "tag_token", "word_files"]
