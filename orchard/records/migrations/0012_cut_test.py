"""What a cut test showed stands in a table of its own, a row for each closure."""

from __future__ import annotations

import django.db.models.deletion
from django.db import migrations, models
from django.db.models import F, OuterRef, Q, Subquery


def part(apps, schema_editor):
    Closure = apps.get_model("records", "Closure")
    CutTest = apps.get_model("records", "CutTest")
    rows = Closure.objects.exclude(fruit_cut=None).values_list(
        "pk", "fruit_cut", "fruit_spoilt"
    )
    CutTest.objects.bulk_create(
        CutTest(closure_id=closure, fruit_cut=cut, fruit_spoilt=spoilt)
        for closure, cut, spoilt in rows
    )


def join(apps, schema_editor):
    results = apps.get_model("records", "CutTest").objects.filter(
        closure=OuterRef("pk")
    )
    apps.get_model("records", "Closure").objects.update(
        fruit_cut=Subquery(results.values("fruit_cut")[:1]),
        fruit_spoilt=Subquery(results.values("fruit_spoilt")[:1]),
    )


class Migration(migrations.Migration):
    dependencies = [("records", "0011_task_kind_and_key")]

    operations = [
        migrations.CreateModel(
            name="CutTest",
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
                (
                    "fruit_cut",
                    models.PositiveSmallIntegerField(verbose_name="fruit cut"),
                ),
                (
                    "fruit_spoilt",
                    models.PositiveSmallIntegerField(
                        verbose_name="of these frozen or dry"
                    ),
                ),
                (
                    "closure",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="cut_test",
                        to="records.closure",
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(
                        condition=Q(fruit_cut__gte=1, fruit_spoilt__lte=F("fruit_cut")),
                        name="cuttest_counts_fit",
                    )
                ],
            },
        ),
        migrations.RunPython(part, join),
        migrations.RemoveConstraint("closure", "closure_cut_test_whole"),
        migrations.RemoveField("closure", "fruit_cut"),
        migrations.RemoveField("closure", "fruit_spoilt"),
    ]
