"""No order of what is entered lets a lot go that was picked under a hold."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.db import transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from orchard.records.models import Harvest, TreatedTree, Treatment
from orchard.services import harvests, treatments
from orchard.services.errors import Refused
from tests.conftest import NOW, TODAY
from tests.services.harvests.helpers import pick
from tests.services.treatments.helpers import add, allow, use

pytestmark = pytest.mark.django_db
WHEN = {"now": NOW, "today": TODAY}

hours_ago = st.integers(1, 240)
harvest_days = st.none() | st.integers(0, 8)
steps = st.lists(
    st.one_of(
        st.tuples(st.just("spray"), hours_ago, harvest_days),
        st.tuples(st.just("pick"), hours_ago, st.none()),
        st.tuples(st.just("correct"), hours_ago, harvest_days),
        st.tuples(st.just("relabel"), hours_ago, harvest_days),
        st.tuples(st.just("move pick"), hours_ago, st.none()),
    ),
    min_size=2,
    max_size=7,
)


def play(garden, tree, lee, number, step):
    kind, hours, wait = step
    at = NOW - timedelta(hours=hours)
    newest = Treatment.objects.current().order_by("-id").first()
    lot = Harvest.objects.current().order_by("-id").first()
    if kind == "spray":
        product = add(garden, lee, NOW, name=f"P{number}", fruit_days=wait)
        treatments.record(garden, use(product, tree, at=at), by=lee, **WHEN)
    elif kind == "pick":
        harvests.record(garden, pick(tree, at=at), by=lee, anyway="Seen late", **WHEN)
    elif kind == "correct" and newest is not None:
        product = newest.products.get().product
        treatments.correct(
            newest, use(product, tree, at=at), by=lee, reason="Clock",
            qualified="Lee, L-7", **WHEN,
        )  # fmt: skip
    elif kind == "relabel" and newest is not None:
        product = newest.products.get().product
        if product.is_current:
            treatments.correct_product(
                product, by=lee, reason="Read again", fruit_days=wait, **WHEN
            )
    elif kind == "move pick" and lot is not None:
        harvests.correct(
            lot, pick(tree, at=at), by=lee, reason="Clock", anyway="Seen late", **WHEN
        )


@settings(max_examples=40, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(steps)
def test_no_pick_before_the_latest_standing_end_is_without_breach(
    orchard, tree, lee, played
):
    with transaction.atomic():
        garden = allow(orchard)
        for number, step in enumerate(played):
            play(garden, tree, lee, number, step)
        standing = TreatedTree.objects.filter(
            treatment__superseded_at=None, treatment__withdrawn_at=None, tree=tree
        ).select_related("treatment")
        for lot in Harvest.objects.current():
            under = [
                row
                for row in standing
                if row.treatment.started_at <= lot.picked_at
                and any(
                    end is None or lot.picked_at < end
                    for end in (row.fruit_at, row.entry_at)
                )
            ]
            if not under:
                continue
            assert lot.is_blocked
            assert "picked_under_hold" in {code for code, _text in lot.breaches}
            with pytest.raises(Refused, match="given away"):
                harvests.share(
                    lot, use="volunteers", given_on=TODAY, kg=1, by=lee, **WHEN
                )
        transaction.set_rollback(True)
