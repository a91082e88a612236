from __future__ import annotations


def up(
    request,
):
    raise NotImplementedError
