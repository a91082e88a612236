from __future__ import annotations


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


def reopening(
    request,
    orchard,
    number,
):
    raise NotImplementedError


def taking(
    request,
    orchard,
    number,
):
    raise NotImplementedError


def handing(
    request,
    orchard,
    number,
):
    raise NotImplementedError


def care_plan(
    request,
    orchard,
):
    raise NotImplementedError


def care_job(
    request,
    orchard,
    job,
):
    raise NotImplementedError
