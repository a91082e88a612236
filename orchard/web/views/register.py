from __future__ import annotations


def upload(
    request,
    orchard,
):
    raise NotImplementedError


def example(
    request,
    orchard,
):
    raise NotImplementedError
