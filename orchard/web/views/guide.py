from __future__ import annotations


def index(
    request,
    orchard,
):
    raise NotImplementedError


def show(
    request,
    orchard,
    sign,
):
    raise NotImplementedError
