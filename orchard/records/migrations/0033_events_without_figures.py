"""What happened is named without the guide's figures; the column stays as it is."""

from __future__ import annotations

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("records", "0032_tasks_by_taker"),
    ]

    operations = [
        migrations.AlterField(
            model_name="happening",
            name="what",
            field=models.CharField(
                choices=[
                    ("potted", "repotted"),
                    ("staked", "staked"),
                    ("bark_bared", "bark laid bare"),
                    ("frost_night", "frost night"),
                    ("hard_frost", "hard frost"),
                    ("severe_frost", "severe frost"),
                    ("heavy_rain", "heavy rain"),
                    ("covered", "covered against frost"),
                    ("application", "product applied"),
                    ("harvested", "harvest finished"),
                    ("other", "something else"),
                ],
                max_length=16,
            ),
        ),
    ]
