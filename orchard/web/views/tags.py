from __future__ import annotations


def choose(
    request,
    orchard,
):
    raise NotImplementedError


def sheet(
    request,
    orchard,
):
    raise NotImplementedError
