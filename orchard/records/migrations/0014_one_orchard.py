"""Let the database refuse a row that names things of two orchards."""

from __future__ import annotations

from django.db import migrations

from orchard.records.one_orchard import lift_guards, set_guards


class Migration(migrations.Migration):
    dependencies = [("records", "0013_photo_links")]

    operations = [
        # The check that days have a station knows the sorts as well.
        migrations.RemoveConstraint("intake", "intake_sort_known"),
        migrations.RunPython(set_guards, lift_guards),
    ]
