"""What visitors read: stories of trees and cultivars, and the orchard's own page."""

from __future__ import annotations

from django.db import migrations, models

from orchard.records.one_orchard import lift_guards, set_guards


class Migration(migrations.Migration):
    dependencies = [
        ("records", "0027_our_leaf_set"),
    ]

    operations = [
        migrations.RunPython(lift_guards, set_guards),
        migrations.AddField(
            model_name="kind",
            name="story",
            field=models.CharField(blank=True, max_length=1500, verbose_name="story"),
        ),
        migrations.AddField(
            model_name="tree",
            name="story",
            field=models.CharField(blank=True, max_length=1500, verbose_name="story"),
        ),
        migrations.AddField(
            model_name="orchard",
            name="public_page",
            field=models.BooleanField(default=False, verbose_name="page for visitors"),
        ),
        migrations.AddField(
            model_name="orchard",
            name="visiting_words",
            field=models.CharField(
                blank=True, max_length=1000, verbose_name="when to come, and how"
            ),
        ),
        migrations.RunPython(set_guards, lift_guards),
    ]
