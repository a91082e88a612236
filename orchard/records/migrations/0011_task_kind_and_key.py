"""A task says its kind, the guide's key and its target in columns of their own."""

from __future__ import annotations

from django.db import migrations, models
from django.db.models import Case, F, Q, Value, When
from django.db.models.functions import Cast, Concat, StrIndex, Substr

# What a task was about began with one of these.
PREFIXES = {"care": "job:", "act": "sign:", "look": "look:", "report": "report:"}


def part(apps, schema_editor):
    tasks = apps.get_model("records", "Task").objects.all()
    tasks.update(key=Substr("what", StrIndex(F("what"), Value(":")) + 1))


def join(apps, schema_editor):
    def numbered(name, column):
        return Concat(Value(name), Cast(column, models.CharField()))

    tasks = apps.get_model("records", "Task").objects.all()
    tasks.update(
        what=Concat(
            Case(
                *(
                    When(sort=sort, then=Value(prefix))
                    for sort, prefix in PREFIXES.items()
                ),
                output_field=models.CharField(),
            ),
            "key",
        ),
        subject=Case(
            When(tree__isnull=False, then=numbered("tree:", "tree_id")),
            When(block__isnull=False, then=numbered("block:", "block_id")),
            default=numbered("orchard:", "orchard_id"),
            output_field=models.CharField(),
        ),
    )


def check(name, condition):
    return migrations.AddConstraint(
        "task", models.CheckConstraint(condition=condition, name=name)
    )


def once(fields, name, condition):
    return migrations.AddConstraint(
        model_name="task",
        constraint=models.UniqueConstraint(
            fields=fields, name=name, condition=condition
        ),
    )


class Migration(migrations.Migration):
    dependencies = [("records", "0010_ripeness_and_cut_tests")]

    operations = [
        migrations.RemoveConstraint("task", "task_one_open_per_subject"),
        migrations.RemoveConstraint("task", "task_occurrence_once"),
        migrations.RemoveConstraint("task", "task_sort_known"),
        migrations.AddField(
            "task", "key", models.CharField(default="", max_length=40), False
        ),
        migrations.RunPython(part, join),
        # With a default, the way back can add them to a table with rows.
        migrations.AlterField(
            "task", "what", models.CharField(default="", max_length=60)
        ),
        migrations.AlterField(
            "task", "subject", models.CharField(default="", max_length=32)
        ),
        migrations.RemoveField("task", "what"),
        migrations.RemoveField("task", "subject"),
        migrations.RenameField("task", "sort", "kind"),
        check("task_kind_known", Q(kind__in=["report", "act", "care", "look"])),
        check("task_names_its_work", ~Q(key="")),
        check("task_of_a_sign_has_its_tree", Q(kind="care") | Q(tree__isnull=False)),
        once(
            ["tree", "kind", "key"],
            "task_one_open_on_tree",
            Q(closed_at=None, tree__isnull=False),
        ),
        once(
            ["block", "kind", "key"],
            "task_one_open_on_block",
            Q(closed_at=None, tree=None, block__isnull=False),
        ),
        once(
            ["orchard", "kind", "key"],
            "task_one_open_on_orchard",
            Q(closed_at=None, tree=None, block=None),
        ),
        once(
            ["tree", "kind", "key", "occurrence"],
            "task_turn_once_on_tree",
            Q(tree__isnull=False),
        ),
        once(
            ["block", "kind", "key", "occurrence"],
            "task_turn_once_on_block",
            Q(tree=None, block__isnull=False),
        ),
        once(
            ["orchard", "kind", "key", "occurrence"],
            "task_turn_once_on_orchard",
            Q(tree=None, block=None),
        ),
    ]
