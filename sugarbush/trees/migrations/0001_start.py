import uuid

import django.db.models.deletion
import django.utils.timezone
import simple_history.models
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    initial = True

    dependencies = [
        ("volunteers", "0001_start"),
        ("volunteers", "0001_start"),
    ]

    operations = [
        migrations.CreateModel(
            name="Species",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("botanical", models.CharField(max_length=80, unique=True, verbose_name="botanical name")),
                ("common", models.CharField(max_length=80, verbose_name="common name")),
                ("code", models.CharField(blank=True, max_length=12)),
                ("tappable", models.BooleanField(default=False, verbose_name="may be tapped here")),
                ("look_alike", models.CharField(blank=True, max_length=200, verbose_name="what it is mistaken for")),
            ],
            options={
                "verbose_name": "species",
                "ordering": ("common",),
            },
        ),
        migrations.CreateModel(
            name="ImportRun",
            fields=[
                ("id", models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                (
                    "kind",
                    models.CharField(
                        choices=[("trees", "trees"), ("streets", "streets")], default="trees", max_length=8
                    ),
                ),
                ("source", models.CharField(blank=True, max_length=60, verbose_name="name of the list")),
                ("file_name", models.CharField(max_length=200)),
                ("path", models.CharField(max_length=400)),
                ("sha256", models.CharField(max_length=64)),
                ("size_bytes", models.BigIntegerField(default=0)),
                ("mapping", models.JSONField(default=dict)),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("uploaded", "columns to be matched"),
                            ("waiting", "waiting for its turn"),
                            ("running", "being read"),
                            ("done", "done"),
                            ("stopped", "stopped"),
                        ],
                        default="uploaded",
                        max_length=8,
                    ),
                ),
                ("rows_read", models.PositiveIntegerField(default=0)),
                ("bytes_read", models.BigIntegerField(default=0)),
                ("taken", models.PositiveIntegerField(default=0)),
                ("changed", models.PositiveIntegerField(default=0)),
                ("same", models.PositiveIntegerField(default=0)),
                ("refused", models.PositiveIntegerField(default=0)),
                ("report", models.JSONField(default=dict)),
                ("added_at", models.DateTimeField(default=django.utils.timezone.now)),
                ("started_at", models.DateTimeField(null=True)),
                ("finished_at", models.DateTimeField(null=True)),
                (
                    "started_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "ordering": ("-added_at",),
            },
        ),
        migrations.CreateModel(
            name="StreetLine",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("name", models.CharField(blank=True, max_length=120)),
                ("kind", models.CharField(default="street", max_length=40)),
                ("points", models.JSONField()),
                ("west", models.FloatField()),
                ("south", models.FloatField()),
                ("east", models.FloatField()),
                ("north", models.FloatField()),
                ("digest", models.CharField(max_length=64, unique=True)),
            ],
            options={
                "ordering": ("pk",),
                "indexes": [models.Index(fields=["west", "east", "south", "north"], name="street_box")],
            },
        ),
        migrations.CreateModel(
            name="Tree",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("uuid", models.UUIDField(default=None, editable=False, null=True, unique=True)),
                ("code", models.CharField(max_length=16, unique=True, verbose_name="tag")),
                ("longitude", models.FloatField(verbose_name="longitude")),
                ("latitude", models.FloatField(verbose_name="latitude")),
                ("t17", models.BigIntegerField(editable=False)),
                ("address", models.CharField(blank=True, max_length=200, verbose_name="address")),
                ("side", models.CharField(blank=True, max_length=40, verbose_name="side of the street")),
                ("nth", models.PositiveSmallIntegerField(blank=True, null=True, verbose_name="which tree there")),
                (
                    "species_sure",
                    models.CharField(
                        choices=[("unconfirmed", "not sure yet"), ("confirmed", "sure"), ("disputed", "in dispute")],
                        default="unconfirmed",
                        max_length=12,
                    ),
                ),
                ("stems", models.PositiveSmallIntegerField(default=1, verbose_name="stems")),
                ("diameter_um", models.PositiveIntegerField(blank=True, null=True, verbose_name="trunk across")),
                ("size_as_given", models.CharField(blank=True, max_length=60)),
                (
                    "land",
                    models.CharField(
                        choices=[
                            ("private", "private"),
                            ("public", "public"),
                            ("shared", "shared by several owners"),
                            ("unknown", "nobody knows yet"),
                        ],
                        default="unknown",
                        max_length=8,
                        verbose_name="whose land",
                    ),
                ),
                ("inventory_source", models.CharField(blank=True, max_length=60)),
                (
                    "inventory_number",
                    models.CharField(blank=True, max_length=64, verbose_name="number in the town’s list"),
                ),
                ("inventory_diameter_um", models.PositiveIntegerField(blank=True, null=True)),
                ("inventory_note", models.TextField(blank=True, verbose_name="note in the town’s list")),
                (
                    "inventory_surveyed",
                    models.DateField(blank=True, null=True, verbose_name="day of the town’s survey"),
                ),
                ("inventory_digest", models.BigIntegerField(editable=False, null=True)),
                ("access_note", models.CharField(blank=True, max_length=200, verbose_name="how to get to it")),
                (
                    "life",
                    models.CharField(
                        choices=[
                            ("listed", "in the town’s list only"),
                            ("candidate", "in the programme’s sights"),
                            ("resting", "resting"),
                            ("excluded", "not for tapping"),
                            ("felled", "felled"),
                        ],
                        default="listed",
                        max_length=10,
                    ),
                ),
                ("life_reason", models.CharField(blank=True, max_length=200)),
                (
                    "shown_state",
                    models.PositiveSmallIntegerField(
                        choices=[
                            (0, "Listed"),
                            (1, "Considered"),
                            (2, "Asked"),
                            (3, "Allowed"),
                            (4, "Ready"),
                            (5, "Tapped"),
                            (6, "To pull"),
                            (7, "Resting"),
                            (8, "Not for tapping"),
                            (9, "Felled"),
                        ],
                        default=0,
                        editable=False,
                    ),
                ),
                ("shown_until", models.DateField(editable=False, null=True)),
                ("needs_look", models.BooleanField(default=False, editable=False)),
                ("edition", models.PositiveIntegerField(default=1, editable=False)),
                ("added_at", models.DateTimeField(default=django.utils.timezone.now, editable=False)),
                (
                    "group",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="trees",
                        to="volunteers.group",
                    ),
                ),
                (
                    "inventory_species",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="trees.species",
                    ),
                ),
                (
                    "merged_into",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="aliases",
                        to="trees.tree",
                    ),
                ),
                (
                    "species",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="trees",
                        to="trees.species",
                    ),
                ),
            ],
            options={
                "verbose_name": "tree",
                "ordering": ("pk",),
                "indexes": [
                    models.Index(
                        fields=[
                            "t17",
                            "longitude",
                            "latitude",
                            "species",
                            "diameter_um",
                            "shown_state",
                            "needs_look",
                            "group",
                            "merged_into",
                        ],
                        name="tree_map",
                    ),
                    models.Index(fields=["group", "shown_state"], name="tree_group_state"),
                    models.Index(fields=["shown_state", "id"], name="tree_state"),
                    models.Index(
                        condition=models.Q(("shown_until__isnull", False)), fields=["shown_until"], name="tree_lapses"
                    ),
                    models.Index(fields=["address", "id"], name="tree_address"),
                    models.Index(
                        condition=models.Q(("inventory_number", ""), _negated=True),
                        fields=["inventory_number"],
                        name="tree_number",
                    ),
                ],
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("inventory_number", ""), _negated=True),
                        fields=("inventory_source", "inventory_number"),
                        name="one_tree_a_number",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("latitude__gte", -90),
                            ("latitude__lte", 90),
                            ("longitude__gte", -180),
                            ("longitude__lte", 180),
                        ),
                        name="tree_on_the_globe",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("diameter_um", None), ("diameter_um__gt", 0), _connector="OR"),
                        name="trunk_has_width",
                    ),
                    models.CheckConstraint(condition=models.Q(("stems__gte", 1)), name="tree_has_a_stem"),
                ],
            },
        ),
        migrations.CreateModel(
            name="Treatment",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("uuid", models.UUIDField(editable=False, null=True, unique=True)),
                (
                    "answer",
                    models.CharField(
                        choices=[("no", "No"), ("yes", "Yes"), ("unknown", "Nobody knows")],
                        max_length=8,
                        verbose_name="treated with insecticide inside the tree?",
                    ),
                ),
                ("said_by", models.CharField(max_length=120, verbose_name="who said so")),
                ("date", models.DateField(verbose_name="day")),
                ("note", models.CharField(blank=True, max_length=400, verbose_name="note")),
                ("cleared_at", models.DateTimeField(null=True)),
                ("cleared_reason", models.TextField(blank=True)),
                (
                    "cleared_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "recorded_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "tree",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="treatments", to="trees.tree"
                    ),
                ),
            ],
            options={
                "ordering": ("-date", "-pk"),
                "indexes": [models.Index(fields=["tree", "-date"], name="treatment_by_tree")],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("cleared_at", None), ("cleared_by", None)),
                            models.Q(models.Q(("cleared_reason", ""), _negated=True), ("cleared_by__isnull", False)),
                            _connector="OR",
                        ),
                        name="clearing_has_author_and_reason",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="SaidApart",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("at", models.DateTimeField(default=django.utils.timezone.now)),
                (
                    "by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "first",
                    models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name="+", to="trees.tree"),
                ),
                (
                    "second",
                    models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name="+", to="trees.tree"),
                ),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(fields=("first", "second"), name="said_apart_once"),
                    models.CheckConstraint(
                        condition=models.Q(("first__lt", models.F("second"))), name="said_apart_in_order"
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="HistoricalTree",
            fields=[
                ("id", models.BigIntegerField(auto_created=True, blank=True, db_index=True, verbose_name="ID")),
                ("uuid", models.UUIDField(db_index=True, default=None, editable=False, null=True)),
                ("code", models.CharField(db_index=True, max_length=16, verbose_name="tag")),
                ("longitude", models.FloatField(verbose_name="longitude")),
                ("latitude", models.FloatField(verbose_name="latitude")),
                ("address", models.CharField(blank=True, max_length=200, verbose_name="address")),
                ("side", models.CharField(blank=True, max_length=40, verbose_name="side of the street")),
                ("nth", models.PositiveSmallIntegerField(blank=True, null=True, verbose_name="which tree there")),
                (
                    "species_sure",
                    models.CharField(
                        choices=[("unconfirmed", "not sure yet"), ("confirmed", "sure"), ("disputed", "in dispute")],
                        default="unconfirmed",
                        max_length=12,
                    ),
                ),
                ("stems", models.PositiveSmallIntegerField(default=1, verbose_name="stems")),
                ("diameter_um", models.PositiveIntegerField(blank=True, null=True, verbose_name="trunk across")),
                ("size_as_given", models.CharField(blank=True, max_length=60)),
                (
                    "land",
                    models.CharField(
                        choices=[
                            ("private", "private"),
                            ("public", "public"),
                            ("shared", "shared by several owners"),
                            ("unknown", "nobody knows yet"),
                        ],
                        default="unknown",
                        max_length=8,
                        verbose_name="whose land",
                    ),
                ),
                ("inventory_source", models.CharField(blank=True, max_length=60)),
                (
                    "inventory_number",
                    models.CharField(blank=True, max_length=64, verbose_name="number in the town’s list"),
                ),
                ("inventory_diameter_um", models.PositiveIntegerField(blank=True, null=True)),
                ("inventory_note", models.TextField(blank=True, verbose_name="note in the town’s list")),
                (
                    "inventory_surveyed",
                    models.DateField(blank=True, null=True, verbose_name="day of the town’s survey"),
                ),
                ("access_note", models.CharField(blank=True, max_length=200, verbose_name="how to get to it")),
                (
                    "life",
                    models.CharField(
                        choices=[
                            ("listed", "in the town’s list only"),
                            ("candidate", "in the programme’s sights"),
                            ("resting", "resting"),
                            ("excluded", "not for tapping"),
                            ("felled", "felled"),
                        ],
                        default="listed",
                        max_length=10,
                    ),
                ),
                ("life_reason", models.CharField(blank=True, max_length=200)),
                ("added_at", models.DateTimeField(default=django.utils.timezone.now, editable=False)),
                ("history_id", models.AutoField(primary_key=True, serialize=False)),
                ("history_date", models.DateTimeField(db_index=True)),
                ("history_change_reason", models.CharField(max_length=100, null=True)),
                (
                    "history_type",
                    models.CharField(choices=[("+", "Created"), ("~", "Changed"), ("-", "Deleted")], max_length=1),
                ),
                (
                    "group",
                    models.ForeignKey(
                        blank=True,
                        db_constraint=False,
                        null=True,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        to="volunteers.group",
                    ),
                ),
                (
                    "history_user",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "inventory_species",
                    models.ForeignKey(
                        blank=True,
                        db_constraint=False,
                        null=True,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        to="trees.species",
                    ),
                ),
                (
                    "species",
                    models.ForeignKey(
                        blank=True,
                        db_constraint=False,
                        null=True,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        to="trees.species",
                    ),
                ),
                (
                    "merged_into",
                    models.ForeignKey(
                        blank=True,
                        db_constraint=False,
                        null=True,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        to="trees.tree",
                    ),
                ),
            ],
            options={
                "verbose_name": "historical tree",
                "verbose_name_plural": "historical trees",
                "ordering": ("-history_date", "-history_id"),
                "get_latest_by": ("history_date", "history_id"),
            },
            bases=(simple_history.models.HistoricalChanges, models.Model),
        ),
        migrations.CreateModel(
            name="HistoricalTreatment",
            fields=[
                ("id", models.BigIntegerField(auto_created=True, blank=True, db_index=True, verbose_name="ID")),
                ("uuid", models.UUIDField(db_index=True, editable=False, null=True)),
                (
                    "answer",
                    models.CharField(
                        choices=[("no", "No"), ("yes", "Yes"), ("unknown", "Nobody knows")],
                        max_length=8,
                        verbose_name="treated with insecticide inside the tree?",
                    ),
                ),
                ("said_by", models.CharField(max_length=120, verbose_name="who said so")),
                ("date", models.DateField(verbose_name="day")),
                ("note", models.CharField(blank=True, max_length=400, verbose_name="note")),
                ("cleared_at", models.DateTimeField(null=True)),
                ("cleared_reason", models.TextField(blank=True)),
                ("history_id", models.AutoField(primary_key=True, serialize=False)),
                ("history_date", models.DateTimeField(db_index=True)),
                ("history_change_reason", models.CharField(max_length=100, null=True)),
                (
                    "history_type",
                    models.CharField(choices=[("+", "Created"), ("~", "Changed"), ("-", "Deleted")], max_length=1),
                ),
                (
                    "cleared_by",
                    models.ForeignKey(
                        blank=True,
                        db_constraint=False,
                        null=True,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "history_user",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "recorded_by",
                    models.ForeignKey(
                        blank=True,
                        db_constraint=False,
                        null=True,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "tree",
                    models.ForeignKey(
                        blank=True,
                        db_constraint=False,
                        null=True,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        to="trees.tree",
                    ),
                ),
            ],
            options={
                "verbose_name": "historical treatment",
                "verbose_name_plural": "historical treatments",
                "ordering": ("-history_date", "-history_id"),
                "get_latest_by": ("history_date", "history_id"),
            },
            bases=(simple_history.models.HistoricalChanges, models.Model),
        ),
        migrations.CreateModel(
            name="HistoricalHealthCheck",
            fields=[
                ("id", models.BigIntegerField(auto_created=True, blank=True, db_index=True, verbose_name="ID")),
                ("uuid", models.UUIDField(db_index=True, editable=False, null=True)),
                ("date", models.DateField(verbose_name="day")),
                ("crown_dieback_pct", models.PositiveSmallIntegerField(verbose_name="dead crown")),
                ("large_dead_limbs", models.BooleanField(default=False, verbose_name="large dead limbs")),
                (
                    "topped_or_defoliated",
                    models.BooleanField(default=False, verbose_name="topped, or lost its leaves last summer"),
                ),
                ("cavity", models.BooleanField(default=False, verbose_name="cavity")),
                ("conks", models.BooleanField(default=False, verbose_name="fungus brackets")),
                ("cracks", models.BooleanField(default=False, verbose_name="open seam or crack")),
                (
                    "construction",
                    models.BooleanField(
                        default=False, verbose_name="digging or building over the roots in the last 3 years"
                    ),
                ),
                (
                    "herbicide",
                    models.BooleanField(default=False, verbose_name="lawn weedkiller near the trunk this season"),
                ),
                (
                    "no_safe_place",
                    models.BooleanField(default=False, verbose_name="wires, traffic or no safe place to stand"),
                ),
                (
                    "salt",
                    models.CharField(
                        choices=[("none", "none seen"), ("some", "some"), ("heavy", "heavy")],
                        default="none",
                        max_length=5,
                        verbose_name="road salt",
                    ),
                ),
                (
                    "old_holes",
                    models.CharField(
                        choices=[
                            ("none", "no old holes"),
                            ("closed", "all closed"),
                            ("part", "some still open"),
                            ("open", "none closing"),
                        ],
                        default="none",
                        max_length=6,
                        verbose_name="old holes",
                    ),
                ),
                (
                    "verdict",
                    models.CharField(
                        choices=[("pass", "pass"), ("watch", "watch: one tap at most"), ("fail", "fail")], max_length=5
                    ),
                ),
                ("reasons", models.JSONField(default=list)),
                ("note", models.CharField(blank=True, max_length=400, verbose_name="note")),
                ("recorded_at", models.DateTimeField(default=django.utils.timezone.now)),
                ("history_id", models.AutoField(primary_key=True, serialize=False)),
                ("history_date", models.DateTimeField(db_index=True)),
                ("history_change_reason", models.CharField(max_length=100, null=True)),
                (
                    "history_type",
                    models.CharField(choices=[("+", "Created"), ("~", "Changed"), ("-", "Deleted")], max_length=1),
                ),
                (
                    "checker",
                    models.ForeignKey(
                        blank=True,
                        db_constraint=False,
                        null=True,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "history_user",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "tree",
                    models.ForeignKey(
                        blank=True,
                        db_constraint=False,
                        null=True,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        to="trees.tree",
                    ),
                ),
            ],
            options={
                "verbose_name": "historical health check",
                "verbose_name_plural": "historical health checks",
                "ordering": ("-history_date", "-history_id"),
                "get_latest_by": ("history_date", "history_id"),
            },
            bases=(simple_history.models.HistoricalChanges, models.Model),
        ),
        migrations.CreateModel(
            name="HealthCheck",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("uuid", models.UUIDField(editable=False, null=True, unique=True)),
                ("date", models.DateField(verbose_name="day")),
                ("crown_dieback_pct", models.PositiveSmallIntegerField(verbose_name="dead crown")),
                ("large_dead_limbs", models.BooleanField(default=False, verbose_name="large dead limbs")),
                (
                    "topped_or_defoliated",
                    models.BooleanField(default=False, verbose_name="topped, or lost its leaves last summer"),
                ),
                ("cavity", models.BooleanField(default=False, verbose_name="cavity")),
                ("conks", models.BooleanField(default=False, verbose_name="fungus brackets")),
                ("cracks", models.BooleanField(default=False, verbose_name="open seam or crack")),
                (
                    "construction",
                    models.BooleanField(
                        default=False, verbose_name="digging or building over the roots in the last 3 years"
                    ),
                ),
                (
                    "herbicide",
                    models.BooleanField(default=False, verbose_name="lawn weedkiller near the trunk this season"),
                ),
                (
                    "no_safe_place",
                    models.BooleanField(default=False, verbose_name="wires, traffic or no safe place to stand"),
                ),
                (
                    "salt",
                    models.CharField(
                        choices=[("none", "none seen"), ("some", "some"), ("heavy", "heavy")],
                        default="none",
                        max_length=5,
                        verbose_name="road salt",
                    ),
                ),
                (
                    "old_holes",
                    models.CharField(
                        choices=[
                            ("none", "no old holes"),
                            ("closed", "all closed"),
                            ("part", "some still open"),
                            ("open", "none closing"),
                        ],
                        default="none",
                        max_length=6,
                        verbose_name="old holes",
                    ),
                ),
                (
                    "verdict",
                    models.CharField(
                        choices=[("pass", "pass"), ("watch", "watch: one tap at most"), ("fail", "fail")], max_length=5
                    ),
                ),
                ("reasons", models.JSONField(default=list)),
                ("note", models.CharField(blank=True, max_length=400, verbose_name="note")),
                ("recorded_at", models.DateTimeField(default=django.utils.timezone.now)),
                (
                    "checker",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "tree",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="checks", to="trees.tree"
                    ),
                ),
            ],
            options={
                "ordering": ("-date", "-pk"),
                "indexes": [models.Index(fields=["tree", "-date"], name="check_by_tree")],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("crown_dieback_pct__lte", 100)), name="dieback_is_a_share"
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="TreeObservation",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("uuid", models.UUIDField(editable=False, null=True, unique=True)),
                ("date", models.DateField(verbose_name="day")),
                ("diameter_um", models.PositiveIntegerField(blank=True, null=True)),
                ("size_as_given", models.CharField(blank=True, max_length=40)),
                ("stems", models.PositiveSmallIntegerField(default=1)),
                ("stems_um", models.JSONField(default=list, verbose_name="each stem across")),
                (
                    "evidence",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("leaf", "leaf"),
                            ("fruit", "fruit (keys)"),
                            ("twig", "twig and buds"),
                            ("bark", "bark only"),
                            ("arborist", "an arborist said so"),
                            ("list", "the town’s list only"),
                        ],
                        max_length=10,
                        verbose_name="told by",
                    ),
                ),
                ("second_look", models.BooleanField(default=False)),
                ("photo", models.FileField(blank=True, upload_to="trees")),
                ("note", models.CharField(blank=True, max_length=400, verbose_name="note")),
                ("recorded_at", models.DateTimeField(default=django.utils.timezone.now)),
                (
                    "by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "species",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="trees.species",
                    ),
                ),
                (
                    "tree",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="observations", to="trees.tree"
                    ),
                ),
            ],
            options={
                "ordering": ("-date", "-pk"),
                "indexes": [models.Index(fields=["tree", "-date"], name="look_by_tree")],
            },
        ),
        migrations.CreateModel(
            name="ImportProblem",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("row_number", models.PositiveIntegerField()),
                ("line", models.PositiveIntegerField(default=0)),
                ("number", models.CharField(blank=True, max_length=64)),
                ("reason", models.CharField(max_length=24)),
                ("values", models.JSONField(default=dict)),
                (
                    "run",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="problems", to="trees.importrun"
                    ),
                ),
            ],
            options={
                "ordering": ("run", "row_number", "pk"),
                "indexes": [models.Index(fields=["run", "row_number"], name="problem_by_row")],
            },
        ),
    ]
