"""Find what came in today without reading all inspections that ever did."""

from __future__ import annotations

from django.db import migrations, models

from orchard.records.one_orchard import lift_guards, set_guards


class Migration(migrations.Migration):
    dependencies = [
        ("records", "0030_receipts_of_practice"),
    ]

    operations = [
        migrations.RunPython(lift_guards, set_guards),
        migrations.AddIndex(
            model_name="inspection",
            index=models.Index(
                condition=models.Q(("superseded_at", None), ("withdrawn_at", None)),
                fields=["orchard", "received_at"],
                name="inspection_received",
            ),
        ),
        migrations.RunPython(set_guards, lift_guards),
    ]
