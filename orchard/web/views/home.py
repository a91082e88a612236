from __future__ import annotations


def start(
    request,
):
    raise NotImplementedError


def home(
    request,
    orchard,
):
    raise NotImplementedError
