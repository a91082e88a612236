"""The number under which a person is rung."""

from __future__ import annotations

from django.db import migrations, models

from orchard.records.one_orchard import lift_guards, set_guards


class Migration(migrations.Migration):
    dependencies = [
        ("records", "0022_receipts_of_dry_checks"),
    ]

    operations = [
        migrations.RunPython(lift_guards, set_guards),
        migrations.AddField(
            model_name="user",
            name="phone",
            field=models.CharField(blank=True, max_length=40, verbose_name="phone"),
        ),
        migrations.RunPython(set_guards, lift_guards),
    ]
