"""The direct sun past a horizon, worked out once and kept."""

from __future__ import annotations

import django.db.models.deletion
from django.db import migrations, models

from orchard.records.one_orchard import lift_guards, set_guards


class Migration(migrations.Migration):
    dependencies = [
        ("records", "0024_photos_that_leave"),
    ]

    operations = [
        migrations.RunPython(lift_guards, set_guards),
        migrations.CreateModel(
            name="DirectSun",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True,
                        primary_key=True,
                        serialize=False,
                        verbose_name="ID",
                    ),
                ),
                ("year", models.PositiveSmallIntegerField()),
                ("latitude", models.FloatField()),
                ("longitude", models.FloatField()),
                ("hours", models.JSONField()),
                (
                    "horizon",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="direct_sun",
                        to="records.horizon",
                    ),
                ),
            ],
        ),
        migrations.RunPython(set_guards, lift_guards),
    ]
