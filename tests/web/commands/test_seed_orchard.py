"""The command that makes the demonstration, in a book that has none and wants none."""

from __future__ import annotations

import pytest
from django.core.management import CommandError

from orchard.records.models import Orchard
from tests.conftest import make_orchard
from tests.demonstration.seeding import run

pytestmark = pytest.mark.django_db


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
