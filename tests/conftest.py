"""The cast and four small makers.

Vera is a volunteer, Lee a crew lead, Eddy an educator, Olga of the programme office,
Cora the coordinator of Alderbrook; Otto belongs to Southbank, another orchard, and
knows nothing of Alderbrook.
"""

from __future__ import annotations

import gc
from concurrent.futures import Executor, Future
from dataclasses import replace
from datetime import UTC, date, datetime

import pytest
from django.db import connection
from hypothesis import settings as hypothesis_settings

from orchard.records.models import (
    Block,
    Kind,
    Membership,
    Orchard,
    Spot,
    Stay,
    Tree,
    User,
)
from orchard.science import figures
from orchard.services.inbox import receiving
from orchard.web import mails
from tests import tables
from tests.settings import temporary_leftovers

NOW = datetime(2026, 5, 12, 9, 0, tzinfo=UTC)
TODAY = date(2026, 5, 12)
PASSWORD = "under-the-old-lemon-tree"

# A busy machine is slow, not wrong.
hypothesis_settings.register_profile(
    "steady", hypothesis_settings.default, deadline=None
)
hypothesis_settings.load_profile("steady")

# Looking for cycles costs a tenth of a run that makes hardly any.
gc.set_threshold(200_000, 50, 50)


# The database of the settings, which is left for another one before any test.
NOT_FOR_TESTS = connection.settings_dict["NAME"]

# What a test asks for that goes to a database.
MEETS = {"db", "transactional_db", "live_server", "django_db_setup", "spare_database"}


def pytest_collection_modifyitems(config, items) -> None:
    """Leave to SQLite alone, which all tests meet, those that meet no database."""
    if connection.vendor == "sqlite":
        return
    left = [item for item in items if not meets_database(item)]
    config.hook.pytest_deselected(items=left)
    items[:] = [item for item in items if meets_database(item)]


def meets_database(item) -> bool:
    """Tell whether a test goes to a database."""
    marked = map(item.get_closest_marker, ("django_db", "every_database"))
    return any(marked) or not MEETS.isdisjoint(item.fixturenames)


def pytest_sessionfinish(session) -> None:
    """Fail a run that would leave something in temporary folders."""
    if left := temporary_leftovers():
        session.exitstatus = pytest.ExitCode.TESTS_FAILED
        print(f"\nFAILED: left behind in the temporary folder: {', '.join(left)}")


def make_orchard(slug="alderbrook", **fields) -> Orchard:
    south = fields.pop("south", False)
    values = {
        "name": slug.title(),
        "place": "Nowhere-on-the-Water",
        "time_zone": "Australia/Adelaide" if south else "Europe/Lisbon",
        "latitude": "-34.80000" if south else "38.50000",
        "longitude": "139.00000" if south else "-8.50000",
        "frost_from": "SM9-01",
        "frost_to": "SM1-15",
        "founded_at": NOW,
    }
    return Orchard.objects.create(slug=slug, **{**values, **fields})


def make_person(name: str, orchard: Orchard, role: str) -> User:
    user = User.objects.create_user(
        f"{name.lower()}@example.org", name, PASSWORD, last_login=NOW
    )
    Membership.objects.create(user=user, orchard=orchard, role=role, joined_at=NOW)
    return user


def make_spot(orchard: Orchard, number="1", block="A") -> Spot:
    row, _ = Block.objects.get_or_create(
        orchard=orchard, code=block, defaults={"name": f"Block {block}"}
    )
    spot, _ = Spot.objects.get_or_create(block=row, number=number)
    return spot


def make_tree(orchard: Orchard, code="A-1", **fields) -> Tree:
    spot = fields.pop("spot", None) or make_spot(
        orchard, number=code.split("-")[-1], block=code.split("-")[0]
    )
    kind = fields.pop("kind", None)
    if not isinstance(kind, Kind):
        kind, _ = Kind.objects.get_or_create(
            orchard=orchard,
            name=kind or "Washington navel",
            defaults={
                "guide_key": kind or "Washington navel",
                "group": "navel",
                "tender_class": "T3",
            },
        )
    values = {
        "rootstock": "" if fields.get("own_roots") else "Carrizo / Troyer citrange",
        "planted_on": date(2016, 3, 20),
        "born_on": date(2014, 3, 20),
        "entered_at": NOW,
    }
    tree = Tree.objects.create(
        orchard=orchard, spot=spot, code=code, kind=kind, **{**values, **fields}
    )
    Stay.objects.create(tree=tree, spot=spot, since_on=tree.planted_on)
    return tree


class AtOnce(Executor):
    """Does what it is given before it answers, in the thread of the test."""

    def submit(self, work, /, *args, **kwargs):
        done = Future()
        done.set_result(work(*args, **kwargs))
        return done


@pytest.fixture(scope="session")
def django_db_setup(django_db_setup):
    """Let further databases have their tables from the one that is made for all.

    It is made only where some test goes to it; otherwise they migrate themselves.
    """
    if connection.settings_dict["NAME"] != NOT_FOR_TESTS:
        tables.pattern = tables.address_of(connection)


@pytest.fixture(autouse=True)
def mails_at_once(monkeypatch):
    """Let mails be there when the page is."""
    monkeypatch.setattr(mails, "senders", AtOnce())


@pytest.fixture(autouse=True)
def nothing_sent_lately(monkeypatch):
    """Let nobody have sent anything yet: people of other tests had the same numbers."""
    monkeypatch.setattr(receiving, "_sent_lately", {})


@pytest.fixture
def set_figure(monkeypatch):
    """Give figures of the guide other values for one test: `set_figure(key=value)`."""

    def changed(**values: float) -> None:
        tables = figures._default_tables()
        found = dict(tables.figures)
        for key, value in values.items():
            found[key] = replace(found[key], value=value)
        other = replace(tables, figures=found)
        monkeypatch.setattr(figures, "_default_tables", lambda: other)

    return changed


@pytest.fixture
def now() -> datetime:
    return NOW


@pytest.fixture
def today() -> date:
    return TODAY


@pytest.fixture
def orchard(db) -> Orchard:
    return make_orchard()


@pytest.fixture
def southbank(db) -> Orchard:
    return make_orchard("southbank", south=True)


@pytest.fixture
def tree(orchard) -> Tree:
    return make_tree(orchard)


@pytest.fixture
def vera(orchard) -> User:
    return make_person("Vera", orchard, "volunteer")


@pytest.fixture
def lee(orchard) -> User:
    return make_person("Lee", orchard, "lead")


@pytest.fixture
def eddy(orchard) -> User:
    return make_person("Eddy", orchard, "educator")


@pytest.fixture
def olga(orchard) -> User:
    return make_person("Olga", orchard, "office")


@pytest.fixture
def cora(orchard) -> User:
    return make_person("Cora", orchard, "coordinator")


@pytest.fixture
def otto(southbank) -> User:
    return make_person("Otto", southbank, "coordinator")


@pytest.fixture
def as_vera(client, vera):
    client.force_login(vera)
    return client


@pytest.fixture
def as_cora(client, cora):
    client.force_login(cora)
    return client
