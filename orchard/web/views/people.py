from __future__ import annotations


def sign_in(
    request,
):
    raise NotImplementedError


def sign_out(
    request,
):
    raise NotImplementedError


def password_forgotten(
    request,
):
    raise NotImplementedError


def password_new(
    request,
    uid,
    token,
):
    raise NotImplementedError


def join(
    request,
    token,
):
    raise NotImplementedError


def account(
    request,
):
    raise NotImplementedError


def index(
    request,
    orchard,
):
    raise NotImplementedError


def invite(
    request,
    orchard,
):
    raise NotImplementedError


def withdraw_invitation(
    request,
    orchard,
    number,
):
    raise NotImplementedError


def role(
    request,
    orchard,
    number,
):
    raise NotImplementedError


def leaving(
    request,
    orchard,
    number,
):
    raise NotImplementedError
