"""All tables of the record book."""

from __future__ import annotations

import uuid

import django.db.models.deletion
import django.db.models.functions.text
import django.utils.timezone
from django.conf import settings
from django.db import migrations, models

import orchard.records.models.accounts


class Migration(migrations.Migration):
    initial = True

    replaces = [
        ("records", "0001_initial"),
        ("records", "0003_rounds_and_receipts"),
        ("records", "0004_ledger_by_person"),
        ("records", "0005_second_look_says_why"),
        ("records", "0006_weather"),
        ("records", "0007_ground"),
        ("records", "0008_hard_frost"),
        ("records", "0009_severe_frost"),
        ("records", "0010_ripeness_and_cut_tests"),
        ("records", "0011_task_kind_and_key"),
        ("records", "0012_cut_test"),
        ("records", "0013_photo_links"),
    ]

    dependencies = [
        ("auth", "0012_alter_user_first_name_max_length"),
    ]

    operations = [
        migrations.CreateModel(
            name="User",
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
                ("password", models.CharField(max_length=128, verbose_name="password")),
                (
                    "last_login",
                    models.DateTimeField(
                        blank=True, null=True, verbose_name="last login"
                    ),
                ),
                (
                    "is_superuser",
                    models.BooleanField(
                        default=False,
                        help_text="Designates that this user has all permissions "
                        "without explicitly assigning them.",
                        verbose_name="superuser status",
                    ),
                ),
                (
                    "email",
                    models.EmailField(
                        max_length=254, unique=True, verbose_name="e-mail address"
                    ),
                ),
                ("name", models.CharField(max_length=120, verbose_name="name")),
                ("is_active", models.BooleanField(default=True)),
                ("is_staff", models.BooleanField(default=False)),
                ("joined_at", models.DateTimeField(default=django.utils.timezone.now)),
                (
                    "groups",
                    models.ManyToManyField(
                        blank=True,
                        help_text="The groups this user belongs to. A user will get "
                        "all permissions granted to each of their groups.",
                        related_name="user_set",
                        related_query_name="user",
                        to="auth.group",
                        verbose_name="groups",
                    ),
                ),
                (
                    "user_permissions",
                    models.ManyToManyField(
                        blank=True,
                        help_text="Specific permissions for this user.",
                        related_name="user_set",
                        related_query_name="user",
                        to="auth.permission",
                        verbose_name="user permissions",
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            ("email", django.db.models.functions.text.Lower("email"))
                        ),
                        name="user_email_lower_case",
                    )
                ],
            },
            managers=[
                ("objects", orchard.records.models.accounts.UserManager()),
            ],
        ),
        migrations.CreateModel(
            name="Orchard",
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
                ("name", models.CharField(max_length=120, verbose_name="name")),
                ("slug", models.SlugField(max_length=60, unique=True)),
                ("place", models.CharField(max_length=160, verbose_name="place")),
                (
                    "time_zone",
                    models.CharField(max_length=64, verbose_name="time zone"),
                ),
                (
                    "latitude",
                    models.DecimalField(
                        decimal_places=5, max_digits=8, verbose_name="latitude"
                    ),
                ),
                (
                    "longitude",
                    models.DecimalField(
                        decimal_places=5, max_digits=8, verbose_name="longitude"
                    ),
                ),
                (
                    "elevation_m",
                    models.IntegerField(
                        default=0, verbose_name="height above the sea, m"
                    ),
                ),
                (
                    "units",
                    models.CharField(
                        choices=[
                            ("metric", "metric (°C, cm, kg)"),
                            ("us", "US (°F, inches, pounds)"),
                        ],
                        default="metric",
                        max_length=8,
                        verbose_name="units",
                    ),
                ),
                (
                    "frost_from",
                    models.CharField(
                        blank=True, max_length=8, verbose_name="frost season from"
                    ),
                ),
                (
                    "frost_to",
                    models.CharField(
                        blank=True, max_length=8, verbose_name="frost season to"
                    ),
                ),
                (
                    "fruit_fly_area",
                    models.BooleanField(
                        default=False, verbose_name="in a fruit-fly area"
                    ),
                ),
                (
                    "authority_name",
                    models.CharField(
                        blank=True,
                        max_length=160,
                        verbose_name="plant-health authority",
                    ),
                ),
                (
                    "authority_contact",
                    models.CharField(
                        blank=True, max_length=200, verbose_name="how to reach it"
                    ),
                ),
                (
                    "emergency_note",
                    models.TextField(blank=True, verbose_name="in an emergency"),
                ),
                ("founded_at", models.DateTimeField()),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("units__in", ["metric", "us"])),
                        name="orchard_units_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("latitude__gte", -90), ("latitude__lte", 90)
                        ),
                        name="orchard_latitude_on_earth",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("longitude__gte", -180), ("longitude__lte", 180)
                        ),
                        name="orchard_longitude_on_earth",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Round",
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
                ("name", models.CharField(max_length=80, verbose_name="name")),
                ("walk_on", models.DateField(verbose_name="day")),
                ("made_at", models.DateTimeField()),
                ("taken_at", models.DateTimeField(blank=True, null=True)),
                ("closed_at", models.DateTimeField(blank=True, null=True)),
                (
                    "closed_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "made_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "orchard",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="rounds",
                        to="records.orchard",
                    ),
                ),
                (
                    "taken_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="rounds",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "indexes": [
                    models.Index(
                        condition=models.Q(("closed_at", None)),
                        fields=["orchard", "walk_on", "id"],
                        name="round_open",
                    )
                ],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("taken_at", None), ("taken_by", None)),
                            models.Q(
                                ("taken_at__isnull", False), ("taken_by__isnull", False)
                            ),
                            _connector="OR",
                        ),
                        name="round_taken_whole",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("closed_at", None), ("closed_by", None)),
                            models.Q(
                                ("closed_at__isnull", False),
                                ("closed_by__isnull", False),
                            ),
                            _connector="OR",
                        ),
                        name="round_closed_whole",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Kind",
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
                ("name", models.CharField(max_length=80, verbose_name="cultivar")),
                (
                    "host",
                    models.CharField(
                        default="citrus",
                        max_length=16,
                        verbose_name="sort of fruit tree",
                    ),
                ),
                (
                    "group",
                    models.CharField(blank=True, max_length=60, verbose_name="group"),
                ),
                ("guide_key", models.CharField(blank=True, max_length=60)),
                (
                    "tender_class",
                    models.CharField(
                        blank=True, max_length=2, verbose_name="tenderness"
                    ),
                ),
                (
                    "other_names",
                    models.JSONField(
                        blank=True, default=list, verbose_name="other names"
                    ),
                ),
                (
                    "orchard",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="kinds",
                        to="records.orchard",
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(
                        models.F("orchard"),
                        django.db.models.functions.text.Lower("name"),
                        name="kind_name_once_per_orchard",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            (
                                "host__in",
                                [
                                    "citrus",
                                    "stone",
                                    "pome",
                                    "fig",
                                    "persimmon",
                                    "pomegranate",
                                    "any",
                                ],
                            )
                        ),
                        name="kind_host_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("tender_class__in", ["T1", "T2", "T3", "T4", "T5", ""])
                        ),
                        name="kind_tender_class_known",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Block",
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
                ("code", models.CharField(max_length=12, verbose_name="code")),
                ("name", models.CharField(max_length=80, verbose_name="name")),
                (
                    "position",
                    models.PositiveIntegerField(
                        default=0, verbose_name="walking order"
                    ),
                ),
                (
                    "orchard",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="blocks",
                        to="records.orchard",
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(
                        models.F("orchard"),
                        django.db.models.functions.text.Lower("code"),
                        name="block_code_once_per_orchard",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="Spot",
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
                ("number", models.CharField(max_length=12, verbose_name="number")),
                (
                    "position",
                    models.PositiveIntegerField(
                        default=0, verbose_name="walking order"
                    ),
                ),
                (
                    "over_path",
                    models.BooleanField(
                        default=False, verbose_name="branches reach over a path"
                    ),
                ),
                (
                    "latitude",
                    models.DecimalField(
                        blank=True, decimal_places=6, max_digits=9, null=True
                    ),
                ),
                (
                    "longitude",
                    models.DecimalField(
                        blank=True, decimal_places=6, max_digits=9, null=True
                    ),
                ),
                (
                    "block",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="spots",
                        to="records.block",
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(
                        models.F("block"),
                        django.db.models.functions.text.Lower("number"),
                        name="spot_number_once_per_block",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="Tree",
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
                ("code", models.CharField(max_length=24, verbose_name="code")),
                (
                    "believed",
                    models.BooleanField(
                        default=False, verbose_name="cultivar only believed to be"
                    ),
                ),
                (
                    "label_name",
                    models.CharField(
                        blank=True, max_length=120, verbose_name="name on the label"
                    ),
                ),
                (
                    "rootstock",
                    models.CharField(
                        blank=True, max_length=60, verbose_name="rootstock"
                    ),
                ),
                (
                    "own_roots",
                    models.BooleanField(default=False, verbose_name="on its own roots"),
                ),
                (
                    "setting",
                    models.CharField(
                        choices=[
                            ("ground", "in the ground"),
                            ("container", "in a container"),
                        ],
                        default="ground",
                        max_length=12,
                        verbose_name="setting",
                    ),
                ),
                (
                    "container_litres",
                    models.DecimalField(
                        blank=True,
                        decimal_places=1,
                        max_digits=7,
                        null=True,
                        verbose_name="container, litres",
                    ),
                ),
                (
                    "born_on",
                    models.DateField(
                        blank=True, null=True, verbose_name="grafted or sown on"
                    ),
                ),
                (
                    "planted_on",
                    models.DateField(blank=True, null=True, verbose_name="planted on"),
                ),
                (
                    "irrigated",
                    models.BooleanField(
                        default=False, verbose_name="on drip irrigation"
                    ),
                ),
                ("staked", models.BooleanField(default=False, verbose_name="staked")),
                (
                    "on_display",
                    models.BooleanField(default=True, verbose_name="display tree"),
                ),
                ("note", models.TextField(blank=True, verbose_name="note")),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("growing", "growing"),
                            ("rootstock_only", "rootstock only"),
                            ("dead", "dead"),
                            ("removed", "removed"),
                        ],
                        default="growing",
                        max_length=16,
                    ),
                ),
                ("scion_died_on", models.DateField(blank=True, null=True)),
                ("died_on", models.DateField(blank=True, null=True)),
                ("removed_on", models.DateField(blank=True, null=True)),
                ("removal_reason", models.CharField(blank=True, max_length=300)),
                ("last_seen_on", models.DateField(blank=True, null=True)),
                ("condition", models.PositiveSmallIntegerField(blank=True, null=True)),
                ("entered_at", models.DateTimeField()),
                (
                    "kind",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="trees",
                        to="records.kind",
                    ),
                ),
                (
                    "orchard",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="trees",
                        to="records.orchard",
                    ),
                ),
                (
                    "replaces",
                    models.OneToOneField(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="replaced_by",
                        to="records.tree",
                    ),
                ),
                (
                    "spot",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="trees",
                        to="records.spot",
                    ),
                ),
            ],
            options={
                "indexes": [
                    models.Index(
                        fields=["orchard", "state", "last_seen_on", "id"],
                        name="records_tre_orchard_1ab1ce_idx",
                    )
                ],
                "constraints": [
                    models.UniqueConstraint(
                        models.F("orchard"),
                        django.db.models.functions.text.Lower("code"),
                        name="tree_code_once_per_orchard",
                    ),
                    models.UniqueConstraint(
                        condition=models.Q(("removed_on", None)),
                        fields=("spot",),
                        name="tree_one_standing_per_spot",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            (
                                "state__in",
                                ["growing", "rootstock_only", "dead", "removed"],
                            )
                        ),
                        name="tree_state_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("setting__in", ["ground", "container"])),
                        name="tree_setting_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("removal_reason", ""),
                                ("removed_on", None),
                                models.Q(("state", "removed"), _negated=True),
                            ),
                            models.Q(
                                ("removed_on__isnull", False),
                                ("state", "removed"),
                                models.Q(("removal_reason", ""), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="tree_removal_whole",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("planted_on", None),
                            ("removed_on", None),
                            ("removed_on__gte", models.F("planted_on")),
                            _connector="OR",
                        ),
                        name="tree_removed_after_planted",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("born_on", None),
                            ("planted_on", None),
                            ("planted_on__gte", models.F("born_on")),
                            _connector="OR",
                        ),
                        name="tree_planted_after_grafted",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("container_litres", None),
                            models.Q(
                                ("container_litres__gt", 0), ("setting", "container")
                            ),
                            _connector="OR",
                        ),
                        name="tree_litres_only_in_container",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("own_roots", False), ("rootstock", ""), _connector="OR"
                        ),
                        name="tree_own_roots_no_rootstock",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("condition", None),
                            models.Q(("condition__gte", 1), ("condition__lte", 5)),
                            _connector="OR",
                        ),
                        name="tree_condition_one_to_five",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Inspection",
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
                ("correction_reason", models.CharField(blank=True, max_length=500)),
                ("superseded_at", models.DateTimeField(blank=True, null=True)),
                ("withdrawn_at", models.DateTimeField(blank=True, null=True)),
                ("withdrawn_reason", models.CharField(blank=True, max_length=500)),
                ("key", models.UUIDField(default=uuid.uuid4, unique=True)),
                ("seen_on", models.DateField(verbose_name="seen on")),
                ("seen_at", models.DateTimeField()),
                ("made_at", models.DateTimeField()),
                ("received_at", models.DateTimeField()),
                ("all_well", models.BooleanField(default=False)),
                (
                    "condition",
                    models.PositiveSmallIntegerField(
                        blank=True, null=True, verbose_name="condition"
                    ),
                ),
                ("note", models.TextField(blank=True, verbose_name="note")),
                ("has_private", models.BooleanField(default=False)),
                ("offset_seconds", models.IntegerField(default=0)),
                ("also_ticked", models.JSONField(blank=True, default=list)),
                (
                    "by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="inspections",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "corrects",
                    models.OneToOneField(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="corrected_by",
                        to="records.inspection",
                    ),
                ),
                (
                    "withdrawn_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
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
                        related_name="+",
                        to="records.orchard",
                    ),
                ),
                (
                    "round",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="inspections",
                        to="records.round",
                    ),
                ),
                (
                    "tree",
                    models.ForeignKey(
                        db_index=False,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="inspections",
                        to="records.tree",
                    ),
                ),
            ],
            options={
                "indexes": [
                    models.Index(
                        fields=["tree", "-seen_at", "-id"],
                        name="records_ins_tree_id_65c478_idx",
                    ),
                    models.Index(
                        fields=["orchard", "-seen_at", "-id"],
                        name="records_ins_orchard_7be01a_idx",
                    ),
                    models.Index(
                        condition=models.Q(("condition__isnull", False)),
                        fields=["tree", "-seen_on", "-id"],
                        name="inspection_scored",
                    ),
                ],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            ("corrects", None),
                            models.Q(("correction_reason", ""), _negated=True),
                            _connector="OR",
                        ),
                        name="inspection_correction_explained",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("withdrawn_at", None),
                                ("withdrawn_by", None),
                                ("withdrawn_reason", ""),
                            ),
                            models.Q(
                                ("withdrawn_at__isnull", False),
                                ("withdrawn_by__isnull", False),
                                models.Q(("withdrawn_reason", ""), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="inspection_withdrawal_whole",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("condition", None),
                            models.Q(("condition__gte", 1), ("condition__lte", 5)),
                            _connector="OR",
                        ),
                        name="inspection_condition_one_to_five",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Finding",
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
                ("sign", models.CharField(max_length=40)),
                ("part", models.CharField(blank=True, max_length=24)),
                ("answers", models.JSONField(blank=True, default=dict)),
                ("typed", models.JSONField(blank=True, default=dict)),
                ("sure", models.BooleanField(default=True)),
                ("note", models.TextField(blank=True)),
                (
                    "verdict",
                    models.CharField(
                        choices=[
                            ("leave", "leave"),
                            ("watch", "watch"),
                            ("act", "act"),
                            ("report", "report"),
                        ],
                        max_length=24,
                    ),
                ),
                ("due_on", models.DateField(blank=True, null=True)),
                ("recheck_on", models.DateField(blank=True, null=True)),
                ("because", models.JSONField(default=list)),
                ("rule", models.CharField(max_length=60)),
                ("edition", models.CharField(max_length=40)),
                ("facts", models.JSONField(default=dict)),
                ("asks", models.CharField(blank=True, max_length=40)),
                ("override", models.CharField(blank=True, max_length=24)),
                ("override_reason", models.CharField(blank=True, max_length=500)),
                ("override_at", models.DateTimeField(blank=True, null=True)),
                ("private", models.BooleanField(default=False)),
                (
                    "continues",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="continued_by",
                        to="records.finding",
                    ),
                ),
                (
                    "override_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "inspection",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="findings",
                        to="records.inspection",
                    ),
                ),
                (
                    "tree",
                    models.ForeignKey(
                        db_index=False,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="findings",
                        to="records.tree",
                    ),
                ),
            ],
            options={
                "indexes": [
                    models.Index(
                        fields=["tree", "sign", "-id"],
                        name="records_fin_tree_id_acf50d_idx",
                    )
                ],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            ("verdict__in", ["leave", "watch", "act", "report"])
                        ),
                        name="finding_verdict_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("override__in", ["leave", "watch", "act", "report", ""])
                        ),
                        name="finding_override_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("override", ""),
                                ("override_by", None),
                                ("override_reason", ""),
                            ),
                            models.Q(
                                models.Q(("override", ""), _negated=True),
                                models.Q(("override_reason", ""), _negated=True),
                                ("override_by__isnull", False),
                            ),
                            _connector="OR",
                        ),
                        name="finding_override_explained",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Task",
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
                    "kind",
                    models.CharField(
                        choices=[
                            ("report", "report"),
                            ("act", "act on a finding"),
                            ("care", "seasonal care"),
                            ("look", "next look"),
                        ],
                        max_length=8,
                    ),
                ),
                ("rank", models.PositiveSmallIntegerField()),
                ("key", models.CharField(max_length=40)),
                ("occurrence", models.CharField(max_length=40)),
                ("title", models.CharField(max_length=160)),
                ("because", models.CharField(blank=True, max_length=500)),
                ("caution", models.CharField(blank=True, max_length=500)),
                ("opens_on", models.DateField()),
                ("due_on", models.DateField()),
                ("rhythm_days", models.PositiveIntegerField()),
                ("private", models.BooleanField(default=False)),
                ("made_at", models.DateTimeField()),
                ("closed_at", models.DateTimeField(blank=True, null=True)),
                (
                    "block",
                    models.ForeignKey(
                        blank=True,
                        db_index=False,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="tasks",
                        to="records.block",
                    ),
                ),
                (
                    "finding",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="tasks",
                        to="records.finding",
                    ),
                ),
                (
                    "orchard",
                    models.ForeignKey(
                        db_index=False,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="tasks",
                        to="records.orchard",
                    ),
                ),
                (
                    "taken_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "tree",
                    models.ForeignKey(
                        blank=True,
                        db_index=False,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="tasks",
                        to="records.tree",
                    ),
                ),
            ],
            options={
                "indexes": [
                    models.Index(
                        condition=models.Q(("closed_at", None)),
                        fields=["orchard", "rank", "due_on", "id"],
                        name="task_open_board",
                    ),
                    models.Index(
                        condition=models.Q(("closed_at", None)),
                        fields=["block", "due_on", "id"],
                        name="task_open_by_block",
                    ),
                    models.Index(
                        condition=models.Q(("closed_at", None)),
                        fields=["tree", "due_on", "id"],
                        name="task_open_by_tree",
                    ),
                    models.Index(
                        condition=models.Q(("closed_at__isnull", False)),
                        fields=["tree", "-closed_at", "-id"],
                        name="task_closed_by_tree",
                    ),
                ],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            ("kind__in", ["report", "act", "care", "look"])
                        ),
                        name="task_kind_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("key", ""), _negated=True),
                        name="task_names_its_work",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("kind", "care"), ("tree__isnull", False), _connector="OR"
                        ),
                        name="task_of_a_sign_has_its_tree",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("due_on__gte", models.F("opens_on"))),
                        name="task_due_after_opens",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("rhythm_days__gte", 1)),
                        name="task_rhythm_positive",
                    ),
                    models.UniqueConstraint(
                        condition=models.Q(
                            ("closed_at", None), ("tree__isnull", False)
                        ),
                        fields=("tree", "kind", "key"),
                        name="task_one_open_on_tree",
                    ),
                    models.UniqueConstraint(
                        condition=models.Q(
                            ("block__isnull", False),
                            ("closed_at", None),
                            ("tree", None),
                        ),
                        fields=("block", "kind", "key"),
                        name="task_one_open_on_block",
                    ),
                    models.UniqueConstraint(
                        condition=models.Q(
                            ("block", None), ("closed_at", None), ("tree", None)
                        ),
                        fields=("orchard", "kind", "key"),
                        name="task_one_open_on_orchard",
                    ),
                    models.UniqueConstraint(
                        condition=models.Q(("tree__isnull", False)),
                        fields=("tree", "kind", "key", "occurrence"),
                        name="task_turn_once_on_tree",
                    ),
                    models.UniqueConstraint(
                        condition=models.Q(("block__isnull", False), ("tree", None)),
                        fields=("block", "kind", "key", "occurrence"),
                        name="task_turn_once_on_block",
                    ),
                    models.UniqueConstraint(
                        condition=models.Q(("block", None), ("tree", None)),
                        fields=("orchard", "kind", "key", "occurrence"),
                        name="task_turn_once_on_orchard",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Closure",
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
                    "how",
                    models.CharField(
                        choices=[
                            ("done", "done"),
                            ("skipped", "skipped"),
                            ("cancelled", "fell away"),
                        ],
                        max_length=10,
                    ),
                ),
                ("done_on", models.DateField(verbose_name="done on")),
                ("closed_at", models.DateTimeField()),
                (
                    "reason",
                    models.CharField(blank=True, max_length=500, verbose_name="reason"),
                ),
                (
                    "evidence",
                    models.CharField(
                        blank=True, max_length=500, verbose_name="what was done"
                    ),
                ),
                ("undone_at", models.DateTimeField(blank=True, null=True)),
                (
                    "by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "undone_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "inspection",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="closures",
                        to="records.inspection",
                    ),
                ),
                (
                    "task",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="closures",
                        to="records.task",
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            ("how__in", ["done", "skipped", "cancelled"])
                        ),
                        name="closure_how_known",
                    ),
                    models.UniqueConstraint(
                        condition=models.Q(("undone_at", None)),
                        fields=("task",),
                        name="closure_one_standing_per_task",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("how", "done"),
                            models.Q(("reason", ""), _negated=True),
                            _connector="OR",
                        ),
                        name="closure_says_why",
                    ),
                ],
            },
        ),
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
                        condition=models.Q(
                            ("fruit_cut__gte", 1),
                            ("fruit_spoilt__lte", models.F("fruit_cut")),
                        ),
                        name="cuttest_counts_fit",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="Membership",
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
                    "role",
                    models.CharField(
                        choices=[
                            ("volunteer", "volunteer"),
                            ("lead", "crew lead"),
                            ("educator", "educator"),
                            ("office", "programme office"),
                            ("coordinator", "coordinator"),
                        ],
                        max_length=24,
                    ),
                ),
                ("joined_at", models.DateTimeField()),
                ("left_at", models.DateTimeField(blank=True, null=True)),
                (
                    "user",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="memberships",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "orchard",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="memberships",
                        to="records.orchard",
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(
                        fields=("user", "orchard"), name="membership_once_per_orchard"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            (
                                "role__in",
                                [
                                    "volunteer",
                                    "lead",
                                    "educator",
                                    "office",
                                    "coordinator",
                                ],
                            )
                        ),
                        name="membership_role_known",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Invitation",
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
                ("email", models.EmailField(max_length=254)),
                (
                    "role",
                    models.CharField(
                        choices=[
                            ("volunteer", "volunteer"),
                            ("lead", "crew lead"),
                            ("educator", "educator"),
                            ("office", "programme office"),
                            ("coordinator", "coordinator"),
                        ],
                        max_length=24,
                    ),
                ),
                ("token_hash", models.CharField(max_length=64, unique=True)),
                ("invited_at", models.DateTimeField()),
                ("expires_at", models.DateTimeField()),
                ("accepted_at", models.DateTimeField(blank=True, null=True)),
                ("withdrawn_at", models.DateTimeField(blank=True, null=True)),
                (
                    "accepted_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "invited_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "orchard",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="invitations",
                        to="records.orchard",
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("expires_at__gt", models.F("invited_at"))),
                        name="invitation_expires_after_sent",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            (
                                "role__in",
                                [
                                    "volunteer",
                                    "lead",
                                    "educator",
                                    "office",
                                    "coordinator",
                                ],
                            )
                        ),
                        name="invitation_role_known",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Station",
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
                ("name", models.CharField(max_length=80, verbose_name="name")),
                (
                    "sort",
                    models.CharField(
                        choices=[
                            ("own", "the orchard's own station"),
                            ("record", "a record kept elsewhere"),
                        ],
                        default="record",
                        max_length=8,
                        verbose_name="what it is",
                    ),
                ),
                (
                    "source",
                    models.CharField(
                        max_length=200, verbose_name="where its figures come from"
                    ),
                ),
                (
                    "elevation_m",
                    models.IntegerField(
                        blank=True, null=True, verbose_name="height above the sea, m"
                    ),
                ),
                ("made_at", models.DateTimeField()),
                (
                    "made_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "orchard",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="stations",
                        to="records.orchard",
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(
                        models.F("orchard"),
                        django.db.models.functions.text.Lower("name"),
                        name="station_name_once_per_orchard",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("sort__in", ["own", "record"])),
                        name="station_sort_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("elevation_m", None),
                            models.Q(
                                ("elevation_m__gte", -450), ("elevation_m__lte", 9000)
                            ),
                            _connector="OR",
                        ),
                        name="station_elevation_m_possible",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Intake",
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
                    "sort",
                    models.CharField(
                        choices=[("days", "days measured"), ("forecast", "a forecast")],
                        max_length=8,
                    ),
                ),
                ("file_name", models.CharField(max_length=120)),
                ("columns", models.JSONField(default=dict)),
                ("days", models.PositiveIntegerField(default=0)),
                ("taken_at", models.DateTimeField()),
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
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="records.orchard",
                    ),
                ),
                (
                    "station",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="intakes",
                        to="records.station",
                    ),
                ),
            ],
            options={
                "indexes": [
                    models.Index(
                        fields=["orchard", "-taken_at", "-id"],
                        name="records_int_orchard_2b12d6_idx",
                    )
                ],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("sort", "days"), ("station__isnull", False)),
                            models.Q(("sort", "forecast"), ("station", None)),
                            _connector="OR",
                        ),
                        name="intake_days_have_a_station",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="HouseRule",
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
                ("sign", models.CharField(max_length=40)),
                ("rules", models.JSONField()),
                ("reason", models.CharField(max_length=500)),
                ("starts_on", models.DateField()),
                ("written_at", models.DateTimeField()),
                ("lifted_on", models.DateField(blank=True, null=True)),
                ("lifted_reason", models.CharField(blank=True, max_length=500)),
                (
                    "author",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "lifted_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "orchard",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="house_rules",
                        to="records.orchard",
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("reason", ""), _negated=True),
                        name="houserule_says_why",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("lifted_by", None),
                                ("lifted_on", None),
                                ("lifted_reason", ""),
                            ),
                            models.Q(
                                ("lifted_by__isnull", False),
                                ("lifted_on__gte", models.F("starts_on")),
                                models.Q(("lifted_reason", ""), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="houserule_lift_whole",
                    ),
                    models.UniqueConstraint(
                        condition=models.Q(("lifted_on", None)),
                        fields=("orchard", "sign"),
                        name="houserule_one_per_sign",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Forecast",
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
                ("for_on", models.DateField(verbose_name="for the day")),
                ("made_at", models.DateTimeField(verbose_name="made")),
                (
                    "source",
                    models.CharField(max_length=120, verbose_name="whose forecast"),
                ),
                (
                    "tmin",
                    models.FloatField(blank=True, null=True, verbose_name="lowest"),
                ),
                (
                    "tmax",
                    models.FloatField(blank=True, null=True, verbose_name="highest"),
                ),
                (
                    "dew_point",
                    models.FloatField(blank=True, null=True, verbose_name="dew point"),
                ),
                ("wind", models.FloatField(blank=True, null=True, verbose_name="wind")),
                (
                    "cloud",
                    models.FloatField(
                        blank=True, null=True, verbose_name="cloud, % of the sky"
                    ),
                ),
                (
                    "rain_mm",
                    models.FloatField(blank=True, null=True, verbose_name="rain"),
                ),
                ("row_number", models.PositiveIntegerField(blank=True, null=True)),
                ("written", models.JSONField(blank=True, default=dict)),
                ("received_at", models.DateTimeField()),
                (
                    "by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "intake",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="records.intake",
                    ),
                ),
                (
                    "orchard",
                    models.ForeignKey(
                        db_index=False,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="forecasts",
                        to="records.orchard",
                    ),
                ),
            ],
            options={
                "indexes": [
                    models.Index(
                        fields=["orchard", "for_on", "made_at", "id"],
                        name="records_for_orchard_4ad097_idx",
                    )
                ],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            ("tmin", None),
                            models.Q(("tmin__gte", -90.0), ("tmin__lte", 60.0)),
                            _connector="OR",
                        ),
                        name="forecast_tmin_possible",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("tmax", None),
                            models.Q(("tmax__gte", -90.0), ("tmax__lte", 60.0)),
                            _connector="OR",
                        ),
                        name="forecast_tmax_possible",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("dew_point", None),
                            models.Q(
                                ("dew_point__gte", -90.0), ("dew_point__lte", 60.0)
                            ),
                            _connector="OR",
                        ),
                        name="forecast_dew_point_possible",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("wind", None),
                            models.Q(("wind__gte", 0.0), ("wind__lte", 100.0)),
                            _connector="OR",
                        ),
                        name="forecast_wind_possible",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("cloud", None),
                            models.Q(("cloud__gte", 0.0), ("cloud__lte", 100.0)),
                            _connector="OR",
                        ),
                        name="forecast_cloud_possible",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("rain_mm", None),
                            models.Q(("rain_mm__gte", 0.0), ("rain_mm__lte", 2000.0)),
                            _connector="OR",
                        ),
                        name="forecast_rain_mm_possible",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("tmin", None),
                            ("tmax", None),
                            ("tmin__lte", models.F("tmax")),
                            _connector="OR",
                        ),
                        name="forecast_tmin_below_tmax",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="CarePlan",
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
                ("job", models.CharField(max_length=40)),
                ("active", models.BooleanField(default=True)),
                (
                    "every_days",
                    models.PositiveIntegerField(
                        blank=True, null=True, verbose_name="own interval, days"
                    ),
                ),
                (
                    "window",
                    models.CharField(
                        blank=True, max_length=40, verbose_name="own window"
                    ),
                ),
                (
                    "reason",
                    models.CharField(blank=True, max_length=300, verbose_name="why"),
                ),
                ("set_at", models.DateTimeField()),
                (
                    "set_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "orchard",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="care_plan",
                        to="records.orchard",
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(
                        fields=("orchard", "job"), name="careplan_job_once_per_orchard"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("every_days", None),
                            ("every_days__gte", 1),
                            _connector="OR",
                        ),
                        name="careplan_interval_positive",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="PestStatus",
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
                ("code", models.CharField(max_length=32, verbose_name="EPPO code")),
                ("status", models.CharField(max_length=12, verbose_name="status here")),
                (
                    "source",
                    models.CharField(
                        blank=True, max_length=200, verbose_name="who says so"
                    ),
                ),
                ("set_at", models.DateTimeField()),
                (
                    "orchard",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="pest_statuses",
                        to="records.orchard",
                    ),
                ),
                (
                    "set_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(
                        fields=("orchard", "code"), name="pest_status_once_per_orchard"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("status__in", ["absent", "regulated", "common"])
                        ),
                        name="peststatus_status_known",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Photo",
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
                ("correction_reason", models.CharField(blank=True, max_length=500)),
                ("superseded_at", models.DateTimeField(blank=True, null=True)),
                ("withdrawn_at", models.DateTimeField(blank=True, null=True)),
                ("withdrawn_reason", models.CharField(blank=True, max_length=500)),
                ("name", models.UUIDField(default=uuid.uuid4, unique=True)),
                ("sha256", models.CharField(max_length=64)),
                ("file_format", models.CharField(max_length=8)),
                ("width", models.PositiveIntegerField()),
                ("height", models.PositiveIntegerField()),
                ("size_bytes", models.PositiveIntegerField()),
                ("taken_at", models.DateTimeField(blank=True, null=True)),
                ("received_at", models.DateTimeField()),
                (
                    "caption",
                    models.CharField(
                        blank=True, max_length=300, verbose_name="caption"
                    ),
                ),
                (
                    "people",
                    models.CharField(
                        choices=[
                            ("unknown", "not said"),
                            ("nobody", "nobody in view"),
                            ("somebody", "people in view"),
                        ],
                        default="unknown",
                        max_length=10,
                        verbose_name="people",
                    ),
                ),
                ("confirmed_sign", models.CharField(blank=True, max_length=40)),
                ("private", models.BooleanField(default=False)),
                (
                    "by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "corrects",
                    models.OneToOneField(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="corrected_by",
                        to="records.photo",
                    ),
                ),
                (
                    "orchard",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="records.orchard",
                    ),
                ),
                (
                    "withdrawn_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "indexes": [
                    models.Index(
                        condition=models.Q(
                            ("superseded_at", None), ("withdrawn_at", None)
                        ),
                        fields=["orchard", "received_at", "id"],
                        name="photo_current",
                    ),
                    models.Index(
                        condition=models.Q(("confirmed_sign", ""), _negated=True),
                        fields=["orchard", "confirmed_sign", "-id"],
                        name="photo_confirmed",
                    ),
                ],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            ("corrects", None),
                            models.Q(("correction_reason", ""), _negated=True),
                            _connector="OR",
                        ),
                        name="photo_correction_explained",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("withdrawn_at", None),
                                ("withdrawn_by", None),
                                ("withdrawn_reason", ""),
                            ),
                            models.Q(
                                ("withdrawn_at__isnull", False),
                                ("withdrawn_by__isnull", False),
                                models.Q(("withdrawn_reason", ""), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="photo_withdrawal_whole",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("people__in", ["unknown", "nobody", "somebody"])
                        ),
                        name="photo_people_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("file_format__in", ["JPEG", "PNG", "WEBP", "HEIC"])
                        ),
                        name="photo_file_format_known",
                    ),
                    models.UniqueConstraint(
                        condition=models.Q(
                            ("superseded_at", None), ("withdrawn_at", None)
                        ),
                        fields=("orchard", "sha256"),
                        name="photo_content_once_per_orchard",
                    ),
                ],
            },
        ),
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
                (
                    "closure",
                    models.ForeignKey(
                        blank=True,
                        db_index=False,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="records.closure",
                    ),
                ),
                (
                    "finding",
                    models.ForeignKey(
                        blank=True,
                        db_index=False,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="records.finding",
                    ),
                ),
                (
                    "inspection",
                    models.ForeignKey(
                        blank=True,
                        db_index=False,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="records.inspection",
                    ),
                ),
                (
                    "photo",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="links",
                        to="records.photo",
                    ),
                ),
                (
                    "round",
                    models.ForeignKey(
                        blank=True,
                        db_index=False,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="records.round",
                    ),
                ),
                (
                    "tree",
                    models.ForeignKey(
                        blank=True,
                        db_index=False,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="records.tree",
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("closure__isnull", True),
                                ("finding__isnull", True),
                                ("inspection__isnull", True),
                                ("round__isnull", True),
                                ("tree__isnull", False),
                            ),
                            models.Q(
                                ("closure__isnull", True),
                                ("finding__isnull", True),
                                ("inspection__isnull", False),
                                ("round__isnull", True),
                                ("tree__isnull", True),
                            ),
                            models.Q(
                                ("closure__isnull", True),
                                ("finding__isnull", False),
                                ("inspection__isnull", True),
                                ("round__isnull", True),
                                ("tree__isnull", True),
                            ),
                            models.Q(
                                ("closure__isnull", False),
                                ("finding__isnull", True),
                                ("inspection__isnull", True),
                                ("round__isnull", True),
                                ("tree__isnull", True),
                            ),
                            models.Q(
                                ("closure__isnull", True),
                                ("finding__isnull", True),
                                ("inspection__isnull", True),
                                ("round__isnull", False),
                                ("tree__isnull", True),
                            ),
                            _connector="OR",
                        ),
                        name="photolink_exactly_one_subject",
                    ),
                    models.UniqueConstraint(
                        condition=models.Q(("tree__isnull", False)),
                        fields=("tree", "photo"),
                        name="photolink_once_per_tree",
                    ),
                    models.UniqueConstraint(
                        condition=models.Q(("inspection__isnull", False)),
                        fields=("inspection", "photo"),
                        name="photolink_once_per_inspection",
                    ),
                    models.UniqueConstraint(
                        condition=models.Q(("finding__isnull", False)),
                        fields=("finding", "photo"),
                        name="photolink_once_per_finding",
                    ),
                    models.UniqueConstraint(
                        condition=models.Q(("closure__isnull", False)),
                        fields=("closure", "photo"),
                        name="photolink_once_per_closure",
                    ),
                    models.UniqueConstraint(
                        condition=models.Q(("round__isnull", False)),
                        fields=("round", "photo"),
                        name="photolink_once_per_round",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Receipt",
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
                ("key", models.UUIDField(unique=True)),
                ("body_hash", models.CharField(max_length=64)),
                ("kind", models.CharField(max_length=16)),
                ("subject_id", models.BigIntegerField()),
                ("made_at", models.DateTimeField()),
                ("received_at", models.DateTimeField()),
                ("offset_seconds", models.IntegerField(default=0)),
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
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="records.orchard",
                    ),
                ),
            ],
            options={
                "indexes": [
                    models.Index(
                        fields=["by", "received_at"],
                        name="records_rec_by_id_a89e7e_idx",
                    )
                ],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("kind__in", ["inspection", "photo"])),
                        name="receipt_kind_known",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="SecondLook",
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
                ("asked_at", models.DateTimeField()),
                ("reason", models.CharField(blank=True, max_length=500)),
                ("answered_at", models.DateTimeField(blank=True, null=True)),
                (
                    "answer",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("agreed", "It is what was said"),
                            ("other", "It is something else"),
                            ("nothing", "Nothing to see there"),
                            ("unsettled", "Still not clear"),
                        ],
                        max_length=12,
                    ),
                ),
                ("note", models.TextField(blank=True)),
                (
                    "answered_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "finding",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="second_look",
                        to="records.finding",
                    ),
                ),
                (
                    "orchard",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="records.orchard",
                    ),
                ),
            ],
            options={
                "indexes": [
                    models.Index(
                        condition=models.Q(("answered_at", None)),
                        fields=["orchard", "asked_at", "id"],
                        name="secondlook_waiting",
                    )
                ],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            (
                                "answer__in",
                                ["agreed", "other", "nothing", "unsettled", ""],
                            )
                        ),
                        name="secondlook_answer_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("answer", ""),
                                ("answered_at", None),
                                ("answered_by", None),
                            ),
                            models.Q(
                                ("answered_at__isnull", False),
                                ("answered_by__isnull", False),
                                models.Q(("answer", ""), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="secondlook_answer_whole",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="SignInTry",
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
                ("email_hash", models.CharField(max_length=64)),
                ("address", models.GenericIPAddressField(null=True)),
                ("tried_at", models.DateTimeField()),
            ],
            options={
                "indexes": [
                    models.Index(
                        fields=["email_hash", "tried_at"],
                        name="records_sig_email_h_330438_idx",
                    ),
                    models.Index(
                        fields=["address", "tried_at"],
                        name="records_sig_address_3d04c5_idx",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Soil",
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
                    "sort",
                    models.CharField(
                        choices=[("loam", "loam"), ("sand", "sand")],
                        max_length=8,
                        verbose_name="soil",
                    ),
                ),
                (
                    "cover",
                    models.CharField(
                        choices=[
                            ("bare", "bare or mulched"),
                            ("covered", "grass or other plants"),
                        ],
                        max_length=8,
                        verbose_name="under the trees",
                    ),
                ),
                ("set_at", models.DateTimeField()),
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
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="records.orchard",
                    ),
                ),
            ],
            options={
                "indexes": [
                    models.Index(
                        fields=["orchard", "-id"], name="records_soi_orchard_fb1f28_idx"
                    )
                ],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("sort__in", ["loam", "sand"])),
                        name="soil_sort_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("cover__in", ["bare", "covered"])),
                        name="soil_cover_known",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Reading",
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
                ("correction_reason", models.CharField(blank=True, max_length=500)),
                ("superseded_at", models.DateTimeField(blank=True, null=True)),
                ("withdrawn_at", models.DateTimeField(blank=True, null=True)),
                ("withdrawn_reason", models.CharField(blank=True, max_length=500)),
                (
                    "what",
                    models.CharField(
                        choices=[
                            ("now", "as it stands now"),
                            ("lowest", "lowest of the night"),
                            ("highest", "highest of the day"),
                        ],
                        max_length=8,
                        verbose_name="what was read",
                    ),
                ),
                ("at", models.DateTimeField(verbose_name="when")),
                ("on", models.DateField()),
                ("celsius", models.FloatField(verbose_name="temperature")),
                (
                    "dew_point",
                    models.FloatField(blank=True, null=True, verbose_name="dew point"),
                ),
                (
                    "calm_clear",
                    models.BooleanField(
                        blank=True, null=True, verbose_name="still and clear night"
                    ),
                ),
                (
                    "note",
                    models.CharField(blank=True, max_length=500, verbose_name="note"),
                ),
                ("received_at", models.DateTimeField()),
                (
                    "by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "corrects",
                    models.OneToOneField(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="corrected_by",
                        to="records.reading",
                    ),
                ),
                (
                    "orchard",
                    models.ForeignKey(
                        db_index=False,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="readings",
                        to="records.orchard",
                    ),
                ),
                (
                    "withdrawn_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "spot",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="readings",
                        to="records.spot",
                    ),
                ),
            ],
            options={
                "indexes": [
                    models.Index(
                        fields=["orchard", "-on", "-id"],
                        name="records_rea_orchard_786db0_idx",
                    )
                ],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            ("corrects", None),
                            models.Q(("correction_reason", ""), _negated=True),
                            _connector="OR",
                        ),
                        name="reading_correction_explained",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("withdrawn_at", None),
                                ("withdrawn_by", None),
                                ("withdrawn_reason", ""),
                            ),
                            models.Q(
                                ("withdrawn_at__isnull", False),
                                ("withdrawn_by__isnull", False),
                                models.Q(("withdrawn_reason", ""), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="reading_withdrawal_whole",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("what__in", ["now", "lowest", "highest"])),
                        name="reading_what_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("celsius", None),
                            models.Q(("celsius__gte", -90.0), ("celsius__lte", 60.0)),
                            _connector="OR",
                        ),
                        name="reading_celsius_possible",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("dew_point", None),
                            models.Q(
                                ("dew_point__gte", -90.0), ("dew_point__lte", 60.0)
                            ),
                            _connector="OR",
                        ),
                        name="reading_dew_point_possible",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Horizon",
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
                ("correction_reason", models.CharField(blank=True, max_length=500)),
                ("superseded_at", models.DateTimeField(blank=True, null=True)),
                ("withdrawn_at", models.DateTimeField(blank=True, null=True)),
                ("withdrawn_reason", models.CharField(blank=True, max_length=500)),
                ("surveyed_on", models.DateField(verbose_name="surveyed on")),
                ("points", models.JSONField(verbose_name="horizon")),
                (
                    "declination",
                    models.FloatField(
                        default=0.0, verbose_name="compass points east of north by"
                    ),
                ),
                (
                    "how",
                    models.CharField(
                        choices=[
                            ("typed", "read off and typed"),
                            ("tilt", "taken with a phone's own tilt and heading"),
                        ],
                        default="typed",
                        max_length=8,
                    ),
                ),
                (
                    "note",
                    models.CharField(blank=True, max_length=300, verbose_name="note"),
                ),
                ("received_at", models.DateTimeField()),
                (
                    "by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "corrects",
                    models.OneToOneField(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="corrected_by",
                        to="records.horizon",
                    ),
                ),
                (
                    "withdrawn_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
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
                        related_name="+",
                        to="records.orchard",
                    ),
                ),
                (
                    "spot",
                    models.ForeignKey(
                        db_index=False,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="horizons",
                        to="records.spot",
                    ),
                ),
            ],
            options={
                "indexes": [
                    models.Index(
                        fields=["spot", "-surveyed_on", "-id"],
                        name="records_hor_spot_id_f2e3d9_idx",
                    ),
                    models.Index(
                        fields=["orchard", "-surveyed_on", "-id"],
                        name="records_hor_orchard_51594a_idx",
                    ),
                ],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            ("corrects", None),
                            models.Q(("correction_reason", ""), _negated=True),
                            _connector="OR",
                        ),
                        name="horizon_correction_explained",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("withdrawn_at", None),
                                ("withdrawn_by", None),
                                ("withdrawn_reason", ""),
                            ),
                            models.Q(
                                ("withdrawn_at__isnull", False),
                                ("withdrawn_by__isnull", False),
                                models.Q(("withdrawn_reason", ""), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="horizon_withdrawal_whole",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("how__in", ["typed", "tilt"])),
                        name="horizon_how_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("declination__gte", -60), ("declination__lte", 60)
                        ),
                        name="horizon_declination_possible",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Tag",
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
                ("token", models.CharField(max_length=32, unique=True)),
                ("made_at", models.DateTimeField()),
                ("retired_at", models.DateTimeField(blank=True, null=True)),
                ("retired_reason", models.CharField(blank=True, max_length=200)),
                (
                    "tree",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="tags",
                        to="records.tree",
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("retired_at", None)),
                        fields=("tree",),
                        name="tag_one_valid_per_tree",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="Stay",
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
                ("since_on", models.DateField(blank=True, null=True)),
                ("until_on", models.DateField(blank=True, null=True)),
                ("ended", models.BooleanField(default=False)),
                ("reason", models.CharField(blank=True, max_length=300)),
                (
                    "spot",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="stays",
                        to="records.spot",
                    ),
                ),
                (
                    "tree",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="stays",
                        to="records.tree",
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("ended", False)),
                        fields=("tree",),
                        name="stay_one_spot_at_a_time",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("since_on", None),
                            ("until_on", None),
                            ("until_on__gte", models.F("since_on")),
                            _connector="OR",
                        ),
                        name="stay_ends_after_start",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("ended", True), ("until_on", None), _connector="OR"
                        ),
                        name="stay_end_only_when_ended",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="StageNote",
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
                ("correction_reason", models.CharField(blank=True, max_length=500)),
                ("superseded_at", models.DateTimeField(blank=True, null=True)),
                ("withdrawn_at", models.DateTimeField(blank=True, null=True)),
                ("withdrawn_reason", models.CharField(blank=True, max_length=500)),
                ("group", models.CharField(blank=True, max_length=60)),
                (
                    "bbch",
                    models.PositiveSmallIntegerField(
                        verbose_name="growth stage (BBCH)"
                    ),
                ),
                ("seen_on", models.DateField(verbose_name="seen on")),
                ("received_at", models.DateTimeField()),
                (
                    "by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "corrects",
                    models.OneToOneField(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="corrected_by",
                        to="records.stagenote",
                    ),
                ),
                (
                    "orchard",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="records.orchard",
                    ),
                ),
                (
                    "withdrawn_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "tree",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="stage_notes",
                        to="records.tree",
                    ),
                ),
            ],
            options={
                "indexes": [
                    models.Index(
                        fields=["orchard", "-seen_on", "-id"],
                        name="records_sta_orchard_e8d638_idx",
                    )
                ],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            ("corrects", None),
                            models.Q(("correction_reason", ""), _negated=True),
                            _connector="OR",
                        ),
                        name="stagenote_correction_explained",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("withdrawn_at", None),
                                ("withdrawn_by", None),
                                ("withdrawn_reason", ""),
                            ),
                            models.Q(
                                ("withdrawn_at__isnull", False),
                                ("withdrawn_by__isnull", False),
                                models.Q(("withdrawn_reason", ""), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="stagenote_withdrawal_whole",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("bbch__lte", 99)),
                        name="stagenote_bbch_two_digits",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("group", ""), ("tree__isnull", False)),
                            models.Q(
                                ("tree", None), models.Q(("group", ""), _negated=True)
                            ),
                            _connector="OR",
                        ),
                        name="stagenote_tree_or_group",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="RoundStop",
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
                ("position", models.PositiveIntegerField()),
                (
                    "round",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="stops",
                        to="records.round",
                    ),
                ),
                (
                    "tree",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="records.tree",
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(
                        fields=("round", "tree"), name="roundstop_tree_once_per_round"
                    ),
                    models.UniqueConstraint(
                        fields=("round", "position"),
                        name="roundstop_position_once_per_round",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="RipenessTest",
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
                ("correction_reason", models.CharField(blank=True, max_length=500)),
                ("superseded_at", models.DateTimeField(blank=True, null=True)),
                ("withdrawn_at", models.DateTimeField(blank=True, null=True)),
                ("withdrawn_reason", models.CharField(blank=True, max_length=500)),
                ("tested_on", models.DateField(verbose_name="tested on")),
                (
                    "fruits",
                    models.PositiveSmallIntegerField(verbose_name="fruit tested"),
                ),
                (
                    "brix_read",
                    models.FloatField(
                        blank=True, null=True, verbose_name="soluble solids as read"
                    ),
                ),
                (
                    "juice_c",
                    models.FloatField(
                        blank=True, null=True, verbose_name="temperature of the juice"
                    ),
                ),
                (
                    "acid_percent",
                    models.FloatField(blank=True, null=True, verbose_name="acid"),
                ),
                (
                    "titrant_ml",
                    models.FloatField(
                        blank=True, null=True, verbose_name="hydroxide used"
                    ),
                ),
                (
                    "normality",
                    models.FloatField(
                        blank=True, null=True, verbose_name="strength of it"
                    ),
                ),
                (
                    "sample_ml",
                    models.FloatField(
                        blank=True, null=True, verbose_name="juice titrated"
                    ),
                ),
                (
                    "juice_percent",
                    models.FloatField(blank=True, null=True, verbose_name="juice"),
                ),
                (
                    "fruit_g",
                    models.FloatField(
                        blank=True, null=True, verbose_name="mass of the fruit"
                    ),
                ),
                (
                    "juice_g",
                    models.FloatField(
                        blank=True, null=True, verbose_name="mass of the juice"
                    ),
                ),
                (
                    "taste",
                    models.PositiveSmallIntegerField(
                        blank=True,
                        choices=[
                            (1, "sour or bitter"),
                            (2, "without taste"),
                            (3, "fair, not yet full"),
                            (4, "good"),
                            (5, "as good as it gets"),
                        ],
                        null=True,
                        verbose_name="taste",
                    ),
                ),
                (
                    "note",
                    models.CharField(blank=True, max_length=300, verbose_name="note"),
                ),
                ("received_at", models.DateTimeField()),
                (
                    "by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "corrects",
                    models.OneToOneField(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="corrected_by",
                        to="records.ripenesstest",
                    ),
                ),
                (
                    "orchard",
                    models.ForeignKey(
                        db_index=False,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="records.orchard",
                    ),
                ),
                (
                    "withdrawn_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "tree",
                    models.ForeignKey(
                        db_index=False,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="ripeness_tests",
                        to="records.tree",
                    ),
                ),
            ],
            options={
                "indexes": [
                    models.Index(
                        fields=["tree", "-tested_on", "-id"],
                        name="records_rip_tree_id_431d6c_idx",
                    ),
                    models.Index(
                        fields=["orchard", "-tested_on", "-id"],
                        name="records_rip_orchard_ca0d54_idx",
                    ),
                ],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            ("corrects", None),
                            models.Q(("correction_reason", ""), _negated=True),
                            _connector="OR",
                        ),
                        name="ripenesstest_correction_explained",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("withdrawn_at", None),
                                ("withdrawn_by", None),
                                ("withdrawn_reason", ""),
                            ),
                            models.Q(
                                ("withdrawn_at__isnull", False),
                                ("withdrawn_by__isnull", False),
                                models.Q(("withdrawn_reason", ""), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="ripenesstest_withdrawal_whole",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("fruits__gte", 1), ("fruits__lte", 200)),
                        name="ripeness_fruits_possible",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("taste", None),
                            models.Q(("taste__gte", 1), ("taste__lte", 5)),
                            _connector="OR",
                        ),
                        name="ripeness_taste_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("brix_read__isnull", False),
                            ("acid_percent__isnull", False),
                            ("titrant_ml__isnull", False),
                            ("juice_percent__isnull", False),
                            ("juice_g__isnull", False),
                            ("taste__isnull", False),
                            _connector="OR",
                        ),
                        name="ripeness_says_something",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Happening",
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
                ("correction_reason", models.CharField(blank=True, max_length=500)),
                ("superseded_at", models.DateTimeField(blank=True, null=True)),
                ("withdrawn_at", models.DateTimeField(blank=True, null=True)),
                ("withdrawn_reason", models.CharField(blank=True, max_length=500)),
                (
                    "what",
                    models.CharField(
                        choices=[
                            ("potted", "repotted"),
                            ("staked", "staked"),
                            ("bark_bared", "bark laid bare"),
                            ("frost_night", "frost night"),
                            ("hard_frost", "hard frost (-2 °C or less for 4 hours)"),
                            (
                                "severe_frost",
                                "severe frost (-4 °C or less for 5 hours)",
                            ),
                            ("heavy_rain", "heavy rain (25 mm or more in a day)"),
                            ("covered", "covered against frost"),
                            ("application", "product applied"),
                            ("harvested", "harvest finished"),
                            ("other", "something else"),
                        ],
                        max_length=16,
                    ),
                ),
                ("happened_on", models.DateField(verbose_name="on")),
                (
                    "note",
                    models.CharField(blank=True, max_length=500, verbose_name="note"),
                ),
                ("received_at", models.DateTimeField()),
                (
                    "by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "corrects",
                    models.OneToOneField(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="corrected_by",
                        to="records.happening",
                    ),
                ),
                (
                    "withdrawn_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "orchard",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="records.orchard",
                    ),
                ),
                (
                    "tree",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="happenings",
                        to="records.tree",
                    ),
                ),
            ],
            options={
                "indexes": [
                    models.Index(
                        fields=["tree", "-happened_on", "-id"],
                        name="records_hap_tree_id_402916_idx",
                    ),
                    models.Index(
                        fields=["orchard", "what", "-happened_on"],
                        name="records_hap_orchard_516453_idx",
                    ),
                ],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            ("corrects", None),
                            models.Q(("correction_reason", ""), _negated=True),
                            _connector="OR",
                        ),
                        name="happening_correction_explained",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("withdrawn_at", None),
                                ("withdrawn_by", None),
                                ("withdrawn_reason", ""),
                            ),
                            models.Q(
                                ("withdrawn_at__isnull", False),
                                ("withdrawn_by__isnull", False),
                                models.Q(("withdrawn_reason", ""), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="happening_withdrawal_whole",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            (
                                "what__in",
                                [
                                    "potted",
                                    "staked",
                                    "bark_bared",
                                    "frost_night",
                                    "hard_frost",
                                    "severe_frost",
                                    "heavy_rain",
                                    "covered",
                                    "application",
                                    "harvested",
                                    "other",
                                ],
                            )
                        ),
                        name="happening_what_known",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Crown",
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
                ("correction_reason", models.CharField(blank=True, max_length=500)),
                ("superseded_at", models.DateTimeField(blank=True, null=True)),
                ("withdrawn_at", models.DateTimeField(blank=True, null=True)),
                ("withdrawn_reason", models.CharField(blank=True, max_length=500)),
                ("measured_on", models.DateField(verbose_name="measured on")),
                ("width_m", models.FloatField(verbose_name="width of the crown")),
                (
                    "height_m",
                    models.FloatField(blank=True, null=True, verbose_name="height"),
                ),
                ("received_at", models.DateTimeField()),
                (
                    "by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "corrects",
                    models.OneToOneField(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="corrected_by",
                        to="records.crown",
                    ),
                ),
                (
                    "withdrawn_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
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
                        related_name="+",
                        to="records.orchard",
                    ),
                ),
                (
                    "tree",
                    models.ForeignKey(
                        db_index=False,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="crowns",
                        to="records.tree",
                    ),
                ),
            ],
            options={
                "indexes": [
                    models.Index(
                        fields=["tree", "-measured_on", "-id"],
                        name="records_cro_tree_id_f7423b_idx",
                    ),
                    models.Index(
                        fields=["orchard", "-measured_on", "-id"],
                        name="records_cro_orchard_45b79c_idx",
                    ),
                ],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            ("corrects", None),
                            models.Q(("correction_reason", ""), _negated=True),
                            _connector="OR",
                        ),
                        name="crown_correction_explained",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("withdrawn_at", None),
                                ("withdrawn_by", None),
                                ("withdrawn_reason", ""),
                            ),
                            models.Q(
                                ("withdrawn_at__isnull", False),
                                ("withdrawn_by__isnull", False),
                                models.Q(("withdrawn_reason", ""), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="crown_withdrawal_whole",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("width_m__gt", 0), ("width_m__lte", 20)),
                        name="crown_width_possible",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("height_m", None),
                            models.Q(("height_m__gt", 0), ("height_m__lte", 30)),
                            _connector="OR",
                        ),
                        name="crown_height_possible",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Change",
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
                ("at", models.DateTimeField()),
                ("by_name", models.CharField(max_length=120)),
                ("verb", models.CharField(max_length=40)),
                ("subject_type", models.CharField(max_length=40)),
                ("subject_id", models.BigIntegerField()),
                ("subject_label", models.CharField(max_length=200)),
                ("before", models.JSONField(null=True)),
                ("after", models.JSONField(null=True)),
                ("reason", models.CharField(blank=True, max_length=500)),
                ("private", models.BooleanField(default=False)),
                (
                    "by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "orchard",
                    models.ForeignKey(
                        db_index=False,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="records.orchard",
                    ),
                ),
                (
                    "tree",
                    models.ForeignKey(
                        db_index=False,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="records.tree",
                    ),
                ),
            ],
            options={
                "indexes": [
                    models.Index(
                        fields=["orchard", "-id"], name="records_cha_orchard_1b07ca_idx"
                    ),
                    models.Index(
                        fields=["subject_type", "subject_id", "-id"],
                        name="records_cha_subject_b2c8af_idx",
                    ),
                    models.Index(
                        fields=["tree", "-id"], name="records_cha_tree_id_b05292_idx"
                    ),
                    models.Index(
                        fields=["orchard", "by", "-id"], name="change_by_person"
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Case",
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
                ("sign", models.CharField(max_length=40)),
                ("opened_at", models.DateTimeField()),
                ("closed_at", models.DateTimeField(blank=True, null=True)),
                ("outcome", models.CharField(blank=True, max_length=500)),
                (
                    "closed_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "opened_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "finding",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="cases",
                        to="records.finding",
                    ),
                ),
                (
                    "orchard",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="cases",
                        to="records.orchard",
                    ),
                ),
                (
                    "tree",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="cases",
                        to="records.tree",
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("closed_at", None)),
                        fields=("tree", "sign"),
                        name="case_one_open_per_tree_and_sign",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("closed_at", None),
                                ("closed_by", None),
                                ("outcome", ""),
                            ),
                            models.Q(
                                ("closed_at__isnull", False),
                                ("closed_by__isnull", False),
                                models.Q(("outcome", ""), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="case_close_whole",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Watering",
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
                ("correction_reason", models.CharField(blank=True, max_length=500)),
                ("superseded_at", models.DateTimeField(blank=True, null=True)),
                ("withdrawn_at", models.DateTimeField(blank=True, null=True)),
                ("withdrawn_reason", models.CharField(blank=True, max_length=500)),
                ("given_on", models.DateField(verbose_name="watered on")),
                ("litres", models.FloatField(verbose_name="water given")),
                (
                    "note",
                    models.CharField(blank=True, max_length=300, verbose_name="note"),
                ),
                ("received_at", models.DateTimeField()),
                (
                    "by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "corrects",
                    models.OneToOneField(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="corrected_by",
                        to="records.watering",
                    ),
                ),
                (
                    "orchard",
                    models.ForeignKey(
                        db_index=False,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="records.orchard",
                    ),
                ),
                (
                    "tree",
                    models.ForeignKey(
                        db_index=False,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="waterings",
                        to="records.tree",
                    ),
                ),
                (
                    "withdrawn_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "indexes": [
                    models.Index(
                        fields=["tree", "-given_on", "-id"],
                        name="records_wat_tree_id_cafc15_idx",
                    ),
                    models.Index(
                        fields=["orchard", "-given_on", "-id"],
                        name="records_wat_orchard_60a06e_idx",
                    ),
                ],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            ("corrects", None),
                            models.Q(("correction_reason", ""), _negated=True),
                            _connector="OR",
                        ),
                        name="watering_correction_explained",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("withdrawn_at", None),
                                ("withdrawn_by", None),
                                ("withdrawn_reason", ""),
                            ),
                            models.Q(
                                ("withdrawn_at__isnull", False),
                                ("withdrawn_by__isnull", False),
                                models.Q(("withdrawn_reason", ""), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="watering_withdrawal_whole",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("litres__gt", 0), ("litres__lte", 5000)),
                        name="watering_litres_possible",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="WeatherDay",
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
                ("correction_reason", models.CharField(blank=True, max_length=500)),
                ("superseded_at", models.DateTimeField(blank=True, null=True)),
                ("withdrawn_at", models.DateTimeField(blank=True, null=True)),
                ("withdrawn_reason", models.CharField(blank=True, max_length=500)),
                ("on", models.DateField(verbose_name="day")),
                (
                    "tmin",
                    models.FloatField(blank=True, null=True, verbose_name="lowest, °C"),
                ),
                (
                    "tmax",
                    models.FloatField(
                        blank=True, null=True, verbose_name="highest, °C"
                    ),
                ),
                (
                    "tmean",
                    models.FloatField(blank=True, null=True, verbose_name="mean, °C"),
                ),
                (
                    "rain_mm",
                    models.FloatField(blank=True, null=True, verbose_name="rain, mm"),
                ),
                (
                    "rh_mean",
                    models.FloatField(
                        blank=True, null=True, verbose_name="mean humidity, %"
                    ),
                ),
                (
                    "rh_min",
                    models.FloatField(
                        blank=True, null=True, verbose_name="lowest humidity, %"
                    ),
                ),
                (
                    "rh_max",
                    models.FloatField(
                        blank=True, null=True, verbose_name="highest humidity, %"
                    ),
                ),
                (
                    "dew_point",
                    models.FloatField(
                        blank=True, null=True, verbose_name="dew point, °C"
                    ),
                ),
                (
                    "wind_2m",
                    models.FloatField(
                        blank=True, null=True, verbose_name="wind at 2 m, m/s"
                    ),
                ),
                (
                    "sunshine_hours",
                    models.FloatField(
                        blank=True, null=True, verbose_name="sunshine, h"
                    ),
                ),
                (
                    "solar",
                    models.FloatField(
                        blank=True, null=True, verbose_name="sunlight, MJ/m²"
                    ),
                ),
                ("row_number", models.PositiveIntegerField(blank=True, null=True)),
                ("written", models.JSONField(blank=True, default=dict)),
                ("flags", models.JSONField(blank=True, default=dict)),
                ("received_at", models.DateTimeField()),
                (
                    "by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "corrects",
                    models.OneToOneField(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="corrected_by",
                        to="records.weatherday",
                    ),
                ),
                (
                    "intake",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="rows",
                        to="records.intake",
                    ),
                ),
                (
                    "station",
                    models.ForeignKey(
                        db_index=False,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="days",
                        to="records.station",
                    ),
                ),
                (
                    "withdrawn_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "indexes": [
                    models.Index(
                        fields=["station", "on", "-id"],
                        name="records_wea_station_493791_idx",
                    )
                ],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            ("corrects", None),
                            models.Q(("correction_reason", ""), _negated=True),
                            _connector="OR",
                        ),
                        name="weatherday_correction_explained",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("withdrawn_at", None),
                                ("withdrawn_by", None),
                                ("withdrawn_reason", ""),
                            ),
                            models.Q(
                                ("withdrawn_at__isnull", False),
                                ("withdrawn_by__isnull", False),
                                models.Q(("withdrawn_reason", ""), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="weatherday_withdrawal_whole",
                    ),
                    models.UniqueConstraint(
                        condition=models.Q(
                            ("superseded_at", None), ("withdrawn_at", None)
                        ),
                        fields=("station", "on"),
                        name="weatherday_once_per_station",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("tmin", None),
                            models.Q(("tmin__gte", -90.0), ("tmin__lte", 60.0)),
                            _connector="OR",
                        ),
                        name="weatherday_tmin_possible",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("tmax", None),
                            models.Q(("tmax__gte", -90.0), ("tmax__lte", 60.0)),
                            _connector="OR",
                        ),
                        name="weatherday_tmax_possible",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("tmean", None),
                            models.Q(("tmean__gte", -90.0), ("tmean__lte", 60.0)),
                            _connector="OR",
                        ),
                        name="weatherday_tmean_possible",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("dew_point", None),
                            models.Q(
                                ("dew_point__gte", -90.0), ("dew_point__lte", 60.0)
                            ),
                            _connector="OR",
                        ),
                        name="weatherday_dew_point_possible",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("rh_mean", None),
                            models.Q(("rh_mean__gte", 0.0), ("rh_mean__lte", 100.0)),
                            _connector="OR",
                        ),
                        name="weatherday_rh_mean_possible",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("rh_min", None),
                            models.Q(("rh_min__gte", 0.0), ("rh_min__lte", 100.0)),
                            _connector="OR",
                        ),
                        name="weatherday_rh_min_possible",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("rh_max", None),
                            models.Q(("rh_max__gte", 0.0), ("rh_max__lte", 100.0)),
                            _connector="OR",
                        ),
                        name="weatherday_rh_max_possible",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("rain_mm", None),
                            models.Q(("rain_mm__gte", 0.0), ("rain_mm__lte", 2000.0)),
                            _connector="OR",
                        ),
                        name="weatherday_rain_mm_possible",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("wind_2m", None),
                            models.Q(("wind_2m__gte", 0.0), ("wind_2m__lte", 100.0)),
                            _connector="OR",
                        ),
                        name="weatherday_wind_2m_possible",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("sunshine_hours", None),
                            models.Q(
                                ("sunshine_hours__gte", 0.0),
                                ("sunshine_hours__lte", 24.0),
                            ),
                            _connector="OR",
                        ),
                        name="weatherday_sunshine_hours_possible",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("solar", None),
                            models.Q(("solar__gte", 0.0), ("solar__lte", 50.0)),
                            _connector="OR",
                        ),
                        name="weatherday_solar_possible",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("tmin", None),
                            ("tmax", None),
                            ("tmin__lte", models.F("tmax")),
                            _connector="OR",
                        ),
                        name="weatherday_tmin_below_tmax",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("rh_min", None),
                            ("rh_max", None),
                            ("rh_min__lte", models.F("rh_max")),
                            _connector="OR",
                        ),
                        name="weatherday_rh_min_below_rh_max",
                    ),
                ],
            },
        ),
        migrations.AddField(
            model_name="photo",
            name="closures",
            field=models.ManyToManyField(
                related_name="photos", through="records.PhotoLink", to="records.closure"
            ),
        ),
        migrations.AddField(
            model_name="photo",
            name="findings",
            field=models.ManyToManyField(
                related_name="photos", through="records.PhotoLink", to="records.finding"
            ),
        ),
        migrations.AddField(
            model_name="photo",
            name="inspections",
            field=models.ManyToManyField(
                related_name="photos",
                through="records.PhotoLink",
                to="records.inspection",
            ),
        ),
        migrations.AddField(
            model_name="photo",
            name="rounds",
            field=models.ManyToManyField(
                related_name="photos", through="records.PhotoLink", to="records.round"
            ),
        ),
        migrations.AddField(
            model_name="photo",
            name="trees",
            field=models.ManyToManyField(
                related_name="photos", through="records.PhotoLink", to="records.tree"
            ),
        ),
    ]
