from __future__ import annotations


def index(
    request,
    orchard,
):
    raise NotImplementedError


def answer(
    request,
    orchard,
    number,
):
    raise NotImplementedError
