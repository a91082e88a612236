"""The demonstration: two invented orchards with believable seasons of history.

Everything goes through the verbs of the services, each at its own past moment, so that
the ledger and all that depends on it tell the same story as the pages.
"""

from __future__ import annotations

from orchard.services.demonstration.making import SignIn, build, sign_ins, tag_token

__all__ = ["SignIn", "build", "sign_ins", "tag_token"]
