from __future__ import annotations

from django.db import migrations, models

from orchard.records.one_orchard import lift_guards, set_guards

BEFORE = ["inspection", "photo"]
DEEDS = [
    "closure",
    "taking",
    "event",
    "stage",
    "ripeness_test",
    "watering",
    "withdrawal",
    "second_look",
]


def forget_deeds(apps, schema_editor):
    """Drop the receipts of deeds: the version before knows no entries of theirs."""
    apps.get_model("records", "Receipt").objects.filter(kind__in=DEEDS).delete()


class Migration(migrations.Migration):
    dependencies = [
        ("records", "0008_planting_years"),
    ]

    operations = [
        migrations.RunPython(lift_guards, set_guards),
        migrations.RemoveConstraint(model_name="receipt", name="receipt_kind_known"),
        migrations.RunPython(migrations.RunPython.noop, forget_deeds),
        migrations.AddConstraint(
            model_name="receipt",
            constraint=models.CheckConstraint(
                condition=models.Q(("kind__in", BEFORE + DEEDS)),
                name="receipt_kind_known",
            ),
        ),
        migrations.RunPython(set_guards, lift_guards),
    ]
