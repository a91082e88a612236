"""Photos that may leave the orchard: credit, description, how far, and consents."""

from __future__ import annotations

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

from orchard.records.one_orchard import lift_guards, set_guards


class Migration(migrations.Migration):
    dependencies = [
        ("records", "0023_phones_of_people"),
    ]

    operations = [
        migrations.RunPython(lift_guards, set_guards),
        migrations.AddField(
            model_name="photo",
            name="credit",
            field=models.CharField(blank=True, max_length=120, verbose_name="credit"),
        ),
        migrations.AddField(
            model_name="photo",
            name="alt_text",
            field=models.CharField(
                blank=True, max_length=300, verbose_name="description"
            ),
        ),
        migrations.AddField(
            model_name="photo",
            name="view",
            field=models.CharField(
                blank=True,
                choices=[
                    ("close_up", "close-up"),
                    ("branch", "branch"),
                    ("whole_tree", "whole tree"),
                ],
                max_length=10,
                verbose_name="view",
            ),
        ),
        migrations.AddField(
            model_name="photo",
            name="audience",
            field=models.CharField(
                choices=[
                    ("inside", "members only"),
                    ("talks", "talks and slides"),
                    ("public", "everybody"),
                ],
                default="inside",
                max_length=8,
                verbose_name="who may see it",
            ),
        ),
        migrations.AddField(
            model_name="photo",
            name="sharpness",
            field=models.FloatField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name="photo",
            name="brightness",
            field=models.FloatField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name="photo",
            name="likeness",
            field=models.BigIntegerField(blank=True, null=True),
        ),
        migrations.AddConstraint(
            model_name="photo",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("view__in", ["close_up", "branch", "whole_tree", ""])
                ),
                name="photo_view_known",
            ),
        ),
        migrations.AddConstraint(
            model_name="photo",
            constraint=models.CheckConstraint(
                condition=models.Q(("audience__in", ["inside", "talks", "public"])),
                name="photo_audience_known",
            ),
        ),
        migrations.CreateModel(
            name="PhotoConsent",
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
                ("person", models.CharField(max_length=120, verbose_name="person")),
                (
                    "use",
                    models.CharField(
                        choices=[
                            ("talks", "talks and slides"),
                            ("public", "everybody, talks and slides too"),
                        ],
                        max_length=8,
                        verbose_name="agrees to",
                    ),
                ),
                ("given_on", models.DateField(verbose_name="given on")),
                ("noted_at", models.DateTimeField()),
                (
                    "withdrawn_on",
                    models.DateField(
                        blank=True, null=True, verbose_name="withdrawn on"
                    ),
                ),
                ("withdrawn_at", models.DateTimeField(blank=True, null=True)),
                ("withdrawn_reason", models.CharField(blank=True, max_length=500)),
                (
                    "noted_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "photo",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="consents",
                        to="records.photo",
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
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("use__in", ["talks", "public"])),
                        name="photoconsent_use_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("person", ""), _negated=True),
                        name="photoconsent_names_somebody",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("withdrawn_at", None),
                                ("withdrawn_by", None),
                                ("withdrawn_on", None),
                                ("withdrawn_reason", ""),
                            ),
                            models.Q(
                                ("withdrawn_at__isnull", False),
                                ("withdrawn_by__isnull", False),
                                ("withdrawn_on__gte", models.F("given_on")),
                                ("withdrawn_on__isnull", False),
                                models.Q(("withdrawn_reason", ""), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="photoconsent_withdrawal_whole",
                    ),
                    models.UniqueConstraint(
                        condition=models.Q(("withdrawn_at", None)),
                        fields=("photo", "person", "use"),
                        name="photoconsent_one_standing",
                    ),
                ],
            },
        ),
        migrations.RunPython(set_guards, lift_guards),
    ]
