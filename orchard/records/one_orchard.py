"""Let the database hold each row, and all that it names, within one orchard.

A row is at home in the orchard it names, or else where the row is that `HOMES` tells
of. A migration that alters tables lifts the guards first and sets them last: SQLite
drops a table's triggers with it whenever it makes the table anew.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, TypeAlias

from django.apps.registry import Apps
from django.db.backends.base.schema import BaseDatabaseSchemaEditor
from django.db.models import ForeignKey, Model

Column: TypeAlias = "ForeignKey[Any, Any]"

# Tables without the column `orchard`, with the column by which they have theirs.
HOMES = {
    "spot": "block",
    "stay": "tree",
    "tag": "tree",
    "roundstop": "round",
    "finding": "inspection",
    "closure": "task",
    "cuttest": "closure",
    "casecall": "case",
    "photoconsent": "photo",
    "photolink": "photo",
    "productuse": "treatment",
    "harvestedtree": "harvest",
    "recallcall": "recall",
    "slide": "talk_set",
    "slidephoto": "slide",
    "talkstep": "talk_set",
    "weatherday": "station",
    "directsun": "horizon",
}
_EVENTS = ("insert", "update")


def set_guards(apps: Apps, schema_editor: BaseDatabaseSchemaEditor) -> None:
    """Make the database refuse rows of two orchards, in every table there is."""
    lift_guards(apps, schema_editor)
    write = _sqlite if schema_editor.connection.vendor == "sqlite" else _postgresql
    for model in apps.get_app_config("records").get_models():
        if home(model) is not None:
            for statement in write(model):
                schema_editor.execute(statement, params=None)


def lift_guards(apps: Apps, schema_editor: BaseDatabaseSchemaEditor) -> None:
    """Take away what `set_guards` set."""
    sqlite = schema_editor.connection.vendor == "sqlite"
    for model in apps.get_app_config("records").get_models():
        table = model._meta.db_table
        drops = (
            [f"DROP TRIGGER IF EXISTS {table}_one_orchard_{on}" for on in _EVENTS]
            if sqlite
            else [f"DROP FUNCTION IF EXISTS {table}_one_orchard() CASCADE"]
        )
        for statement in drops:
            schema_editor.execute(statement, params=None)


def home(model: type[Model]) -> Column | None:
    """Return the column by which a row has its orchard, if it has one."""
    name = HOMES.get(model._meta.model_name or "", "orchard")
    return next((each for each in _columns(model) if each.name == name), None)


def guarded(model: type[Model]) -> tuple[Column, ...]:
    """Return the columns whose rows must be at home in the same orchard."""
    at_home = home(model)
    found = [
        column
        for column in _columns(model)
        if at_home is not None
        and column.name != at_home.name
        and home(column.related_model) is not None
    ]
    return tuple(sorted(found, key=lambda column: column.name))


def _columns(model: type[Model]) -> list[Column]:
    return [
        field
        for field in model._meta.concrete_fields
        if isinstance(field, ForeignKey)
        and field.related_model._meta.app_label == model._meta.app_label
    ]


def _orchard_of(column: Column, row: str) -> str:
    """Return the SQL of the orchard that a column of a row leads to."""
    key, model = f"{row}.{column.column}", column.related_model
    while (at_home := home(model)) is not None:
        table = model._meta.db_table
        key = f"(SELECT {at_home.column} FROM {table} WHERE id = {key})"  # noqa: S608
        model = at_home.related_model
    return key


def _refusals(model: type[Model], own: str) -> Iterator[tuple[str, str]]:
    for column in guarded(model):
        yield (
            f"{column.model._meta.db_table}.{column.column} is of another orchard",
            f"{own} <> {_orchard_of(column, 'NEW')}",
        )


def _move(model: type[Model], at_home: Column, own: str) -> tuple[str, str]:
    return (
        f"{model._meta.db_table}.{at_home.column} stays in its orchard",
        f"{own} <> {_orchard_of(at_home, 'OLD')}",
    )


def _sqlite(model: type[Model]) -> Iterator[str]:
    at_home = home(model)
    assert at_home is not None
    table, own = model._meta.db_table, _orchard_of(at_home, "NEW")
    columns = ", ".join(each.column for each in (at_home, *guarded(model)))
    refusals = list(_refusals(model, own))
    for event, when, what in (
        ("insert", "INSERT", refusals),
        ("update", f"UPDATE OF {columns}", [*refusals, _move(model, at_home, own)]),
    ):
        if what:
            lines = " ".join(
                f"SELECT RAISE(ABORT, '{message}') WHERE {condition};"
                for message, condition in what
            )
            yield (
                f"CREATE TRIGGER {table}_one_orchard_{event} BEFORE {when} ON {table}"
                f" BEGIN {lines} END"
            )


def _postgresql(model: type[Model]) -> Iterator[str]:
    at_home = home(model)
    assert at_home is not None
    table, own = model._meta.db_table, _orchard_of(at_home, "NEW")
    columns = ", ".join(each.column for each in (at_home, *guarded(model)))
    lines = " ".join(_raise(*refusal) for refusal in _refusals(model, own))
    move = _raise(*_move(model, at_home, own))
    yield (
        f"CREATE FUNCTION {table}_one_orchard() RETURNS trigger AS $$ BEGIN {lines}"
        f" IF TG_OP = 'UPDATE' THEN {move} END IF; RETURN NEW; END; $$"
        " LANGUAGE plpgsql"
    )
    yield (
        f"CREATE TRIGGER {table}_one_orchard BEFORE INSERT OR UPDATE OF {columns}"
        f" ON {table} FOR EACH ROW EXECUTE FUNCTION {table}_one_orchard()"
    )


def _raise(message: str, condition: str) -> str:
    return (
        f"IF {condition} THEN RAISE EXCEPTION '{message}'"
        " USING ERRCODE = 'integrity_constraint_violation'; END IF;"
    )
