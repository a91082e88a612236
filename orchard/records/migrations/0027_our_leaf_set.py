"""The set of leaf ranges that an orchard goes by, with who chose it and when."""

from __future__ import annotations

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models
from django.db.models import Q

from orchard.records.one_orchard import lift_guards, set_guards


class Migration(migrations.Migration):
    dependencies = [
        ("records", "0026_talk_sets"),
    ]

    operations = [
        migrations.RunPython(lift_guards, set_guards),
        migrations.AddField(
            model_name="orchard",
            name="leaf_set",
            field=models.CharField(
                blank=True, max_length=24, verbose_name="our set of leaf ranges"
            ),
        ),
        migrations.AddField(
            model_name="orchard",
            name="leaf_set_at",
            field=models.DateTimeField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name="orchard",
            name="leaf_set_by",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to=settings.AUTH_USER_MODEL,
            ),
        ),
        migrations.AddConstraint(
            model_name="orchard",
            constraint=models.CheckConstraint(
                condition=Q(leaf_set="", leaf_set_at=None, leaf_set_by=None)
                | Q(leaf_set_at__isnull=False, leaf_set_by__isnull=False),
                name="orchard_leaf_set_whole",
            ),
        ),
        migrations.RunPython(set_guards, lift_guards),
    ]
