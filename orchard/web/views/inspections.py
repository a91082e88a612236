from __future__ import annotations


def all_well(
    request,
    orchard,
    code,
):
    raise NotImplementedError


def new(
    request,
    orchard,
    code,
):
    raise NotImplementedError


def show(
    request,
    orchard,
    number,
):
    raise NotImplementedError


def correction(
    request,
    orchard,
    number,
):
    raise NotImplementedError


def withdrawal(
    request,
    orchard,
    number,
):
    raise NotImplementedError


def override(
    request,
    orchard,
    number,
):
    raise NotImplementedError
