from __future__ import annotations


def details(
    request,
    orchard,
):
    raise NotImplementedError


def blocks(
    request,
    orchard,
):
    raise NotImplementedError


def block(
    request,
    orchard,
    code,
):
    raise NotImplementedError


def kinds(
    request,
    orchard,
):
    raise NotImplementedError
