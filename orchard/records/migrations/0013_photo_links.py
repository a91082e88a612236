"""Link a photo to each thing it belongs to by a row instead of a column."""

from __future__ import annotations

import django.db.models.deletion
from django.db import migrations, models

SUBJECTS = ("tree", "inspection", "finding", "closure", "round")


def carry_to_links(apps, schema_editor):
    """Make a link of each filled column."""
    photos = apps.get_model("records", "Photo").objects.order_by("pk")
    link = apps.get_model("records", "PhotoLink")
    for subject in SUBJECTS:
        column = f"{subject}_id"
        rows = photos.exclude(**{column: None}).values_list("pk", column)
        link.objects.bulk_create(
            (link(photo_id=pk, **{column: number}) for pk, number in rows.iterator()),
            batch_size=500,
        )
    check_now(schema_editor)


def carry_to_columns(apps, schema_editor):
    """Fill each column with the first thing of its sort that a photo is linked to."""
    photos = apps.get_model("records", "Photo").objects
    links = apps.get_model("records", "PhotoLink").objects
    for subject in SUBJECTS:
        column = f"{subject}_id"
        rows = links.exclude(**{column: None}).order_by("-pk")
        first = dict(rows.values_list("photo_id", column))
        for pk, number in first.items():
            photos.filter(pk=pk).update(**{column: number})
    check_now(schema_editor)


def check_now(schema_editor):
    """Let PostgreSQL check what was written before the tables are changed further."""
    if schema_editor.connection.vendor == "postgresql":
        schema_editor.execute("SET CONSTRAINTS ALL IMMEDIATE")


def key(to, **options):
    return models.ForeignKey(
        on_delete=django.db.models.deletion.PROTECT, to=f"records.{to}", **options
    )


def subject_key(to):
    return key(to, blank=True, null=True, db_index=False, related_name="+")


def many(to):
    return models.ManyToManyField(
        related_name="photos", through="records.PhotoLink", to=f"records.{to}"
    )


def exactly_one():
    alone = models.Q()
    for subject in SUBJECTS:
        alone |= models.Q(**{f"{each}__isnull": each != subject for each in SUBJECTS})
    return alone


class Migration(migrations.Migration):
    dependencies = [("records", "0012_cut_test")]

    operations = [
        migrations.CreateModel(
            name="PhotoLink",
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
                ("photo", key("photo", related_name="links")),
                *((subject, subject_key(subject)) for subject in SUBJECTS),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(
                        condition=exactly_one(), name="photolink_exactly_one_subject"
                    ),
                    *(
                        models.UniqueConstraint(
                            condition=models.Q(**{f"{subject}__isnull": False}),
                            fields=(subject, "photo"),
                            name=f"photolink_once_per_{subject}",
                        )
                        for subject in SUBJECTS
                    ),
                ]
            },
        ),
        migrations.RunPython(carry_to_links, carry_to_columns),
        migrations.RemoveIndex(
            model_name="photo", name="records_pho_tree_id_ae1115_idx"
        ),
        migrations.RemoveIndex(model_name="photo", name="photo_unassigned"),
        *(
            migrations.RemoveField(model_name="photo", name=subject)
            for subject in SUBJECTS
        ),
        *(
            migrations.AddField(
                model_name="photo", name=f"{subject}s", field=many(subject)
            )
            for subject in SUBJECTS
        ),
        migrations.AddIndex(
            model_name="photo",
            index=models.Index(
                condition=models.Q(("superseded_at", None), ("withdrawn_at", None)),
                fields=["orchard", "received_at", "id"],
                name="photo_current",
            ),
        ),
    ]
