from __future__ import annotations


def board(
    request,
    orchard,
):
    raise NotImplementedError
