"""What people answered when they practised telling signs apart; theirs alone."""

from __future__ import annotations

import uuid

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

from orchard.records.one_orchard import lift_guards, set_guards


class Migration(migrations.Migration):
    dependencies = [
        ("records", "0028_for_visitors"),
    ]

    operations = [
        migrations.RunPython(lift_guards, set_guards),
        migrations.CreateModel(
            name="PracticeAnswer",
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
                ("key", models.UUIDField(default=uuid.uuid4, unique=True)),
                ("sign", models.CharField(max_length=40)),
                ("taken_for", models.CharField(blank=True, max_length=40)),
                (
                    "level",
                    models.CharField(
                        choices=[
                            ("drawing", "drawing"),
                            ("alike", "alike"),
                            ("photo", "photo"),
                        ],
                        max_length=24,
                    ),
                ),
                ("answered_at", models.DateTimeField()),
                (
                    "by",
                    models.ForeignKey(
                        db_index=False,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "orchard",
                    models.ForeignKey(
                        db_index=False,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="records.orchard",
                    ),
                ),
                (
                    "photo",
                    models.ForeignKey(
                        blank=True,
                        db_index=False,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="records.photo",
                    ),
                ),
            ],
            options={
                "indexes": [
                    models.Index(
                        fields=["by", "orchard", "answered_at", "id"],
                        name="records_pra_by_id_ca895a_idx",
                    ),
                    models.Index(
                        condition=models.Q(
                            models.Q(("taken_for", ""), _negated=True),
                            models.Q(("taken_for", models.F("sign")), _negated=True),
                        ),
                        fields=["orchard", "answered_at", "sign", "taken_for", "by"],
                        name="practiceanswer_missed",
                    ),
                ],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            ("level__in", ["drawing", "alike", "photo"])
                        ),
                        name="practiceanswer_level_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("sign", ""), _negated=True),
                        name="practiceanswer_names_its_sign",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("photo", None), ("level", "photo"), _connector="OR"
                        ),
                        name="practiceanswer_photo_at_its_level",
                    ),
                ],
            },
        ),
        migrations.RunPython(set_guards, lift_guards),
    ]
