from __future__ import annotations


def new(
    request,
    orchard,
    code,
):
    raise NotImplementedError


def new_stage(
    request,
    orchard,
    code,
):
    raise NotImplementedError


def new_for_orchard(
    request,
    orchard,
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


def stage_correction(
    request,
    orchard,
    number,
):
    raise NotImplementedError


def stage_withdrawal(
    request,
    orchard,
    number,
):
    raise NotImplementedError
