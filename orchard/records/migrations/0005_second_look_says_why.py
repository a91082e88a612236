"""A second look may say why it is asked."""

from __future__ import annotations

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("records", "0004_ledger_by_person"),
    ]

    operations = [
        migrations.AddField(
            model_name="secondlook",
            name="reason",
            field=models.CharField(blank=True, max_length=500),
        ),
    ]
