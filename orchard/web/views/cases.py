from __future__ import annotations


def index(
    request,
    orchard,
):
    raise NotImplementedError


def show(
    request,
    orchard,
    number,
):
    raise NotImplementedError


def closure(
    request,
    orchard,
    number,
):
    raise NotImplementedError
