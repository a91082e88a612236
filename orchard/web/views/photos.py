from __future__ import annotations


def show(
    request,
    orchard,
    name,
):
    raise NotImplementedError


def file(
    request,
    orchard,
    name,
    size,
):
    raise NotImplementedError
