from __future__ import annotations


def ledger(
    request,
    orchard,
):
    raise NotImplementedError
