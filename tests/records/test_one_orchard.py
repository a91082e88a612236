"""No row names things of two orchards, and none moves to another orchard."""

from __future__ import annotations

import pytest
from django.apps import apps
from django.db import IntegrityError, transaction
from django.db.models import ForeignKey

from orchard.records.one_orchard import guarded, home
from tests.records.rows import Rows

MODELS = {
    model._meta.model_name: model
    for model in apps.get_app_config("records").get_models()
}
PAIRS = [
    (name, column.name) for name, model in MODELS.items() for column in guarded(model)
]
AT_HOME = [name for name, model in MODELS.items() if home(model) is not None]
# Columns beside the valid row's own, where only some go together.
BESIDE = {
    **{
        ("photolink", subject): {"tree": None}
        for subject in (
            "inspection",
            "finding",
            "closure",
            "round",
            "treatment",
            "product",
            "harvest",
        )
    },
    ("task", "request"): {"kind": "once"},
    ("recall", "treatment"): {"harvest": None},
    ("holdbreach", "harvest"): {"closure": None},
    ("leaftest", "block"): {"tree": None},
    **{(name, "corrects"): {"correction_reason": "Better"} for name in MODELS},
}


@pytest.fixture
def here(db):
    return Rows()


@pytest.fixture
def there(db):
    return Rows()


def refused(message):
    return pytest.raises(IntegrityError, match=message)


def parent(rows, name, column):
    return rows.add(MODELS[name]._meta.get_field(column).related_model._meta.model_name)


def test_every_column_that_leads_to_an_orchard_is_guarded():
    """Follow the columns by hand: what a row can reach is its home or guarded."""

    def leads(model, seen=()):
        return model._meta.model_name == "orchard" or any(
            leads(field.related_model, (*seen, model))
            for field in model._meta.concrete_fields
            if isinstance(field, ForeignKey) and field.related_model not in seen
        )

    found = {
        (name, field.name)
        for name, model in MODELS.items()
        for field in model._meta.concrete_fields
        if isinstance(field, ForeignKey) and leads(field.related_model)
    }
    homes = {(name, home(MODELS[name]).name) for name in AT_HOME}
    assert found == homes | set(PAIRS)
    assert ("task", "tree") in found
    assert ("photolink", "closure") in found


@pytest.mark.parametrize(("name", "column"), PAIRS)
def test_what_a_row_names_is_of_its_own_orchard(here, there, name, column):
    table = MODELS[name]._meta.db_table
    message = f"{table}.{column}_id is of another orchard"
    beside = BESIDE.get((name, column), {})
    if name == "closure":
        beside = {"task": here.add("task")}
    stranger, own = (parent(rows, name, column) for rows in (there, here))
    mixed = here.new(name, **{**beside, column: stranger})
    with refused(message), transaction.atomic():
        mixed.save(force_insert=True)
    row = here.add(name, **{**beside, column: own})
    if name == "change":  # Never altered at all.
        return
    with refused(message), transaction.atomic():
        MODELS[name].objects.filter(pk=row.pk).update(**{column: stranger})
    MODELS[name].objects.filter(pk=row.pk).update(**{column: own})


@pytest.mark.parametrize("name", sorted({*AT_HOME} - {"change"}))
def test_a_row_stays_in_its_orchard(here, there, name):
    row = here.add(name)
    column = home(MODELS[name]).name
    there_too = there.get(home(MODELS[name]).related_model._meta.model_name)
    with refused("another orchard|stays in its orchard"), transaction.atomic():
        MODELS[name].objects.filter(pk=row.pk).update(**{column: there_too})
