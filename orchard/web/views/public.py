from __future__ import annotations


def tag(
    request,
    token,
):
    raise NotImplementedError
