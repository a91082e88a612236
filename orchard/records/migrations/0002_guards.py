"""Let the database itself refuse to alter the ledger, and rows of two orchards."""

from __future__ import annotations

from django.db import migrations

from orchard.records.one_orchard import lift_guards, set_guards

SQLITE = """
CREATE TRIGGER records_change_no_update BEFORE UPDATE ON records_change
BEGIN SELECT RAISE(ABORT, 'the ledger is append-only'); END;
"""
SQLITE_BACK = "DROP TRIGGER records_change_no_update;"

POSTGRESQL = """
CREATE FUNCTION records_change_no_update() RETURNS trigger AS $$
BEGIN RAISE EXCEPTION 'the ledger is append-only'; END;
$$ LANGUAGE plpgsql;
CREATE TRIGGER records_change_no_update BEFORE UPDATE ON records_change
FOR EACH ROW EXECUTE FUNCTION records_change_no_update();
"""
POSTGRESQL_BACK = """
DROP TRIGGER records_change_no_update ON records_change;
DROP FUNCTION records_change_no_update();
"""


def set_append_only(apps, schema_editor):
    run(schema_editor, SQLITE, POSTGRESQL)


def lift_append_only(apps, schema_editor):
    run(schema_editor, SQLITE_BACK, POSTGRESQL_BACK)


def run(schema_editor, sqlite, postgresql):
    with schema_editor.connection.cursor() as cursor:
        if schema_editor.connection.vendor == "sqlite":
            cursor.execute(sqlite)
        else:
            cursor.execute(postgresql)


class Migration(migrations.Migration):
    replaces = [
        ("records", "0002_ledger_is_append_only"),
        ("records", "0014_one_orchard"),
    ]

    dependencies = [("records", "0001_record_book")]

    operations = [
        migrations.RunPython(set_append_only, lift_append_only),
        migrations.RunPython(set_guards, lift_guards),
    ]
