"""Orchards under quarantine, with the words of the authority."""

from __future__ import annotations

from django.db import migrations, models

from orchard.records.one_orchard import lift_guards, set_guards


class Migration(migrations.Migration):
    dependencies = [
        ("records", "0020_leaf_analyses"),
    ]

    operations = [
        migrations.RunPython(lift_guards, set_guards),
        migrations.AddField(
            model_name="orchard",
            name="quarantine_from",
            field=models.DateField(
                blank=True, null=True, verbose_name="under quarantine since"
            ),
        ),
        migrations.AddField(
            model_name="orchard",
            name="quarantine_words",
            field=models.CharField(
                blank=True, max_length=1000, verbose_name="what the authority wrote"
            ),
        ),
        migrations.AddConstraint(
            model_name="orchard",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("quarantine_from", None), ("quarantine_words", "")),
                    models.Q(
                        ("quarantine_from__isnull", False),
                        models.Q(("quarantine_words", ""), _negated=True),
                    ),
                    _connector="OR",
                ),
                name="orchard_quarantine_whole",
            ),
        ),
        migrations.RunPython(set_guards, lift_guards),
    ]
