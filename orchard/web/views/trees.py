from __future__ import annotations


def index(
    request,
    orchard,
):
    raise NotImplementedError


def new(
    request,
    orchard,
):
    raise NotImplementedError


def show(
    request,
    orchard,
    code,
):
    raise NotImplementedError


def timeline(
    request,
    orchard,
    code,
):
    raise NotImplementedError


def details(
    request,
    orchard,
    code,
):
    raise NotImplementedError


def spot(
    request,
    orchard,
    code,
):
    raise NotImplementedError


def state(
    request,
    orchard,
    code,
):
    raise NotImplementedError


def removal(
    request,
    orchard,
    code,
):
    raise NotImplementedError


def replacement(
    request,
    orchard,
    code,
):
    raise NotImplementedError


def tag(
    request,
    orchard,
    code,
):
    raise NotImplementedError
