"""Phones bring answers of the practice that were given without signal."""

from __future__ import annotations

from django.db import migrations, models

from orchard.records.one_orchard import lift_guards, set_guards

BEFORE = [
    "inspection",
    "photo",
    "closure",
    "taking",
    "event",
    "stage",
    "ripeness_test",
    "watering",
    "withdrawal",
    "second_look",
    "treatment",
    "wet_spell",
    "harvest",
    "harvest_share",
    "dry_check",
    "product",
]
ADDED = ["practice"]


def forget_added(apps, schema_editor):
    """Drop the receipts of these answers: the version before knows none of them."""
    apps.get_model("records", "Receipt").objects.filter(kind__in=ADDED).delete()


class Migration(migrations.Migration):
    dependencies = [
        ("records", "0029_practice"),
    ]

    operations = [
        migrations.RunPython(lift_guards, set_guards),
        migrations.RemoveConstraint(model_name="receipt", name="receipt_kind_known"),
        migrations.RunPython(migrations.RunPython.noop, forget_added),
        migrations.AddConstraint(
            model_name="receipt",
            constraint=models.CheckConstraint(
                condition=models.Q(("kind__in", tuple(BEFORE + ADDED))),
                name="receipt_kind_known",
            ),
        ),
        migrations.RunPython(set_guards, lift_guards),
    ]
