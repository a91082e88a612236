"""The command that makes the demonstration, and tells how to sign in to it."""

from __future__ import annotations

from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from orchard.records.models import Change, Orchard, Tag, User
from tests.conftest import make_orchard

pytestmark = pytest.mark.django_db


def run(*arguments: str) -> tuple[str, str]:
    out, error = StringIO(), StringIO()
    call_command("seed_orchard", *arguments, stdout=out, stderr=error)
    return out.getvalue(), error.getvalue()


def test_an_empty_book_gets_the_demonstration_once(client):
    out, error = run("--small", "--only-if-empty")
    assert not out
    assert "Solvarra" in error and "Kelloway Bend" in error and "ready" in error
    assert set(Orchard.objects.values_list("slug", flat=True)) == {
        "old-cistern",
        "long-paddock",
    }
    lines = Change.objects.count()
    assert run("--small", "--only-if-empty") == ("", "")
    assert Change.objects.count() == lines

    out, _error = run("--show-sign-ins")
    people = [line for line in out.splitlines() if "@example.org" in line]
    roles = [line.split(":")[0] for line in people]
    for role in ("coordinator", "crew lead", "educator", "programme office"):
        assert role in roles
    assert "volunteer" in roles
    assert any("Old Cistern" in one and "Long Paddock" in one for one in people)
    tag = Tag.objects.filter(retired_at=None, tree__code="A-01").get()
    assert f"/t/{tag.token}/" in out

    email, password = people[0].split(", ")[1:3]
    password = password.removeprefix("password ")
    assert client.login(username=email, password=password)
    assert User.objects.get(email=email).name in people[0]


def test_a_book_in_use_is_left_alone():
    make_orchard()
    assert run("--small", "--only-if-empty") == ("", "")
    assert Orchard.objects.count() == 1
    with pytest.raises(CommandError, match="an orchard here already"):
        run("--small")
    assert Orchard.objects.count() == 1


def test_without_a_demonstration_there_is_nobody_to_show():
    make_orchard()
    out, _error = run("--show-sign-ins")
    assert "no demonstration" in out
