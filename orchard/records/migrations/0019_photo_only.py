"""A photo without a word is a record, and no check of its tree."""

from __future__ import annotations

from django.db import migrations, models

from orchard.records.one_orchard import lift_guards, set_guards


class Migration(migrations.Migration):
    dependencies = [
        ("records", "0018_treatments_and_harvests"),
    ]

    operations = [
        migrations.RunPython(lift_guards, set_guards),
        migrations.AddField(
            model_name="inspection",
            name="photo_only",
            field=models.BooleanField(default=False),
        ),
        migrations.AddConstraint(
            model_name="inspection",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("photo_only", False),
                    models.Q(("all_well", False), ("condition", None), ("note", "")),
                    _connector="OR",
                ),
                name="inspection_photo_only_says_nothing",
            ),
        ),
        migrations.RunPython(set_guards, lift_guards),
    ]
