"""What a laboratory found in leaves."""

from __future__ import annotations

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

from orchard.records.one_orchard import lift_guards, set_guards


class Migration(migrations.Migration):
    dependencies = [
        ("records", "0019_photo_only"),
    ]

    operations = [
        migrations.RunPython(lift_guards, set_guards),
        migrations.CreateModel(
            name="LeafTest",
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
                ("correction_reason", models.CharField(blank=True, max_length=500)),
                ("superseded_at", models.DateTimeField(blank=True, null=True)),
                ("withdrawn_at", models.DateTimeField(blank=True, null=True)),
                ("withdrawn_reason", models.CharField(blank=True, max_length=500)),
                (
                    "rootstock",
                    models.CharField(
                        blank=True, max_length=80, verbose_name="rootstock"
                    ),
                ),
                ("taken_on", models.DateField(verbose_name="taken on")),
                (
                    "leaf_months",
                    models.FloatField(verbose_name="age of the leaves, months"),
                ),
                (
                    "laboratory",
                    models.CharField(
                        blank=True, max_length=120, verbose_name="laboratory"
                    ),
                ),
                (
                    "sample",
                    models.CharField(
                        blank=True, max_length=60, verbose_name="sample number"
                    ),
                ),
                ("contents", models.JSONField(verbose_name="contents")),
                (
                    "soil_ph",
                    models.FloatField(
                        blank=True, null=True, verbose_name="pH of the soil"
                    ),
                ),
                (
                    "note",
                    models.CharField(blank=True, max_length=500, verbose_name="note"),
                ),
                ("received_at", models.DateTimeField()),
                (
                    "block",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="records.block",
                    ),
                ),
                (
                    "by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "corrects",
                    models.OneToOneField(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="corrected_by",
                        to="records.leaftest",
                    ),
                ),
                (
                    "kind",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="records.kind",
                    ),
                ),
                (
                    "orchard",
                    models.ForeignKey(
                        db_index=False,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="leaf_tests",
                        to="records.orchard",
                    ),
                ),
                (
                    "tree",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="leaf_tests",
                        to="records.tree",
                    ),
                ),
                (
                    "withdrawn_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "indexes": [
                    models.Index(
                        fields=["orchard", "-taken_on", "-id"],
                        name="records_lea_orchard_657a13_idx",
                    )
                ],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            ("corrects", None),
                            models.Q(("correction_reason", ""), _negated=True),
                            _connector="OR",
                        ),
                        name="leaftest_correction_explained",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("withdrawn_at", None),
                                ("withdrawn_by", None),
                                ("withdrawn_reason", ""),
                            ),
                            models.Q(
                                ("withdrawn_at__isnull", False),
                                ("withdrawn_by__isnull", False),
                                models.Q(("withdrawn_reason", ""), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="leaftest_withdrawal_whole",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("block", None), ("tree__isnull", False)),
                            models.Q(("block__isnull", False), ("tree", None)),
                            _connector="OR",
                        ),
                        name="leaftest_of_tree_or_block",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("leaf_months__gt", 0), ("leaf_months__lte", 36)
                        ),
                        name="leaftest_age_possible",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("contents", {}), _negated=True),
                        name="leaftest_says_something",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("soil_ph", None),
                            models.Q(("soil_ph__gte", 0), ("soil_ph__lte", 14)),
                            _connector="OR",
                        ),
                        name="leaftest_ph_possible",
                    ),
                ],
            },
        ),
        migrations.RunPython(set_guards, lift_guards),
    ]
