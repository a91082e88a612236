"""A photo has one row for each thing it belongs to, before and after the move."""

from __future__ import annotations

import pytest
from django.db import connection
from django.db.migrations.executor import MigrationExecutor

from orchard.records.models import Photo, PhotoLink
from tests.conftest import NOW, make_tree

COLUMNS = ("tree_id", "inspection_id", "finding_id", "closure_id", "round_id")


def migrate_to(name: str):
    """Bring the tables of the records to a migration; return the models of then."""
    executor = MigrationExecutor(connection)
    executor.migrate([("records", name)])
    return MigrationExecutor(connection).loader.project_state(("records", name)).apps


@pytest.fixture
def newest(transactional_db):
    """Bring the tables back to where they were, whatever happens in between."""
    [(_app, name)] = [
        node
        for node in MigrationExecutor(connection).loader.graph.leaf_nodes()
        if node[0] == "records"
    ]
    yield name
    migrate_to(name)


def test_links_go_back_to_columns_and_come_again(newest, orchard, vera, lee):
    tree = make_tree(orchard)
    looks = [
        tree.inspections.create(
            orchard=orchard, by=vera, seen_on=NOW.date(), seen_at=NOW, made_at=NOW,
            received_at=NOW,
        )
        for _number in range(2)
    ]  # fmt: skip
    loose, whole = (
        Photo.objects.create(
            orchard=orchard, by=vera, sha256=f"{number:064d}", file_format="JPEG",
            width=1, height=1, size_bytes=1, received_at=NOW,
        )
        for number in range(2)
    )  # fmt: skip
    whole.trees.add(tree)
    whole.inspections.add(*looks)
    before = set(PhotoLink.objects.filter(inspection=None).values_list(*COLUMNS))

    old = migrate_to("0012_cut_test").get_model("records", "Photo")
    rows = old.objects.order_by("pk").values_list(*COLUMNS)
    assert list(rows) == [(None,) * 5, (tree.pk, looks[0].pk, None, None, None)]
    # With two looks the first stays; a column holds one.

    migrate_to(newest)
    assert set(PhotoLink.objects.filter(inspection=None).values_list(*COLUMNS)) == (
        before
    )
    assert [link.inspection for link in whole.links.exclude(inspection=None)] == (
        looks[:1]
    )
    assert not loose.links.exists()
