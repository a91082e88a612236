"""Talk sets: slides in order, with their photos."""

from __future__ import annotations

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

from orchard.records.one_orchard import lift_guards, set_guards


class Migration(migrations.Migration):
    dependencies = [
        ("records", "0025_direct_sun"),
    ]

    operations = [
        migrations.RunPython(lift_guards, set_guards),
        migrations.CreateModel(
            name="TalkSet",
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
                ("title", models.CharField(max_length=120, verbose_name="title")),
                ("made_at", models.DateTimeField()),
                ("changed_at", models.DateTimeField()),
                (
                    "removed_at",
                    models.DateTimeField(
                        blank=True, null=True, verbose_name="removed at"
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
                    "orchard",
                    models.ForeignKey(
                        db_index=False,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="talk_sets",
                        to="records.orchard",
                    ),
                ),
            ],
            options={
                "indexes": [
                    models.Index(
                        condition=models.Q(("removed_at", None)),
                        fields=["orchard", "-changed_at", "-id"],
                        name="talkset_latest",
                    )
                ],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("title", ""), _negated=True),
                        name="talkset_has_title",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="Slide",
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
                ("position", models.PositiveSmallIntegerField(verbose_name="number")),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("title", "title"),
                            ("text", "text"),
                            ("picture", "one photo"),
                            ("pair", "pair"),
                            ("before_after", "before and after"),
                            ("series", "series"),
                            ("credits", "closing credits"),
                        ],
                        max_length=12,
                        verbose_name="kind",
                    ),
                ),
                (
                    "title",
                    models.CharField(blank=True, max_length=120, verbose_name="title"),
                ),
                (
                    "text",
                    models.CharField(blank=True, max_length=600, verbose_name="text"),
                ),
                (
                    "note",
                    models.CharField(
                        blank=True, max_length=2000, verbose_name="presenter note"
                    ),
                ),
                (
                    "removed_at",
                    models.DateTimeField(
                        blank=True, null=True, verbose_name="removed at"
                    ),
                ),
                (
                    "talk_set",
                    models.ForeignKey(
                        db_index=False,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="slides",
                        to="records.talkset",
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            (
                                "kind__in",
                                [
                                    "title",
                                    "text",
                                    "picture",
                                    "pair",
                                    "before_after",
                                    "series",
                                    "credits",
                                ],
                            )
                        ),
                        name="slide_kind_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("position__gte", 1)),
                        name="slide_position_from_one",
                    ),
                    models.UniqueConstraint(
                        condition=models.Q(("removed_at", None)),
                        fields=("talk_set", "position"),
                        name="slide_one_at_a_position",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="TalkStep",
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
                ("made_at", models.DateTimeField()),
                (
                    "deed",
                    models.CharField(
                        choices=[
                            ("add", "added slides"),
                            ("edit", "edited a slide"),
                            ("move", "moved a slide"),
                            ("remove", "removed a slide"),
                            ("clear", "removed empty places"),
                            ("rename", "renamed the set"),
                        ],
                        max_length=8,
                    ),
                ),
                ("before", models.JSONField()),
                ("undone_at", models.DateTimeField(blank=True, null=True)),
                (
                    "by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "talk_set",
                    models.ForeignKey(
                        db_index=False,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="steps",
                        to="records.talkset",
                    ),
                ),
            ],
            options={
                "indexes": [
                    models.Index(
                        condition=models.Q(("undone_at", None)),
                        fields=["talk_set", "-id"],
                        name="talkstep_last",
                    )
                ],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            (
                                "deed__in",
                                ["add", "edit", "move", "remove", "clear", "rename"],
                            )
                        ),
                        name="talkstep_deed_known",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="SlidePhoto",
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
                ("position", models.PositiveSmallIntegerField(verbose_name="position")),
                (
                    "caption",
                    models.CharField(
                        blank=True, max_length=300, verbose_name="caption"
                    ),
                ),
                (
                    "alt_text",
                    models.CharField(
                        blank=True, max_length=300, verbose_name="description"
                    ),
                ),
                (
                    "removed_at",
                    models.DateTimeField(
                        blank=True, null=True, verbose_name="removed at"
                    ),
                ),
                (
                    "photo",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="records.photo",
                    ),
                ),
                (
                    "slide",
                    models.ForeignKey(
                        db_index=False,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="places",
                        to="records.slide",
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("position__gte", 1)),
                        name="slidephoto_position_from_one",
                    ),
                    models.UniqueConstraint(
                        condition=models.Q(("removed_at", None)),
                        fields=("slide", "position"),
                        name="slidephoto_one_at_a_position",
                    ),
                ],
            },
        ),
        migrations.RunPython(set_guards, lift_guards),
    ]
