"""Whatever the order of uses, corrections, withdrawals and late entries: never early.

What the book says is held against the labels counted anew by hand: elapsed hours in
UTC, days by the orchard's clock, both clocks for picking, unknown is locked.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from django.db import transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from orchard.records.models import DryCheck, Treatment, WetSpell
from orchard.services import holds, treatments
from orchard.services.errors import Refused
from tests.conftest import NOW
from tests.services.treatments.helpers import add, allow, use

pytestmark = pytest.mark.django_db
ZONE = ZoneInfo("Europe/Lisbon")
# Around both changes of the clock of a year.
MOMENTS = st.one_of(
    st.integers(0, 60 * 24 * 4).map(
        lambda minutes: datetime(2026, 3, 27, tzinfo=UTC) + timedelta(minutes=minutes)
    ),
    st.integers(0, 60 * 24 * 4).map(
        lambda minutes: datetime(2025, 10, 24, tzinfo=UTC) + timedelta(minutes=minutes)
    ),
)
LABELS = [
    {"entry_rule": "hours", "entry_hours": 4.0, "fruit_days": 0},
    {"entry_rule": "hours", "entry_hours": 24.0, "fruit_days": 3},
    {"entry_rule": "hours", "entry_hours": 12.0, "fruit_days": None},
    {"entry_rule": "until_dry", "entry_hours": None, "fruit_days": 1},
    {"entry_rule": "unknown", "entry_hours": None, "fruit_days": 2},
]
DEEDS = st.lists(
    st.tuples(
        st.sampled_from(["use", "use", "correct", "withdraw", "dry", "wet"]),
        st.integers(0, len(LABELS) - 1),
        MOMENTS,
        st.integers(0, 600),
    ),
    min_size=1,
    max_size=7,
)


class Undone(Exception):
    """Carries nothing: what an example wrote is rolled back with it."""


@given(DEEDS)
@settings(
    max_examples=20,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
def test_nobody_is_let_in_before_the_latest_standing_end(orchard, tree, lee, deeds):
    try:
        with transaction.atomic():
            _play(orchard, tree, lee, deeds)
            raise Undone
    except Undone:
        pass


def _play(orchard, tree, lee, deeds):
    allow(orchard)
    made = NOW - timedelta(days=400)
    products = [
        add(orchard, lee, made, name=f"Soap {number}", **label)
        for number, label in enumerate(LABELS)
    ]
    when = {"by": lee, "now": NOW, "today": NOW.date()}
    for deed, number, moment, minutes in deeds:
        standing = list(Treatment.objects.done().order_by("id"))
        brought = use(products[number], tree, at=moment)
        try:
            if deed == "use":
                treatments.record(orchard, brought, **when)
            elif deed == "wet":
                treatments.note_wet_spell(
                    orchard, cause="rain", began_at=moment,
                    ended_at=moment + timedelta(minutes=minutes), by=lee, now=NOW,
                )  # fmt: skip
            elif standing:
                row = standing[minutes % len(standing)]
                if deed == "correct":
                    treatments.correct(
                        row, brought, reason="Misread", qualified="L-7", **when
                    )
                elif deed == "withdraw":
                    treatments.withdraw(row, reason="Never", qualified="L-7", **when)
                else:
                    treatments.confirm_dry(
                        row, dry_at=row.ended_at + timedelta(minutes=minutes),
                        qualified="L-7", by=lee, now=NOW,
                    )  # fmt: skip
        except Refused:
            continue
        _compare(orchard, tree)


def _compare(orchard, tree):
    ends = [(row.started_at, *_ends(row)) for row in Treatment.objects.done()]
    moments = {NOW}
    for _begun, entry, fruit in ends:
        for end in (entry, fruit):
            if end is not None:
                moments |= {end, end - timedelta(seconds=1)}
    for at in moments:
        local = at.astimezone(ZONE).date()
        found = holds.holds_of(orchard, [tree.pk], today=local, now=at)
        kinds = {hold.kind.value for hold in found.get(tree.pk, ())}
        wanted = set()
        for begun, entry, fruit in ends:
            if begun <= at and (entry is None or entry > at):
                wanted.add("entry")
            if begun <= at and (fruit is None or fruit > at):
                wanted.add("harvest")
        assert kinds == wanted, at


def _ends(row):
    """Count by hand when one use lets people enter and pick fruit."""
    product = row.products.get().product
    entry = None
    if product.entry_rule == "hours":
        entry = row.ended_at + timedelta(hours=product.entry_hours)
    elif product.entry_rule == "until_dry":
        spells = WetSpell.objects.current()
        dry = [
            check.dry_at
            for check in DryCheck.objects.current().filter(treatment=row)
            if not any(
                spell.began_at <= check.dry_at < spell.ended_at for spell in spells
            )
        ]
        if dry:
            entry = max(min(dry), row.ended_at + timedelta(hours=4))
    if entry is None or product.fruit_days is None:
        return entry, None
    clock = row.ended_at.astimezone(ZONE).replace(tzinfo=None)
    clock += timedelta(days=product.fruit_days)
    both = [clock.replace(tzinfo=ZONE, fold=fold).astimezone(UTC) for fold in (0, 1)]
    return entry, max(entry, *both)
