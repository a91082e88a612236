"""Tests of fruit by taste, colour and scent, against the standard a site chose."""

from __future__ import annotations

from django.db import migrations, models

from orchard.records.one_orchard import lift_guards, set_guards


class Migration(migrations.Migration):
    dependencies = [
        ("records", "0002_guards"),
    ]

    operations = [
        migrations.RunPython(lift_guards, set_guards),
        migrations.RemoveConstraint(
            model_name="ripenesstest",
            name="ripeness_says_something",
        ),
        migrations.AddField(
            model_name="orchard",
            name="maturity_standard",
            field=models.CharField(
                choices=[
                    ("unece_ffv14", "UNECE FFV-14, draft of 2019 (lemons 20 % juice)"),
                    (
                        "unece_ffv14_older",
                        "UNECE FFV-14, text before 2019 (most lemons 25 % juice)",
                    ),
                    (
                        "western_australia",
                        "Western Australia, 2023 (lemons 25 % juice)",
                    ),
                ],
                default="unece_ffv14",
                max_length=20,
                verbose_name="fruit is held against",
            ),
        ),
        migrations.AddField(
            model_name="ripenesstest",
            name="colour_percent",
            field=models.FloatField(blank=True, null=True, verbose_name="yellow rind"),
        ),
        migrations.AddField(
            model_name="ripenesstest",
            name="scented",
            field=models.BooleanField(
                blank=True, null=True, verbose_name="scent as it should be"
            ),
        ),
        migrations.AddField(
            model_name="ripenesstest",
            name="tasters",
            field=models.PositiveSmallIntegerField(
                blank=True, null=True, verbose_name="tasters"
            ),
        ),
        migrations.AddConstraint(
            model_name="orchard",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    (
                        "maturity_standard__in",
                        ["unece_ffv14", "unece_ffv14_older", "western_australia"],
                    )
                ),
                name="orchard_maturity_standard_known",
            ),
        ),
        migrations.AddConstraint(
            model_name="ripenesstest",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("colour_percent", None),
                    models.Q(("colour_percent__gte", 0), ("colour_percent__lte", 100)),
                    _connector="OR",
                ),
                name="ripeness_colour_possible",
            ),
        ),
        migrations.AddConstraint(
            model_name="ripenesstest",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("brix_read__isnull", False),
                    ("acid_percent__isnull", False),
                    ("titrant_ml__isnull", False),
                    ("juice_percent__isnull", False),
                    ("juice_g__isnull", False),
                    ("taste__isnull", False),
                    ("colour_percent__isnull", False),
                    ("scented__isnull", False),
                    _connector="OR",
                ),
                name="ripeness_says_something",
            ),
        ),
        migrations.RunPython(set_guards, lift_guards),
    ]
