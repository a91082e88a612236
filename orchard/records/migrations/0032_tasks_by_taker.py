"""Find a person's tasks by an index of the taken ones alone.

One of all tasks would also be asked which nobody has taken: nearly all of them.
"""

from __future__ import annotations

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

from orchard.records.one_orchard import lift_guards, set_guards


class Migration(migrations.Migration):
    dependencies = [
        ("records", "0031_inspections_by_arrival"),
    ]

    operations = [
        migrations.RunPython(lift_guards, set_guards),
        migrations.AlterField(
            model_name="task",
            name="taken_by",
            field=models.ForeignKey(
                blank=True,
                db_index=False,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to=settings.AUTH_USER_MODEL,
            ),
        ),
        migrations.AddIndex(
            model_name="task",
            index=models.Index(
                condition=models.Q(("closed_at", None), ("taken_by__isnull", False)),
                fields=["taken_by", "due_on", "id"],
                name="task_open_by_taker",
            ),
        ),
        migrations.RunPython(set_guards, lift_guards),
    ]
